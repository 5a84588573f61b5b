package sensor_test

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"withy/sensor"
	"withy/sensor/sensortest"
	"withy/steambox/unit"
)

const (
	steam = "28-00000000000a"
	door  = "28-00000000000b"
	bus1  = "w1_bus_master1"
	bus2  = "w1_bus_master2"

	// tick is the period of boards under test, and the rest follows from it.
	tick   = 40 * time.Millisecond
	maxAge = 8 * tick
)

func quiet() *slog.Logger { return slog.New(slog.DiscardHandler) }

// logText keeps what is logged, from any goroutine.
type logText struct {
	mu   sync.Mutex
	text strings.Builder
}

func (l *logText) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func (l *logText) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

// newBoard starts a board on a tree, closed with the test.
func newBoard(t *testing.T, tree *sensortest.Tree, probes ...string) *sensor.Board {
	t.Helper()
	b, err := sensor.NewBoard(sensor.Config{W1Root: tree.Root, Probes: probes, Period: tick, MaxAge: maxAge}, quiet())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.Close() })
	return b
}

// say words a reading: "98.5 °C" or the fault's kind.
func say(r sensor.Reading) string {
	if r.Fault != nil {
		return r.Fault.Kind.String()
	}
	return r.Temp.String()
}

// await reads until each probe says what is wanted, in the configured order.
func await(t *testing.T, b *sensor.Board, want ...string) sensor.Sweep {
	t.Helper()
	var got []string
	for start := time.Now(); time.Since(start) < 10*time.Second; {
		sweep, err := b.Read(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		got = nil
		for _, r := range sweep.Probes {
			got = append(got, say(r))
		}
		if slices.Equal(got, want) {
			return sweep
		}
	}
	t.Fatalf("probes say %q, never %q", got, want)
	return sensor.Sweep{}
}

func TestBoardIsASource(t *testing.T) {
	tree := sensortest.NewTree(t)
	tree.Plug(bus1, steam)
	tree.Write(steam, "temperature", "98500\n")
	sensortest.TestSource(t, func() sensortest.Source {
		return newBoard(t, tree, steam, door) // the second is not plugged in
	}, steam, door)
}

func TestBoardWithNothingOnIt(t *testing.T) {
	tree := sensortest.NewTree(t)
	sensortest.TestSource(t, func() sensortest.Source { return newBoard(t, tree) })
}

// The kernel's two kinds of file side by side, and what each failure reads
// as: testdata/w1/README.md and the kernel 6.1 behaviours seen with a
// simulated bus master.
func TestBoardReads(t *testing.T) {
	for _, test := range []struct {
		file, text, want string
	}{
		{"temperature", "temperature-98.125", "98.1 °C"},
		{"temperature", "temperature-minus-1.25", "-1.2 °C"},
		{"temperature", "temperature-no-newline", "98.1 °C"},
		{"temperature", "empty", "empty"},
		{"temperature", "slave-100", "malformed"},
		{"temperature", "temperature-85", "power_on"}, // for ever, as the first value
		{"w1_slave", "slave-100", "100.0 °C"},
		{"w1_slave", "slave-true-85", "85.0 °C"},
		{"w1_slave", "slave-power-on", "power_on"},
		{"w1_slave", "slave-low-power", "low_power"},
		{"w1_slave", "slave-dead", "shorted"},
		{"w1_slave", "slave-no", "checksum"},
		{"w1_slave", "slave-cut-first-line", "malformed"},
		{"w1_slave", "empty", "empty"},
	} {
		t.Run(test.file+" "+test.text, func(t *testing.T) {
			t.Parallel()
			tree := sensortest.NewTree(t)
			tree.Plug(bus1, steam)
			tree.Plug(bus1, door)
			tree.Write(door, "temperature", "96000\n")
			tree.Write(steam, test.file, string(fixture(t, test.text)))
			sweep := await(t, newBoard(t, tree, door, steam), "96.0 °C", test.want)
			if r := sweep.Probes[0]; r.Temp != unit.Celsius(96) {
				t.Errorf("door end is %v", r.Temp)
			}
		})
	}
}

// A doubtful 85.000 is decided by the scratchpad at once.
func TestBoardAsksForScratchpad(t *testing.T) {
	for text, want := range map[string]string{"slave-true-85": "85.0 °C", "slave-power-on": "power_on"} {
		tree := sensortest.NewTree(t)
		tree.Plug(bus1, steam)
		tree.Write(steam, "w1_slave", string(fixture(t, text)))
		tree.Write(steam, "temperature", "85000\n")
		await(t, newBoard(t, tree, steam), want)
	}
}

func TestBoardProbeComesAndGoes(t *testing.T) {
	tree := sensortest.NewTree(t)
	b := newBoard(t, tree, steam)
	await(t, b, "absent")
	tree.Plug(bus1, steam)
	tree.Write(steam, "temperature", "20000\n")
	await(t, b, "20.0 °C")
	tree.Pull(steam)
	await(t, b, "absent")
	tree.Plug(bus2, steam) // back on another bus
	tree.Write(steam, "temperature", "21000\n")
	await(t, b, "21.0 °C")
}

func TestBoardWithoutKernelDriver(t *testing.T) {
	tree := sensortest.NewTree(t)
	if err := os.Remove(tree.Root); err != nil {
		t.Fatal(err)
	}
	sweep := await(t, newBoard(t, tree, steam), "absent")
	if d := sweep.Probes[0].Fault.Detail; !strings.Contains(d, "no 1-wire bus") {
		t.Errorf("detail is %q", d)
	}
}

func TestBoardDirectoryWithoutDriver(t *testing.T) {
	tree := sensortest.NewTree(t)
	tree.Plug(bus1, steam) // listed, but w1_therm is not loaded: no files
	await(t, newBoard(t, tree, steam), "absent")
}

func TestBoardDeadBus(t *testing.T) {
	tree := sensortest.NewTree(t)
	for _, name := range []string{steam, door} {
		tree.Plug(bus1, name)
		tree.Write(name, "temperature", "")
	}
	b := newBoard(t, tree, steam, door)
	await(t, b, "shorted", "shorted")
	tree.Write(steam, "temperature", "20000\n") // one answers: the bus is well
	await(t, b, "20.0 °C", "empty")
}

func TestBoardBulkConversion(t *testing.T) {
	tree := sensortest.NewTree(t)
	path := tree.Bulk(bus1)
	for name, text := range map[string]string{steam: "98500\n", door: "96000\n"} {
		tree.Plug(bus1, name)
		tree.Write(name, "temperature", text)
	}
	await(t, newBoard(t, tree, steam, door), "98.5 °C", "96.0 °C")
	// The driver's word is 8 bytes long and ends in a newline: ABI document
	// sysfs-driver-w1_therm.
	if text, err := os.ReadFile(path); string(text) != "trigger\n" || err != nil {
		t.Errorf("wrote %q, %v", text, err)
	}
}

// One probe gains nothing from a bulk conversion, and it has traps.
func TestBoardBulkNotForOne(t *testing.T) {
	tree := sensortest.NewTree(t)
	path := tree.Bulk(bus1)
	tree.Plug(bus1, steam)
	tree.Write(steam, "temperature", "98500\n")
	await(t, newBoard(t, tree, steam), "98.5 °C")
	if text, err := os.ReadFile(path); string(text) != "0\n" || err != nil {
		t.Errorf("wrote %q, %v", text, err)
	}
}

// Without permission the probes are read in turn, and the log says it once.
func TestBoardBulkRefused(t *testing.T) {
	tree := sensortest.NewTree(t)
	path := tree.Bulk(bus1)
	for name, text := range map[string]string{steam: "98500\n", door: "96000\n"} {
		tree.Plug(bus1, name)
		tree.Write(name, "temperature", text)
	}
	// A directory refuses to be written, even by root.
	if err := errors.Join(os.Remove(path), os.Mkdir(path, 0o755)); err != nil {
		t.Fatal(err)
	}
	text := &logText{}
	cfg := sensor.Config{W1Root: tree.Root, Probes: []string{steam, door}, Period: tick}
	b, err := sensor.NewBoard(cfg, slog.New(slog.NewTextHandler(text, nil)))
	if err != nil {
		t.Fatal(err)
	}
	await(t, b, "98.5 °C", "96.0 °C")
	tree.Write(steam, "temperature", "98562\n")
	sweep := await(t, b, "98.6 °C", "96.0 °C")
	_ = b.Close()
	if r := sweep.Probes[0]; r.Temp != 98.562 {
		t.Errorf("steam end is %v", float64(r.Temp))
	}
	if n := strings.Count(text.String(), "no bulk conversion"); n != 1 {
		t.Errorf("logged %d times:\n%s", n, text.String())
	}
}

func TestBoardUnreadable(t *testing.T) {
	tree := sensortest.NewTree(t)
	tree.Plug(bus1, steam)
	if err := os.Mkdir(tree.Root+"/"+steam+"/temperature", 0o755); err != nil {
		t.Fatal(err)
	}
	await(t, newBoard(t, tree, steam), "unreadable") // reading a directory fails
}

// A read that never returns turns its own bus into a timeout, and delays
// neither the sweeps nor the other bus nor Close.
func TestBoardHangingProbe(t *testing.T) {
	tree := sensortest.NewTree(t)
	tree.Plug(bus1, steam)
	tree.Plug(bus2, door)
	tree.Write(steam, "temperature", "98500\n")
	tree.Write(door, "temperature", "96000\n")
	b := newBoard(t, tree, steam, door)
	last := await(t, b, "98.5 °C", "96.0 °C").Probes[1].At
	release := tree.Hang(door, "temperature")
	sweep := await(t, b, "98.5 °C", "timeout")
	if age := sweep.At - last; age <= maxAge {
		t.Errorf("timeout after %v, stated as %v", age, maxAge)
	}
	for range 10 {
		before := sweep.At
		sweep = await(t, b, "98.5 °C", "timeout")
		if gap := sweep.At - before; gap > 2*time.Second {
			t.Errorf("%v between sweeps", gap)
		}
		if age := sweep.At - sweep.Probes[0].At; age > maxAge {
			t.Errorf("the other bus is %v late", age)
		}
	}
	tree.Pull(steam)
	await(t, b, "absent", "timeout")
	start := time.Now()
	if err := b.Close(); err != nil || time.Since(start) > time.Second {
		t.Errorf("Close took %v, %v", time.Since(start), err)
	}
	release()
}

// A read that does come back, too late, is not a value; the next one is.
func TestBoardHangEnds(t *testing.T) {
	tree := sensortest.NewTree(t)
	tree.Plug(bus1, steam)
	release := tree.Hang(steam, "temperature")
	b := newBoard(t, tree, steam)
	await(t, b, "timeout")
	release()
	tree.Write(steam, "temperature", "97000\n")
	await(t, b, "97.0 °C")
}

func TestBoardFirstSweepIsPending(t *testing.T) {
	tree := sensortest.NewTree(t)
	tree.Plug(bus1, steam)
	tree.Hang(steam, "temperature")
	b, err := sensor.NewBoard(sensor.Config{W1Root: tree.Root, Probes: []string{steam}, Period: tick, MaxAge: time.Minute}, quiet())
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	await(t, b, "pending")
}

func TestBoardBootAndClock(t *testing.T) {
	tree := sensortest.NewTree(t)
	want, err := os.ReadFile(sensor.DefaultBootFile)
	if err != nil {
		t.Skip("no boot id on this machine: ", err)
	}
	b := newBoard(t, tree)
	if b.Boot() != strings.TrimSpace(string(want)) {
		t.Errorf("boot is %q, want %q", b.Boot(), want)
	}
	before := b.Now()
	time.Sleep(5 * time.Millisecond)
	if d := b.Now() - before; d < 5*time.Millisecond || d > 5*time.Second {
		t.Errorf("5 ms took %v", d)
	}
}

// All mistakes are reported together.
func TestConfigMistakes(t *testing.T) {
	_, err := sensor.NewBoard(sensor.Config{
		BootFile: "/no/such/file",
		Probes:   []string{steam, "28-XYZ", steam},
		Level:    sensor.ContactConfig{Line: "17"},
		Door:     sensor.ContactConfig{Line: "GPIO5", OpenHold: -1},
		Buttons: []sensor.ButtonConfig{
			{Name: "pull", Contact: sensor.ContactConfig{Line: "GPIO6"}},
			{Name: "pull", Contact: sensor.ContactConfig{Line: "GPIO7"}},
			{Name: "level", Contact: sensor.ContactConfig{Line: "GPIO8"}},
			{Name: "stop", Contact: sensor.ContactConfig{Line: "GPIO6"}},
			{Contact: sensor.ContactConfig{Line: "GPIO9"}},
			{Name: "float 1", Contact: sensor.ContactConfig{Line: "GPIO10"}},
		},
		Floats: []sensor.ContactConfig{{Line: "GPIO5"}, {Line: "GPIO7"}},
		Period: time.Minute,
	}, quiet())
	if err == nil {
		t.Fatal("all mistakes pass")
	}
	for _, want := range []string{
		`probe "28-XYZ"`, "named twice", "needs its chip", "hold time below zero", `named "pull"`, `named "level"`,
		"pull and stop are both on line GPIO6", "has no name", `named "float 1"`, "float 2 and pull are both on line GPIO7", "less than the period", "boot id",
	} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("no word of %q in:\n%v", want, err)
		}
	}
}

func TestBoardLinesNotThere(t *testing.T) {
	if _, err := os.Stat("/dev/gpiochip0"); err == nil {
		t.Skip("this machine has GPIO lines")
	}
	b, err := sensor.NewBoard(sensor.Config{Level: sensor.ContactConfig{Line: "GPIO17"}, Period: tick}, quiet())
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
	defer cancel()
	for range 3 {
		sweep, err := b.Read(ctx)
		if err != nil || sweep.Level != sensor.Unknown {
			t.Errorf("level %v, %v", sweep.Level, err)
		}
	}
	lines := b.Lines()
	if len(lines) != 1 || lines[0].Input != "level" || lines[0].Line != "GPIO17" || lines[0].Err == nil {
		t.Errorf("lines %+v", lines)
	}
}
