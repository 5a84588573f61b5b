package daemon_test

import (
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"withy/cmd/withy/internal/daemon"
	"withy/sensor"
)

// A probe that is unplugged is an answer, and reads that hang are none: of both people and
// programs elsewhere are told, but only for the second is there a start of the program, and
// none where none of them answered since the last.
func TestSenses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var swept atomic.Int64
		r := start(t, newScript("b1", 0), nil, func(o *daemon.Options) { o.Swept = func() { swept.Add(1) } })
		defer r.stop()
		during := func(name string, kind sensor.FaultKind, sweeps, supervised int64, wrong string) {
			t.Helper()
			before := swept.Load()
			for range sweeps {
				time.Sleep(time.Second)
				readings := []sensor.Reading{{Probe: "steam", Temp: 98}, {Probe: "door", Temp: 95}}
				if kind != 0 {
					for i := range readings {
						readings[i] = sensor.Reading{Probe: readings[i].Probe, Fault: &sensor.Fault{Kind: kind}}
					}
				}
				r.source.sweeps <- sensor.Sweep{At: r.source.pass(time.Second), Probes: readings}
				synctest.Wait()
			}
			if got := swept.Load() - before; got != supervised {
				t.Errorf("%s: the supervisor was told of %d sweeps, want %d of %d", name, got, supervised, sweeps)
			}
			if err := r.Watching(); err != nil {
				t.Errorf("%s: %v", name, err)
			}
			switch err := r.Healthy(); {
			case wrong == "" && err != nil:
				t.Errorf("%s: %v", name, err)
			case wrong != "" && (err == nil || !strings.Contains(err.Error(), wrong)):
				t.Errorf("%s: %v, want %q", name, err, wrong)
			}
		}
		during("none answers from the start", sensor.Timeout, 8, 8, "no temperature from any probe for 8 s")
		during("read", 0, 3, 3, "")
		during("unplugged", sensor.Absent, 8, 8, "no temperature from any probe for 8 s")
		during("read again", 0, 3, 3, "")
		during("reads hang", sensor.Timeout, 8, 0, "no temperature from any probe for 8 s")
		during("and go on", 0, 3, 3, "")
		time.Sleep(6 * time.Second)
		for _, err := range []error{r.Watching(), r.Healthy()} {
			if err == nil || err.Error() != "no sweep of the sensors for 6 s" {
				t.Errorf("a loop that stands still: %v", err)
			}
		}
	})
}
