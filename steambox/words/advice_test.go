package words_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"withy/steambox"
	"withy/steambox/measure"
	"withy/steambox/words"
)

func TestAdvice(t *testing.T) {
	left, lift, high := 1, 0.009, 0.02
	for name, row := range map[string]struct {
		s    steambox.Status
		want []string
	}{
		"a good day": {steambox.Status{Pace: steambox.PaceNow{Verdict: "steady"}}, []string{}},
		"too fast": {steambox.Status{Pace: steambox.PaceNow{Verdict: "too-fast", ByS: 62, Do: "wait"}},
			[]string{"The last ribs came out about 60 seconds too early. Wait for the call."}},
		"too slow": {steambox.Status{Pace: steambox.PaceNow{Verdict: "too-slow", ByS: 130, Do: "hold"}},
			[]string{"The last ribs lay about 2 minutes too long. Hold the next blank back until one is out."}},
		"slots": {steambox.Status{Pace: steambox.PaceNow{Verdict: "too-slow", ByS: 130, Do: "drop"}},
			[]string{"The last ribs lay about 2 minutes too long. Use one slot less."}},
		"broken": {steambox.Status{Ledger: steambox.Ledger{Beyond: true, Favours: "stick", Glue: []string{"3"}, Replace: []string{"5", "8", "9"}, SparesLeft: &left, MakeMore: 3}},
			[]string{
				"More are breaking than usual. The heat was right, so it is more likely the stick: look for runout and dry wood, and try another.",
				"To pin, glue and clamp: rib 3.",
				"To be replaced, and left in place until then: ribs 5, 8 and 9. One spare is left, and at this stick's rate that will not do: cut 3 more.",
			}},
		"keel":      {steambox.Status{Ledger: steambox.Ledger{KeelLiftM: &lift}}, []string{"The keel lifts 9 mm: that settles as the ribs dry."}},
		"keel high": {steambox.Status{Ledger: steambox.Ledger{KeelLiftM: &high, KeelTooHigh: true}}, []string{"The keel lifts 20 mm: the bottom comes out too round. Flatten the next ribs amidships a little."}},
	} {
		if d := cmp.Diff(row.want, words.Advice(&row.s, measure.Metric)); d != "" {
			t.Errorf("%s: %s", name, d)
		}
	}
}

// After the last rib nothing is said of the pace, which can be put right no more, and
// what is easily forgotten is.
func TestAdviceAfterTheLastRib(t *testing.T) {
	s := steambox.Status{Pace: steambox.PaceNow{Verdict: "too-fast", ByS: 62, Do: "wait"}, Calls: []steambox.Call{{Do: steambox.DoneCall}}}
	got := words.Advice(&s, measure.Metric)
	if len(got) != 4 || !strings.Contains(got[1], "open it, drain it") {
		t.Errorf("said %q", got)
	}
}
