package sensor_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"withy/sensor"
)

// pads are scratchpads of standard states (DS18B20 data sheet; CRCs by crcmod).
var pads = map[string]*sensor.Scratchpad{
	"power-on": {0x50, 0x05, 0x4b, 0x46, 0x7f, 0xff, 0x0c, 0x10, 0x1c},
	"true-85":  {0x50, 0x05, 0x4b, 0x46, 0x7f, 0xff, 0x10, 0x10, 0xbd},
	"dead":     {},
	"ice":      {0x00, 0x00, 0x4b, 0x46, 0x7f, 0xff, 0x10, 0x10, 0x00},
	// A DS18S20 at 85 °C counts halves: 0x00AA, which is not 85000/1000·16.
	"ds18s20": {0xaa, 0x00, 0x4b, 0x46, 0xff, 0xff, 0x0c, 0x10, 0x00},
}

// in is one sample of a table: a value a second after the one before, unless
// it says otherwise.
type in struct {
	milli int
	pad   string
	fault sensor.FaultKind
	gap   time.Duration
}

// judge runs samples of one probe through a judge and writes down what each
// of them decided: "98.5", a fault's name, "-" for nothing, "a+b" for two.
func judge(samples []in) string {
	j := sensor.NewJudge()
	var at time.Duration
	var out []string
	for _, s := range samples {
		at += max(s.gap, time.Second)
		sample := sensor.Sample{Probe: "p", At: at, Milli: s.milli, Pad: pads[s.pad]}
		if s.fault != 0 {
			sample.Fault = &sensor.Fault{Kind: s.fault}
		}
		var said []string
		for _, r := range j.Add(sample) {
			if r.Fault != nil {
				said = append(said, r.Fault.Kind.String())
			} else {
				said = append(said, fmt.Sprint(float64(r.Temp)))
			}
		}
		if len(said) == 0 {
			said = []string{"-"}
		}
		out = append(out, strings.Join(said, "+"))
	}
	return strings.Join(out, " ")
}

// The rules: standards of the DS18B20 and w1_therm.c (85.000, 127.937, zero
// scratchpad, range), and the kernel 6.1 behaviours seen with a simulated bus.
func TestJudge(t *testing.T) {
	for _, test := range []struct {
		name    string
		samples []in
		want    string
	}{
		{"plain values", []in{{milli: 98500}, {milli: 98562}}, "98.5 98.562"},
		{"below zero", []in{{milli: -1250}}, "-1.25"},
		{"warm-up passes 85", []in{{milli: 83500}, {milli: 85000}, {milli: 86437}}, "83.5 85 86.437"},
		{"cools through 85", []in{{milli: 86000}, {milli: 85000}, {milli: 84000}}, "86 85 84"},
		{"stays at a true 85", []in{{milli: 84937}, {milli: 85000}, {milli: 85000}}, "84.937 85 85"},
		{"power lost once at 98", []in{{milli: 98500}, {milli: 85000}, {milli: 98437}}, "98.5 - power_on+98.437"},
		{"power lost once, cold", []in{{milli: 15000}, {milli: 85000}, {milli: 15062}}, "15 - power_on+15.062"},
		{"power lost at every conversion", []in{{milli: 98500}, {milli: 85000}, {milli: 85000}, {milli: 85000}, {milli: 98500}}, "98.5 - power_on power_on power_on+98.5"},
		{"power lost, then silent", []in{{milli: 98500}, {milli: 85000}, {fault: sensor.Empty}}, "98.5 - power_on+empty"},
		{"first value is a true 85", []in{{milli: 85000}, {milli: 85062}}, "- 85+85.062"},
		{"first value is power-on", []in{{milli: 85000}, {milli: 15000}}, "- power_on+15"},
		{"true 85 after a jump, late by one", []in{{milli: 78000}, {milli: 85000}, {milli: 88000}}, "78 - 85+88"},
		{"neighbour too old to vouch", []in{{milli: 84000}, {milli: 85000, gap: time.Minute}, {milli: 20000}}, "84 - power_on+20"},
		{"next too late to vouch", []in{{milli: 20000}, {milli: 85000}, {milli: 85500, gap: time.Minute}}, "20 - power_on+85.5"},
		{"exactly 5 K is near", []in{{milli: 80000}, {milli: 85000}}, "80 85"},
		{"just over 5 K is not", []in{{milli: 79999}, {milli: 85000}}, "79.999 -"},
		{"scratchpad says power-on", []in{{milli: 84500}, {milli: 85000, pad: "power-on"}}, "84.5 power_on"},
		{"scratchpad says true", []in{{milli: 20000}, {milli: 85000, pad: "true-85"}}, "20 85"},
		{"scratchpad asked for, true", []in{{milli: 20000}, {milli: 85000}, {milli: 85000, pad: "true-85"}}, "20 - 85+85"},
		{"scratchpad asked for, power-on", []in{{milli: 20000}, {milli: 85000}, {milli: 85000, pad: "power-on"}}, "20 - power_on+power_on"},
		{"scratchpad of another kind proves nothing", []in{{milli: 20000}, {milli: 85000, pad: "ds18s20"}}, "20 -"},
		{"supply sags", []in{{milli: 98500}, {milli: 127937}, {milli: 98500}}, "98.5 low_power 98.5"},
		{"highest", []in{{milli: 125000}}, "125"},
		{"too high", []in{{milli: 125062}}, "out_of_range"},
		{"lowest", []in{{milli: -55000}}, "-55"},
		{"too low", []in{{milli: -55062}}, "out_of_range"},
		{"line held low, scratchpad zero", []in{{milli: 500}, {milli: 0, pad: "dead"}}, "0.5 shorted"},
		{"zero out of nowhere", []in{{milli: 98500}, {milli: 0}, {milli: 98500}}, "98.5 - shorted+98.5"},
		{"melting ice", []in{{milli: 312}, {milli: 0}, {milli: -62}}, "0.312 0 -0.062"},
		{"ice as the first value", []in{{milli: 0}, {milli: 62}}, "- 0+0.062"},
		{"ice shown by the scratchpad", []in{{milli: 0, pad: "ice"}}, "0"},
		{"other jumps are true", []in{{milli: 98500}, {milli: 40000}}, "98.5 40"},
		{"faults pass through", []in{{fault: sensor.Absent}, {fault: sensor.Checksum}, {milli: 20000}}, "absent checksum 20"},
	} {
		t.Run(test.name, func(t *testing.T) {
			if got := judge(test.samples); got != test.want {
				t.Errorf("decided %q\nwant    %q", got, test.want)
			}
		})
	}
}

