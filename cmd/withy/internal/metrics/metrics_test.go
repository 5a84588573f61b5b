package metrics_test

import (
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil"

	"withy/alert"
	"withy/cmd/withy/internal/metrics"
	"withy/cmd/withy/internal/view"
	"withy/steambox"
)

// still is a box in which nothing moves.
type still struct {
	v       view.View
	healthy error
}

func (s *still) View() *view.View        { return &s.v }
func (s *still) Lateness() time.Duration { return 3 * time.Millisecond }
func (s *still) Healthy() error          { return s.healthy }

func ptr(x float64) *float64 { return &x }

func box() *still {
	return &still{v: view.View{
		Status: steambox.Status{
			BoilingC: 99.9,
			Probes:   []steambox.ProbeAt{{Name: "steam", TempC: new(98.5)}, {Name: "door", Fault: "absent"}},
			Water:    steambox.WaterNow{Switch: "unknown", LeadS: 400},
			Slots: []steambox.Slot{{Slot: "A", Rib: "7", Ends: &[2]steambox.EndHeat{{Min: 2, CoreC: 97}, {Min: 1.5, CoreC: 95}}},
				{Slot: "B"}},
			Calls: []steambox.Call{{Do: steambox.PullCall, InS: ptr(42)}},
		},
		Alarms: []alert.Alarm{{ID: alert.DryNow, Priority: alert.High, State: alert.Raised}},
		Outputs: []view.Output{
			{Name: "phone", Kind: "topic", GoodS: ptr(12), Taken: 3},
			{Name: "shop", Kind: "webhook", BadS: ptr(2), Fails: "shop.lan: no answer in time", Waiting: 1, Failed: 4},
		},
	}}
}

// What isn't known is absent, never 0.
func TestAbsentNotZero(t *testing.T) {
	want := `
# HELP steambox_probe_temperature_celsius Air at a probe, corrected for offset and lag.
# TYPE steambox_probe_temperature_celsius gauge
steambox_probe_temperature_celsius{probe="steam"} 98.5
# HELP steambox_probe_fault 1 while a probe can't be read, by kind of fault.
# TYPE steambox_probe_fault gauge
steambox_probe_fault{kind="absent",probe="door"} 1
# HELP steambox_rib_exposure_seconds Heat taken by the rib in a slot at one end, best guess, as seconds at 100 °C.
# TYPE steambox_rib_exposure_seconds gauge
steambox_rib_exposure_seconds{end="door",slot="A"} 90
steambox_rib_exposure_seconds{end="steam",slot="A"} 120
# HELP steambox_next_call_seconds Time until the next call is due, by what it asks.
# TYPE steambox_next_call_seconds gauge
steambox_next_call_seconds{call="pull"} 42
# HELP steambox_output_deliveries_total Messages by output and result, taken or failed, since the daemon started.
# TYPE steambox_output_deliveries_total counter
steambox_output_deliveries_total{output="phone",result="failed"} 0
steambox_output_deliveries_total{output="phone",result="taken"} 3
steambox_output_deliveries_total{output="shop",result="failed"} 4
steambox_output_deliveries_total{output="shop",result="taken"} 0
# HELP steambox_output_good_seconds Time since an output last took something; absent until it has.
# TYPE steambox_output_good_seconds gauge
steambox_output_good_seconds{output="phone"} 12
# HELP steambox_healthy 1 while the loop is alive and a probe gives temperatures.
# TYPE steambox_healthy gauge
steambox_healthy 0
`
	b := box()
	b.healthy = errors.New("dead")
	err := testutil.GatherAndCompare(metrics.Registry(b), strings.NewReader(want),
		"steambox_probe_temperature_celsius", "steambox_probe_fault", "steambox_rib_exposure_seconds", "steambox_next_call_seconds",
		"steambox_output_deliveries_total", "steambox_output_good_seconds", "steambox_healthy", "steambox_water_litres", "steambox_water_dry_seconds", "steambox_water_switch_closed")
	if err != nil {
		t.Error(err)
	}
}

// Every alarm of the catalogue is there, so that one that is missing is not taken for one
// that is calm; and one that is over, though nobody has heard it, is not so any more.
func TestAlarmsByKind(t *testing.T) {
	b := box()
	b.v.Alarms = append(b.v.Alarms, alert.Alarm{ID: alert.ProbeFailed, On: "steam", State: alert.Cleared},
		alert.Alarm{ID: alert.ProbeFailed, On: "door", State: alert.HeardBy}, alert.Alarm{ID: alert.Pressure, State: alert.Latched})
	want := "# HELP steambox_alarm 1 while an alarm's cause is there, heard or not, by kind of alarm.\n# TYPE steambox_alarm gauge\n"
	for _, r := range alert.Rules {
		so := 0
		if r.ID == alert.DryNow || r.ID == alert.ProbeFailed {
			so = 1
		}
		want += fmt.Sprintf("steambox_alarm{alarm=%q} %d\n", r.ID, so)
	}
	if err := testutil.GatherAndCompare(metrics.Registry(b), strings.NewReader(want), "steambox_alarm"); err != nil {
		t.Error(err)
	}
}

func page(t testing.TB) string {
	t.Helper()
	w := httptest.NewRecorder()
	metrics.Handler(box()).ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil))
	if w.Code != 200 {
		t.Fatalf("status %d", w.Code)
	}
	return w.Body.String()
}

// The page passes Prometheus's own checker, which fails here if it isn't there.
func TestPromtool(t *testing.T) {
	cmd := exec.Command("promtool", "check", "metrics")
	cmd.Stdin = strings.NewReader(page(t))
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("promtool: %v\n%s", err, out)
	}
}

// The README's table names each metric with its unit and meaning.
func TestReadmeTable(t *testing.T) {
	readme, err := os.ReadFile("../../../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range metrics.Table() {
		row := "| `" + m.Name + "` | " + strings.Join(m.Labels, ", ") + " | " + m.Unit + " | " + m.Help + " |"
		if !strings.Contains(string(readme), row) {
			t.Errorf("README.md lacks the row\n%s", row)
		}
	}
}

func BenchmarkScrape(b *testing.B) {
	h := metrics.Handler(box())
	r := httptest.NewRequest(http.MethodGet, "/metrics", nil)
	for b.Loop() {
		h.ServeHTTP(httptest.NewRecorder(), r)
	}
}
