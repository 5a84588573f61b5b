package daemon_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/record"
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

// What is read of an exported session is folded to a status that can be written out, or is
// refused.
func FuzzReplay(f *testing.F) {
	box, err := json.Marshal(testBox())
	if err != nil {
		f.Fatal(err)
	}
	head := fmt.Sprintf(`{"kind":"session","version":1,"id":"2026-11-25-1","wall":"2026-11-25T08:30:00Z","box":%s}`+"\n", box)
	const entry = `{"seq":%d,"elapsed_s":%d,"wall":"2026-11-25T08:30:00Z","kind":%s}` + "\n"
	var run string
	for i, kind := range []string{
		`"clock","boot":"b","origin_s":-3.5`, `"filled","id":"1","litres":4`, `"heat","id":"2","on":true`, `"sample","probes":[{"temp_c":99.5},{"temp_c":97}],"level":"closed","door":"closed"`,
		`"loaded","id":"3","rib":"1","slot":"A"`, `"sample","probes":[{"temp_c":99.5},{"fault":"absent"}],"level":"open","door":"unknown"`, `"pulled","id":"4","slot":"A"`,
		`"outcome","id":"5","rib":"1","outcome":"cracked","where":"inside"`, `"amended","id":"6","of":"5","outcome":"stiff"`, `"sample","probes":[{"temp_c":-55},{"temp_c":125}],"level":"open","door":"open"`,
	} {
		run += fmt.Sprintf(entry, i+1, 60*i, kind)
	}
	f.Add([]byte(head), []byte(run))
	f.Add([]byte(head), []byte(fmt.Sprintf(entry, 1, int64(9000000000), `"sample","probes":[{"temp_c":9000000000},{"fault":"absent"}],"level":"open","door":"open"`)))
	f.Fuzz(func(t *testing.T, head, run []byte) {
		s, entries, err := record.Import(bytes.NewReader(append(head, run...)))
		if err != nil {
			return
		}
		fold, err := daemon.FoldAll(s.Box, entries)
		if err != nil {
			return
		}
		if _, err := json.Marshal(fold.Session.Status()); err != nil {
			t.Errorf("%v of %+v", err, s.Box)
		}
	})
}
