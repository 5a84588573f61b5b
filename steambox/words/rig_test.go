package words_test

import (
	"slices"
	"testing"

	"withy/steambox"
	"withy/steambox/measure"
	"withy/steambox/words"
)

// Every item has its title and says how it is in each state; what isn't in order says
// what to do; what only a person can tell has something to say.
func TestRig(t *testing.T) {
	for _, item := range steambox.RigItems {
		for _, state := range []steambox.RigState{steambox.RigOpen, steambox.RigGood, steambox.RigWrong} {
			lines := words.Rig(&steambox.Status{BoilingC: 99.2, Rig: []steambox.RigNow{{Item: item, State: state}}}, measure.Metric)
			l := lines[0]
			told := slices.Contains(steambox.RigTold, string(item))
			if l.Title == "" || l.Says == "" || told != (l.Ask != "") || (len(l.Do) == 0) != (state == steambox.RigGood) || len(l.Do) > 3 {
				t.Errorf("%s, %s: %+v", item, state, l)
			}
		}
	}
}