// A reading held back keeps the time at which it was read.
func TestJudgeKeepsTimes(t *testing.T) {
	j := sensor.NewJudge()
	j.Add(sensor.Sample{Probe: "p", At: time.Second, Milli: 85000})
	if !j.Doubts("p") {
		t.Fatal("a first 85.000 is not in doubt")
	}
	got := j.Add(sensor.Sample{Probe: "p", At: 2 * time.Second, Milli: 85062})
	if j.Doubts("p") || len(got) != 2 || got[0].At != time.Second || got[1].At != 2*time.Second {
		t.Errorf("got %+v", got)
	}
}

// steady returns one value for ever.
func steady(milli int) func(int) int { return func(int) int { return milli } }

func TestJudgeStuck(t *testing.T) {
	door := func(from, to int) func(int) int { // the door is open in these seconds
		return func(s int) int {
			if s >= from && s < to {
				return 70000 + s%3*62
			}
			return 97000 + s%2*62
		}
	}
	falling := func(s int) int { return 99000 - s*100 }
	for _, test := range []struct {
		name        string
		one, other  func(second int) int
		first, last int // seconds in which one is called stuck; 0 for never
	}{
		{"both still", steady(99000), steady(97000), 0, 0},
		{"steam fails, one shows it", steady(99000), falling, 130, 300},
		{"door open 20 s", steady(99000), door(200, 220), 0, 0},
		{"door open 60 s", steady(99000), door(200, 260), 230, 259},
		{"cold door end in warm-up", steady(15000), func(s int) int { return 15000 + s*250 }, 0, 0},
		{"moves by one step a minute", func(s int) int { return 99000 + s/60%2*62 }, falling, 0, 0},
	} {
		t.Run(test.name, func(t *testing.T) {
			stuck := stuckSeconds(t, test.one, test.other)
			if test.first == 0 {
				if len(stuck) > 0 {
					t.Errorf("called stuck at %v", stuck)
				}
				return
			}
			if len(stuck) == 0 || stuck[0] != test.first || stuck[len(stuck)-1] != test.last {
				t.Errorf("called stuck at %v, want from %d to %d", stuck, test.first, test.last)
			}
		})
	}
}

// stuckSeconds runs two probes for 300 s and returns the seconds in which the
// first is called stuck. The second must never be.
func stuckSeconds(t *testing.T, one, other func(int) int) (stuck []int) {
	j := sensor.NewJudge()
	for s := 0; s <= 300; s++ {
		at := time.Duration(s) * time.Second
		for _, r := range j.Add(sensor.Sample{Probe: "other", At: at, Milli: other(s)}) {
			if r.Fault != nil {
				t.Fatalf("the other at %d s: %v", s, r.Fault)
			}
		}
		for _, r := range j.Add(sensor.Sample{Probe: "one", At: at, Milli: one(s)}) {
			if r.Fault != nil {
				stuck = append(stuck, s)
			}
		}
	}
	return stuck
}

func TestCheckProbe(t *testing.T) {
	good := []string{"28-0000000a0b0c", "10-000802b4ba0e", "22-0123456789ab", "3b-0123456789ab", "42-0123456789ab"}
	bad := []string{"", "28", "28-", "28-0000000A0B0C", "28-0000000a0b0", "28-0000000a0b0c0", "29-0000000a0b0c",
		"../28-0000000a0b0c", "28-0000000a0b0c/", "w1_bus_master1"}
	for _, name := range good {
		if err := sensor.CheckProbe(name); err != nil {
			t.Error(err)
		}
	}
	for _, name := range bad {
		if sensor.CheckProbe(name) == nil {
			t.Errorf("%q passes as a probe", name)
		}
	}
}

func TestFaultKindNames(t *testing.T) {
	var names []string
	for _, k := range sensor.FaultKinds() {
		text, err := k.MarshalText()
		if string(text) != k.String() || err != nil {
			t.Errorf("%v is encoded as %q, %v", k, text, err)
		}
		names = append(names, k.String())
	}
	want := strings.Fields("absent empty checksum power_on low_power out_of_range shorted stuck timeout malformed unreadable pending open_wire to_ground to_supply other_chip denied busy calibrating")
	if !slices.Equal(names, want) {
		t.Errorf("kinds are %q", names)
	}
	for want, f := range map[string]*sensor.Fault{
		"absent":       {Kind: sensor.Absent},
		"stuck: 99 °C": {Kind: sensor.Stuck, Detail: "99 °C"},
	} {
		if f.Error() != want {
			t.Errorf("fault reads %q, want %q", f.Error(), want)
		}
	}
	if got := sensor.FaultKind(0).String(); got != "fault_0" {
		t.Errorf("no kind prints as %q", got)
	}
}
