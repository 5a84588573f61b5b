package boxes

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"withy/cmd/withy/internal/view"
	"withy/steambox/shop"
)

// Whatever a box answers and however long ago, the shop can be shown: its figures are some, times
// do not lie in the past, and no more is told than was heard.
func FuzzStatus(f *testing.F) {
	full, err := json.Marshal(status(20, 900))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(full, []byte(`{}`), uint32(8))
	for _, text := range []string{
		`{"speed":1e308,"status":{"calls":[{"do":"pull","in_s":1e308,"good_s":1e308}],"water":{"kettle_lead_s":1e308,"kettle_on_s":-1e308,"dry_lo_s":1e308,"boiling":true},"boiler_kind":"open-pot"}}`,
		`{"speed":-3,"status":{"phase":"running","calls":[{"do":"load","in_s":-9,"good_s":-9}],"probes":[{"temp_c":-999}],"water":{"dry_lo_s":-5,"left_l":-1,"boiling":true,"switch":"open"},"boiler_kind":"open-pot"},"alarms":[{}]}`,
		`{"status":{"calls":null,"probes":[null,null],"ribs":[{"ends":[null]}],"bent":{"to_go":-1}},"alarms":null}`, `{"wall":"10000-01-01T00:00:00Z"}`, `{"status":{"calls":[` + strings.Repeat("{},", 999) + `{}]}}`,
		`null`, `[]`, `{"status":`, `{"speed":0.5e-324}`,
	} {
		f.Add([]byte(text), full, uint32(1e6))
	}
	f.Fuzz(func(t *testing.T, first, second []byte, agoS uint32) {
		w := watch(at("http://box-1.lan", "http://box-2.lan", "http://box-3.lan"))
		w.shop.Kettle, w.shop.Circuits = &shop.Shared{Watts: 2200, Circuit: "lane"}, []shop.Circuit{{Name: "lane", Volts: 230, Amps: 16}}
		said := 0
		for i, text := range [][]byte{first, second} {
			var v *view.View
			if v, err = read(text); err != nil {
				continue
			}
			said += len(text)
			w.shop.Boxes[i].Watts, w.shop.Boxes[i].Circuit = 2200, "lane"
			w.heard[i] = heard{view: v, at: time.Now().Add(-time.Duration(agoS) * time.Second), tried: i == 0}
		}
		shown := w.Shop()
		text, err := json.Marshal(shown)
		if err != nil {
			t.Fatal(err)
		}
		if len(text) > 10000+10*said {
			t.Errorf("%d bytes of %d", len(text), said)
		}
		if len(shown.Boxes) != 3 {
			t.Errorf("%d boxes", len(shown.Boxes))
		}
		for _, b := range shown.Boxes {
			if b.DryLoS != nil && *b.DryLoS < 0 || b.Call != nil && b.Call.InS != nil && *b.Call.InS < 0 {
				t.Errorf("in the past: %+v", b)
			}
			for _, x := range []*float64{b.SteamC, b.DoorC, b.LeftL, b.DryLoS} {
				if x != nil && math.Abs(*x) >= farthest {
					t.Errorf("%g", *x)
				}
			}
			if strings.Contains(b.Says+shown.Kettle, "-:") || strings.Contains(b.Says, "NaN") {
				t.Errorf("%s %s", b.Says, shown.Kettle)
			}
		}
	})
}
