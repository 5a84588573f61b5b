// Package metrics shows what the daemon publishes as OpenMetrics. A scrape reads
// the newest view and waits for nothing; a value that isn't known is absent.
package metrics

import (
	"net/http"
	"runtime/debug"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"withy/alert"
	"withy/cmd/withy/internal/view"
	"withy/steambox"
	"withy/steambox/unit"
)

// box is what is measured.
type box interface {
	View() *view.View
	Lateness() time.Duration
	Healthy() error
}

// Metric is one row of the table of metrics.
type Metric struct {
	Name, Unit, Help string
	Labels           []string
}

// metric is one kind of metric and what it collects.
type metric struct {
	Metric
	desc    *prometheus.Desc
	kind    prometheus.ValueType
	collect func(put put, v *view.View, b box)
}

// put enters one value with the metric's labels.
type put func(x float64, labels ...string)

// optional enters a value if there is one.
func (p put) optional(x *float64, labels ...string) {
	if x != nil {
		p(*x, labels...)
	}
}

func gauge(name, unit, help string, collect func(put, *view.View, box), labels ...string) metric {
	return metric{
		Metric: Metric{Name: name, Unit: unit, Help: help, Labels: labels},
		desc:   prometheus.NewDesc(name, help, labels, nil), kind: prometheus.GaugeValue, collect: collect,
	}
}

// counter is a gauge that only grows.
func counter(name, unit, help string, collect func(put, *view.View, box), labels ...string) metric {
	m := gauge(name, unit, help, collect, labels...)
	m.kind = prometheus.CounterValue
	return m
}

func flag(on bool) float64 {
	if on {
		return 1
	}
	return 0
}

// all is the table of metrics.
var all = []metric{
	gauge("steambox_probe_temperature_celsius", "°C", "Air at a probe, corrected for offset and lag.", func(p put, v *view.View, _ box) {
		for _, x := range v.Status.Probes {
			p.optional(x.TempC, x.Name)
		}
	}, "probe"),
	gauge("steambox_probe_fault", "1", "1 while a probe can't be read, by kind of fault.", func(p put, v *view.View, _ box) {
		for _, x := range v.Status.Probes {
			if x.Fault != "" {
				p(1, x.Name, x.Fault)
			}
		}
	}, "probe", "kind"),
	gauge("steambox_boiling_point_celsius", "°C", "Boiling point of water where the box stands.", func(p put, v *view.View, _ box) { p(v.Status.BoilingC) }),
	gauge("steambox_ready", "1", "1 once both ends have been level near boiling.", func(p put, v *view.View, _ box) { p(flag(v.Status.Warm.ReadyS != nil)) }),
	gauge("steambox_water_switch_closed", "1", "1 while the level switch says that there is water above it.", func(p put, v *view.View, _ box) {
		if s := v.Status.Water.Switch; s != "unknown" {
			p(flag(s == "closed"))
		}
	}),
	gauge("steambox_water_litres", "L", "Water left in the boiler, as poured cold: bound is low, best or high.", func(p put, v *view.View, _ box) {
		w := v.Status.Water
		bounds(p, w.LeftLoL, w.LeftL, w.LeftHiL)
	}, "bound"),
	gauge("steambox_water_dry_seconds", "s", "Time until the element is bare: bound is low, best or high.", func(p put, v *view.View, _ box) {
		w := v.Status.Water
		bounds(p, w.DryLoS, w.DryS, w.DryHiS)
	}, "bound"),
	gauge("steambox_kettle_lead_seconds", "s", "How long before it is needed the kettle must go on.", func(p put, v *view.View, _ box) { p(v.Status.Water.LeadS) }),
	gauge("steambox_rib_exposure_seconds", "s at 100 °C", "Heat taken by the rib in a slot at one end, best guess, as seconds at 100 °C.", func(p put, v *view.View, _ box) {
		eachEnd(v, func(slot, end string, h steambox.EndHeat) { p(60*h.Min, slot, end) })
	}, "slot", "end"),
	gauge("steambox_rib_core_celsius", "°C", "Core of the rib in a slot at one end, best guess.", func(p put, v *view.View, _ box) {
		eachEnd(v, func(slot, end string, h steambox.EndHeat) { p(h.CoreC, slot, end) })
	}, "slot", "end"),
	gauge("steambox_next_call_seconds", "s", "Time until the next call is due, by what it asks.", func(p put, v *view.View, _ box) {
		if c := v.Status.Calls; len(c) > 0 {
			p.optional(c[0].InS, string(c[0].Do))
		}
	}, "call"),
	gauge("steambox_ribs", "1", "Ribs pulled this session by outcome, and those to go.", func(p put, v *view.View, _ box) {
		b := v.Status.Bent
		for name, n := range map[string]int{"supple": b.Supple, "stiff": b.Stiff, "cracked": b.Cracked, "untold": b.Untold, "to_go": b.ToGo} {
			p(float64(n), name)
		}
	}, "outcome"),
	gauge("steambox_window_target_seconds", "s at 100 °C", "Heat at which the cooler end of the next rib is ready, as seconds at 100 °C.", func(p put, v *view.View, _ box) { p(60 * float64(v.Status.Window.Target)) }),
	gauge("steambox_hull_lean", "ln ratio", "How much softer one side of the hull came out, above 0 starboard; with one boat only.", func(p put, v *view.View, _ box) {
		oneHull(v, func(h *steambox.HullNow) { p(h.Lean) })
	}),
	gauge("steambox_hull_twist", "ln ratio", "The same of the stern against the bow; with one boat only.", func(p put, v *view.View, _ box) {
		oneHull(v, func(h *steambox.HullNow) { p(h.Twist) })
	}),
	gauge("steambox_heat_spare_watts", "W", "What the boiler has left over for more ribs, best guess.", func(p put, v *view.View, _ box) { p(v.Status.Heat.SpareW) }),
	gauge("steambox_unseen_seconds", "s", "How long nobody watched during this session, in all.", func(p put, v *view.View, _ box) { p(v.Status.GapS) }),
	gauge("steambox_alarms", "1", "Alarms by priority and state.", func(p put, v *view.View, _ box) {
		n := map[[2]string]int{}
		for _, pr := range []alert.Priority{alert.High, alert.Medium, alert.Low} {
			for _, st := range alert.States {
				n[[2]string{string(pr), string(st)}] = 0
			}
		}
		for _, a := range v.Alarms {
			n[[2]string{string(a.Priority), string(a.State)}]++
		}
		for k, count := range n {
			p(float64(count), k[0], k[1])
		}
	}, "priority", "state"),
	gauge("steambox_alarm", "1", "1 while an alarm's cause is there, heard or not, by kind of alarm.", func(p put, v *view.View, _ box) {
		so := map[alert.ID]bool{}
		for _, a := range v.Alarms {
			so[a.ID] = so[a.ID] || a.State == alert.Raised || a.State == alert.HeardBy
		}
		for _, r := range alert.Rules {
			p(flag(so[r.ID]), string(r.ID))
		}
	}, "alarm"),
	gauge("steambox_sounds", "1", "Sounds begun since the daemon started.", func(p put, v *view.View, _ box) { p(float64(v.Sound.N)) }),
	gauge("steambox_loop_late_seconds", "s", "How late the last sweep of the sensors was reckoned with.", func(p put, _ *view.View, b box) { p(b.Lateness().Seconds()) }),
	gauge("steambox_healthy", "1", "1 while the loop is alive and a probe gives temperatures.", func(p put, _ *view.View, b box) { p(flag(b.Healthy() == nil)) }),
	gauge("steambox_troubles", "1", "Things wrong with the program itself: settings, record, outputs.", func(p put, v *view.View, _ box) { p(float64(len(v.Troubles))) }),
	gauge("steambox_output_good_seconds", "s", "Time since an output last took something; absent until it has.", func(p put, v *view.View, _ box) {
		for _, o := range v.Outputs {
			p.optional(o.GoodS, o.Name)
		}
	}, "output"),
	gauge("steambox_output_bad_seconds", "s", "Time since something last failed at an output; absent until it has.", func(p put, v *view.View, _ box) {
		for _, o := range v.Outputs {
			p.optional(o.BadS, o.Name)
		}
	}, "output"),
	gauge("steambox_output_waiting", "1", "Alarms that an output has not been told of.", func(p put, v *view.View, _ box) {
		for _, o := range v.Outputs {
			p(float64(o.Waiting), o.Name)
		}
	}, "output"),
	counter("steambox_output_deliveries_total", "1", "Messages by output and result, taken or failed, since the daemon started.", func(p put, v *view.View, _ box) {
		for _, o := range v.Outputs {
			p(float64(o.Taken), o.Name, "taken")
			p(float64(o.Failed), o.Name, "failed")
		}
	}, "output", "result"),
	gauge("steambox_rehearsal", "1", "1 on the rehearsal box.", func(p put, v *view.View, _ box) { p(flag(v.Status.Rehearsal)) }),
	gauge("steambox_build_info", "1", "1, with the version that runs.", func(p put, _ *view.View, _ box) {
		version := "unknown"
		if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
			version = info.Main.Version
		}
		p(1, version)
	}, "version"),
}

