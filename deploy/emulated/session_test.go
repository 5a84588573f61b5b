package emulated

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"withy/alert"
	"withy/steambox"
)

// Faults of a probe, in the numbers of kernel/pretend_w1.c.
const (
	well = iota
	unplugged
	badChecksum
	powerLost
	deaf
	allZeros
	allOnes
)

// configuration is a board with eight probes, the switch, the buzzer and two buttons,
// and ribs so thin that they are ready within a minute or two.
const configuration = `
box:
  length_mm: 1400
  slots: [A, B, C, D]
  level: 60s
  at_least: 0s
probes:
%s
boiler: {power_w: 2200, full_l: 5, switch_l: 1.2, bare_l: 0.4}
window: {learn: false, soft_min: 0.3, target_min: 0.5, over_min: 3}
run: {crew: 10s}
boat: {length_mm: 1100, thickness_mm: 3, width_mm: 20}
board:
  level: {line: LEVEL}
  buzzer: {line: BUZZER}
  buttons:
    - {name: pedal, line: PEDAL, does: next}
    - {name: palm, line: PALM, does: supple}
page:
  listen: 10.0.2.15:8017
  hosts: ["127.0.0.1"]
  tls: off
data: /tmp/withy
`

func configured() string {
	var probes strings.Builder
	for i := range 8 {
		fmt.Fprintf(&probes, "  - {name: p%d, id: 28-%012x, at_mm: %d, lag: 2s, calibrated: true}\n", i+1, i+1, 200*i)
	}
	return fmt.Sprintf(configuration, probes.String())
}

// onBoards runs a test on each of the programs for boards, side by side.
func onBoards(t *testing.T, test func(*board)) {
	t.Parallel()
	dir := os.Getenv("WITHY_EMULATED")
	if dir == "" {
		t.Skip("deploy/emulated/run starts this")
	}
	for _, program := range []string{"withy-arm64", "withy-arm"} {
		t.Run(program, func(t *testing.T) {
			t.Parallel()
			b := boot(t, dir, program)
			b.write("/etc/withy.yaml", configured())
			for _, line := range []int{levelLine, palmLine, pedalLine} {
				b.set(line, line != levelLine) // water above the float, nobody at the buttons
			}
			b.heat(15, 15)
			b.until("the kernel lists eight probes", 30*time.Second, func() bool { return b.listed() == 8 })
			test(b)
		})
	}
}

// listed returns how many probes the kernel lists.
func (b *board) listed() int {
	return strings.Count(b.read("/sys/bus/w1/devices/w1_bus_master1/w1_master_slaves"), "28-")
}

// What a rule of udev gives Withy's group: the lines, and the file that has all probes
// of a bus convert at once.
const (
	lines = "/dev/gpiochip*"
	bulk  = "/sys/bus/w1/devices/w1_bus_master*/therm_bulk_read"
)

// A whole session. What is done to the board stands in front of each wait; how long
// the program took to notice is printed.
func TestSession(t *testing.T) {
	onBoards(t, func(b *board) {
		check(b)
		bell(b)
		b.started()
		origins := wakes(b)
		woken := b.moment()
		warmUp(b)
		ribs(b, origins)
		clockWasSlewed(b, origins, woken)
		water(b)
	})
}

// check tries what `withy check` says of a board that does not let it, and of one
// that does.
func check(b *board) {
	refused := b.do("check", "--config", "/etc/withy.yaml")
	b.wants(refused, "permission denied", "is the user in the group of that device?")
	b.grant(lines, bulk)
	since := time.Now()
	b.wants(b.do("check", "--config", "/etc/withy.yaml"), "ok  probe   p8 28-000000000008", "there is water above it", "sounded: two pulses")
	b.sounds(alert.Pull, since, time.Second)
	go func() { // somebody lifts the float once they are asked, and lets it sink
		time.Sleep(10 * time.Second)
		b.set(levelLine, true)
		time.Sleep(6 * time.Second)
		b.set(levelLine, false)
	}()
	b.wants(b.do("check", "--config", "/etc/withy.yaml", "--lift"), "Lift the float by hand", "turned both ways: proven")
	b.wants(b.do("probes"), "28-000000000001", "28-000000000008")
}

// wants fails without each of the words in a text.
func (b *board) wants(text string, words ...string) {
	b.t.Helper()
	for _, w := range words {
		if !strings.Contains(text, w) {
			b.t.Errorf("want %q in:\n%s", w, text)
		}
	}
}

