package pace_test

import (
	"testing"
	"time"

	"withy/steambox/pace"
)

// 4 slots at 1½ min give 6 min, 3 give 4½: common practice, no source.
func TestCommonPractice(t *testing.T) {
	for _, row := range []struct {
		slots int
		soak  time.Duration
	}{{4, 6 * time.Minute}, {3, 4*time.Minute + 30*time.Second}} {
		r := pace.Offer(pace.Run, row.soak, row.slots, 60*time.Second)
		if r.Slots != row.slots || r.Interval != 90*time.Second {
			t.Errorf("%d slots, soak %v: %+v", row.slots, row.soak, r)
		}
	}
}

func TestSlowCrewUsesFewerSlots(t *testing.T) {
	r := pace.Offer(pace.Run, 6*time.Minute, 4, 2*time.Minute)
	if r.Slots != 3 || r.Interval != 2*time.Minute {
		t.Errorf("%+v", r)
	}
	r = pace.Offer(pace.Run, time.Minute, 4, 2*time.Minute)
	if r.Slots != 1 || r.Interval != 2*time.Minute {
		t.Errorf("%+v", r)
	}
}

func TestSingleAndBatch(t *testing.T) {
	if r := pace.Offer(pace.Single, 6*time.Minute, 4, time.Minute); r.Slots != 1 || r.Interval != 6*time.Minute {
		t.Errorf("single %+v", r)
	}
	if r := pace.Offer(pace.Batch, 6*time.Minute, 3, 45*time.Second); r.Slots != 3 || r.Interval != 45*time.Second {
		t.Errorf("batch %+v", r)
	}
}

func TestCrewPace(t *testing.T) {
	var c pace.Crew
	if _, ok := c.Pace(); ok {
		t.Error("a pace before any pull")
	}
	for _, s := range []int{80, 90, 100, 900, 95} {
		c.Pulled(time.Duration(s) * time.Second)
	}
	if p, ok := c.Pace(); !ok || p != 95*time.Second {
		t.Errorf("pace %v, %v: a break is not part of it", p, ok)
	}
}