// oneHull looks at the hull, if a rib of it is in and it is the only one.
func oneHull(v *view.View, f func(*steambox.HullNow)) {
	if h := v.Status.Hulls; len(h) == 1 && h[0].Fitted > 0 {
		f(&h[0])
	}
}

func bounds(p put, lo, best, hi *float64) {
	p.optional(lo, "low")
	p.optional(best, "best")
	p.optional(hi, "high")
}

func eachEnd(v *view.View, f func(slot, end string, h steambox.EndHeat)) {
	for _, s := range v.Status.Slots {
		if s.Ends == nil {
			continue
		}
		for _, e := range unit.Ends {
			f(s.Slot, e.String(), s.Ends[e])
		}
	}
}

// Table returns the metrics in the order in which they are documented.
func Table() []Metric {
	out := make([]Metric, len(all))
	for i, m := range all {
		out[i] = m.Metric
	}
	return out
}

// collector reads the newest view at each scrape.
type collector struct{ box box }

// Describe lists the metrics.
func (c collector) Describe(ch chan<- *prometheus.Desc) {
	for _, m := range all {
		ch <- m.desc
	}
}

// Collect enters what is known now.
func (c collector) Collect(ch chan<- prometheus.Metric) {
	v := c.box.View()
	for _, m := range all {
		m.collect(func(x float64, labels ...string) {
			ch <- prometheus.MustNewConstMetric(m.desc, m.kind, x, labels...)
		}, v, c.box)
	}
}

// Registry returns a registry of a box's metrics and the process's own.
func Registry(b box) *prometheus.Registry {
	r := prometheus.NewRegistry()
	r.MustRegister(collector{b}, collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return r
}

// Handler serves them as OpenMetrics or Prometheus text, whichever is asked for.
func Handler(b box) http.Handler {
	return promhttp.HandlerFor(Registry(b), promhttp.HandlerOpts{EnableOpenMetrics: true})
}