func warmUp(b *board) {
	b.wants(b.do("check", "--config", "/etc/withy.yaml"), "device or resource busy")
	b.tell(map[string]any{"kind": "filled", "litres": 5})
	for c := 20.0; c < 99; c += 8 {
		b.heat(c, c-2)
		time.Sleep(time.Second)
	}
	b.heat(99.8, 97.5)

	before := b.given()
	start := time.Now()
	bounced := time.Now()
	for i := range 60 { // a float that bobs in boiling water
		b.set(levelLine, i%2 == 0)
		time.Sleep(50 * time.Millisecond)
	}
	b.until("the box is warm", 2*time.Minute, func() bool { v, _ := b.look(); return v.Status.Phase == steambox.Ready })
	if v, _ := b.look(); v.alarmed(alert.WaterLow, "") || v.Status.Water.Switch != "closed" {
		b.t.Errorf("a float that bobs raised %v with the switch %s", v.Alarms, v.Status.Water.Switch)
	}
	if pulses := b.pulses(buzzerLine, bounced); played(pulses, alert.Kettle) || played(pulses, alert.Danger) {
		b.t.Errorf("a float that bobs sounded %v", pulses)
	}
	each := time.Since(start).Seconds() / (float64(b.given()-before) / 8)
	b.t.Logf("%6.2f s  to read eight probes once, while the page is asked ten times a second", each)
}

// started starts the program and waits for its first readings.
func (b *board) started() {
	b.t.Helper()
	b.startDaemon()
	b.until("the page answers", 30*time.Second, func() bool { _, ok := b.look(); return ok })
	b.until("all eight probes are read", 10*time.Second, func() bool { v, _ := b.look(); return allRead(v) })
}

func allRead(v view) bool {
	for _, p := range v.Status.Probes {
		if p.TempC == nil {
			return false
		}
	}
	return len(v.Status.Probes) == 8
}

// given returns how many scratchpads all probes have given.
func (b *board) given() int {
	sum := 0
	for text := range strings.SplitSeq(strings.TrimSpace(b.read("/sys/module/pretend_w1/parameters/given")), ",") {
		n := 0
		fmt.Sscan(text, &n)
		sum += n
	}
	return sum
}

func (b *board) slot(letter string) steambox.Slot {
	v, _ := b.look()
	for _, s := range v.Status.Slots {
		if s.Slot == letter {
			return s
		}
	}
	return steambox.Slot{}
}

// ribs loads three, has the program killed while they soak, and pulls by the pedal as
// the buzzer calls.
func ribs(b *board, origins []time.Duration) {
	for i, slot := range []string{"A", "B", "C"} {
		b.tell(map[string]any{"kind": "loaded", "rib": fmt.Sprint(i + 1), "slot": slot})
		time.Sleep(2 * time.Second)
	}
	heat := b.slot("A").Ends[0].Min
	b.tell(map[string]any{"kind": "note", "text": "all before this is on record"})
	b.killDaemon()
	b.startDaemon()
	b.until("the page answers after a kill", 30*time.Second, func() bool { _, ok := b.look(); return ok })
	if a := b.slot("A"); a.Rib != "1" || a.Ends[0].Min < heat {
		b.t.Errorf("after the restart slot A has %q with %v; before it had taken %g min", a.Rib, a.Ends, heat)
	}
	unplug(b)
	clockIsSet(b, origins)
	b.heard()          // until then a button says that, and pulls nothing
	free := time.Now() // since when the next call may have come
	for i, slot := range []string{"A", "B", "C"} {
		b.until("rib "+fmt.Sprint(i+1)+" is ready", 3*time.Minute, func() bool {
			s := b.slot(slot)
			return s.ReadyS != nil && *s.ReadyS <= 0
		})
		b.sounds(alert.Pull, free, 20*time.Second)
		free = time.Now()
		b.press(pedalLine)
		b.until("the pedal pulls it", 3*time.Second, func() bool { return b.slot(slot).Rib == "" })
		b.press(palmLine)
		b.until("the palm button says supple", 3*time.Second, func() bool { v, _ := b.look(); return v.Status.Bent.Supple == i+1 })
		time.Sleep(6 * time.Second) // past the time for saying no by the same button
	}
}

// unplug takes the steam end's probe off the bus and puts it back, while ribs soak.
func unplug(b *board) {
	b.until("all are read after the restart", 10*time.Second, func() bool { v, _ := b.look(); return allRead(v) })
	b.fault(0, unplugged)
	if took := b.until("a probe that was pulled out is not believed", 30*time.Second, func() bool { return !b.believes(0) }); took > 10*time.Second {
		b.t.Errorf("unplugged, and said after %s; 10 s are allowed", took)
	}
	b.until("its alarm is raised", 20*time.Second, func() bool { v, _ := b.look(); return v.alarmed(alert.ProbeFailed, "p1") })
	b.fault(0, well)
	if took := b.until("plugged in again it is believed", 30*time.Second, func() bool { return b.believes(0) }); took > 5*time.Second {
		b.t.Errorf("plugged in again, and read after %s; 5 s are allowed", took)
	}
}

