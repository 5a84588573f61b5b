package daemon_test

import (
	"testing"
	"time"

	"withy/cmd/withy/internal/daemon"
	"withy/steambox"
)

// A snapshot that is none is refused; it does not end the program.
func FuzzRestore(f *testing.F) {
	fold, err := daemon.NewFold(testBox())
	if err != nil {
		f.Fatal(err)
	}
	fold.Sample(time.Second, steambox.Sample{Probes: []steambox.ProbeSample{{MilliC: 20000}, {MilliC: 20000}}})
	shot, err := fold.Snapshot()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(shot)
	f.Add(shot[:len(shot)/2])
	f.Add([]byte{0xff, 0xff})
	f.Fuzz(func(t *testing.T, shot []byte) {
		fold, err := daemon.NewFold(testBox())
		if err != nil {
			t.Fatal(err)
		}
		_ = fold.Restore(shot) // an error, or not: both are an answer
	})
}
