package emulated

import (
	"encoding/json"
	"fmt"
	"math"
	"net/url"
	"strconv"
	"strings"
	"time"
)

// now is what the board's wall clock shows.
func (b *board) now() time.Time {
	b.t.Helper()
	ns, err := strconv.ParseInt(strings.TrimSpace(b.ask("GET", "/clock", nil, nil)), 10, 64)
	if err != nil {
		b.t.Fatal(err)
	}
	return time.Unix(0, ns)
}

// clockIsSet sets the board's clock while ribs soak: ten years on and back, two seconds
// back. The session's time goes on as it did, no heat comes or goes, nothing counts as
// unseen, and the session began when it did by the clock as it is now.
func clockIsSet(b *board) {
	for _, step := range []struct {
		years int
		by    time.Duration
	}{{10, 0}, {-20, 0}, {10, 0}, {0, -2 * time.Second}} {
		was, _ := b.look()
		heat, before := b.slot("A").Ends[0], time.Now()
		set := b.now().AddDate(step.years, 0, 0).Add(step.by)
		b.ask("POST", "/clock", url.Values{"ns": {fmt.Sprint(set.UnixNano())}}, nil)
		time.Sleep(3 * time.Second)
		is, _ := b.look()
		took := time.Since(before).Seconds()
		if went := is.Status.ElapsedS - was.Status.ElapsedS; math.Abs(went-took) > 2 {
			b.t.Errorf("set by %d years and %s: %.1f s went by, %.1f s did", step.years, step.by, went, took)
		}
		// At most what boiling steam and one sample more come to.
		if more := b.slot("A").Ends[0].HiMin - heat.HiMin; more < 0 || more > 1.2*(time.Since(before).Seconds()+1)/60 {
			b.t.Errorf("set by %d years and %s: %.3f min of heat more in %.1f s", step.years, step.by, more, took)
		}
		if is.Status.GapS != was.Status.GapS {
			b.t.Errorf("set by %d years and %s: %g s unseen, before %g", step.years, step.by, is.Status.GapS, was.Status.GapS)
		}
	}
	b.until("the session began when it did", 20*time.Second, func() bool {
		var list []struct {
			Began    time.Time `json:"began"`
			Finished bool      `json:"finished"`
		}
		text := b.do("sessions", "--data", "/tmp/withy", "--json")
		v, ok := b.look()
		if err := json.Unmarshal([]byte(text), &list); err != nil || !ok || len(list) == 0 {
			return false
		}
		began := list[len(list)-1].Began
		return math.Abs(b.now().Sub(began).Seconds()-v.Status.ElapsedS) < 3
	})
}