// believes reports whether all of these probes have a reading.
func (b *board) believes(probes ...int) bool {
	v, ok := b.look()
	for _, p := range probes {
		ok = ok && v.Status.Probes[p].TempC != nil
	}
	return ok
}

// What befalls a probe costs its own readings and nobody else's; what befalls the bus
// is told from it.
func TestProbeFaults(t *testing.T) {
	onBoards(t, func(b *board) {
		b.grant(lines, bulk)
		b.heat(99.8, 97.5)
		b.started()
		for _, f := range []struct {
			fault int
			what  string
		}{{badChecksum, "with a bad checksum"}, {powerLost, "that loses power"}, {allZeros, "stuck at zeros"}, {allOnes, "stuck at ones"}} {
			b.fault(0, f.fault)
			b.until("a probe "+f.what+" is not believed", 10*time.Second, func() bool { return !b.believes(0) })
			v, _ := b.look()
			b.t.Logf("          %s", v.Status.Probes[0].Fault)
			b.until("the other seven are", 5*time.Second, func() bool { return b.believes(1, 2, 3, 4, 5, 6, 7) })
			b.fault(0, well)
			b.until("well again it is believed", 10*time.Second, func() bool { return b.believes(0) })
		}
		b.write("/sys/module/pretend_w1/parameters/hang_ms", "15000")
		b.until("a read that hangs is not believed", 10*time.Second, func() bool { return !b.believes(0) })
		b.until("when it is done the probe is believed", 30*time.Second, func() bool { return b.believes(0) })
		shortedBus(b)
		deafProbe(b)
	})
}

func shortedBus(b *board) {
	b.until("no alarm is left", 30*time.Second, func() bool { v, _ := b.look(); return !v.alarmed(alert.Blind, "") })
	b.write("/sys/module/pretend_w1/parameters/shorted", "1")
	b.until("the data wire is said to be shorted", 10*time.Second, func() bool {
		v, _ := b.look()
		return strings.Contains(v.Status.Probes[0].Fault, "short")
	})
	b.until("nobody can read anything", 20*time.Second, func() bool { v, _ := b.look(); return v.alarmed(alert.Blind, "") })
	b.write("/sys/module/pretend_w1/parameters/shorted", "0")
	b.until("the kernel lists the probes again", 30*time.Second, func() bool { return b.listed() == 8 })
	b.grant(bulk) // the file went with the last probe
	b.until("all are read again", 10*time.Second, func() bool { v, _ := b.look(); return allRead(v) })
}

// deafProbe has a probe answer with its last value for ever, checksum and all. That
// can be told from steady steam only once the others have gone elsewhere.
func deafProbe(b *board) {
	b.fault(0, deaf)
	for c := 98.0; c > 80; c-- {
		b.heat(c, c-2)
		time.Sleep(time.Second)
	}
	b.until("a probe that never converts is not believed", 3*time.Minute, func() bool { return !b.believes(0) })
	v, _ := b.look()
	b.t.Logf("          %s", v.Status.Probes[0].Fault)
	b.fault(0, well)
	b.until("well again it is believed", 10*time.Second, func() bool { return b.believes(0) })
}

// bell has the daemon's own benchmark of the way from the end of an alarm's delay to the
// pin run on the board's line: aim 50 ms, 99th percentile.
func bell(b *board) {
	since := time.Now()
	said := b.send("/do", command{Root: true, Env: []string{"WITHY_BUZZER_LINE=BUZZER", "TMPDIR=/tmp"}, Args: []string{
		"/" + b.program + ".daemon.test", "-test.run=^$", "-test.bench=SweepToBuzzer", "-test.benchtime=100x",
	}})
	_, figures, ok := strings.Cut(said, "BenchmarkSweepToBuzzer")
	if rises := len(b.pulses(buzzerLine, since)); !ok || rises < 100 {
		b.t.Errorf("the line was seen to rise %d times; %s", rises, said)
	}
	b.t.Logf("          end of an alarm's delay to the pin: %s", strings.Join(strings.Fields(figures), " "))
}

// water sinks below the switch, and then the boiler runs dry.
func water(b *board) {
	since := time.Now()
	b.set(levelLine, true)
	b.until("water low is raised", 30*time.Second, func() bool { v, _ := b.look(); return v.alarmed(alert.WaterLow, "") })
	b.sounds(alert.Kettle, since, 5*time.Second)
	since = time.Now()
	for c := 99.0; c > 70; c-- {
		b.heat(c, c-2)
		time.Sleep(500 * time.Millisecond)
	}
	b.until("boiler dry is raised", 60*time.Second, func() bool { v, _ := b.look(); return v.alarmed(alert.BoilerDry, "") })
	b.sounds(alert.Danger, since, 10*time.Second)
}
