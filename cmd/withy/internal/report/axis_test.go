package report_test

import (
	"regexp"
	"testing"
	"time"

	"withy/steambox"
)

// axisTime is a time of day below the course.
var axisTime = regexp.MustCompile(`>(\d\d:\d\d|\d{1,2} [A-Z][a-z]{2})</text>`)

// However long a session was, the times below its course are some, and few enough to be
// read.
func TestAxis(t *testing.T) {
	for _, long := range []time.Duration{20 * time.Minute, 8 * time.Hour, 59 * time.Hour, 61 * time.Hour, 150 * time.Hour, 1000 * time.Hour} {
		d := newDay(1)
		d.air(time.Minute, 99, 96)
		d.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
		d.at += long
		d.air(time.Minute, 99, 96)
		_, page := d.report(t)
		if n := len(axisTime.FindAllString(page, -1)); n < 3 || n > 11 { // ten steps have eleven ends
			t.Errorf("%v: %d times", long, n)
		}
	}
}
