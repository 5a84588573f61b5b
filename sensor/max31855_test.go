package sensor_test

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"
	"syscall"
	"testing"
	"time"

	"periph.io/x/conn/v3"
	"periph.io/x/conn/v3/conntest"
	"pgregory.net/rapid"

	"withy/sensor"
	"withy/sensor/sensortest"
	"withy/sensor/thermocouple"
)

// Bits by the MAX31855's data sheet, tables 4 and 5: the rows of the one beside those of the
// other.
func TestFrame(t *testing.T) {
	for _, test := range []struct {
		frame        sensor.Frame
		couple, chip float64
	}{
		{0x64007F00, 1600, 127},
		{0x3E806490, 1000, 100.5625},
		{0x064C1900, 100.75, 25},
		{0x01901900, 25, 25},
		{0x00000000, 0, 0},
		{0xFFFCFFF0, -0.25, -0.0625},
		{0xFFF0FF00, -1, -1},
		{0xF060C900, -250, -55},
		{0x01501790, 21, 23.5625}, // a word that somebody read off a chip and published
	} {
		if test.frame.Couple() != test.couple || test.frame.Chip() != test.chip {
			t.Errorf("%08x is %g and %g °C, want %g and %g", uint32(test.frame), test.frame.Couple(), test.frame.Chip(), test.couple, test.chip)
		}
	}
}

func TestFrameCheck(t *testing.T) {
	for frame, want := range map[sensor.Frame]sensor.FaultKind{
		0x01901900: 0,
		0x00001900: 0, // 0 °C at a chip of 25
		0x00011901: sensor.OpenWire,
		0x00011902: sensor.ToGround,
		0x00011904: sensor.ToSupply,
		0x00000000: sensor.Shorted,
		0x01900000: sensor.Malformed, // zeros from the middle on
		0xFFFFFFFF: sensor.Absent,
		0x01921900: sensor.Malformed, // a bit that is always zero
		0x01901908: sensor.Malformed, // the other
		0x01911900: sensor.Malformed, // a fault, and none is named
		0x01901901: sensor.Malformed, // one is named, and there is none
		0x0190FFFF: sensor.Malformed, // ones from the middle on
		0x0190C900: sensor.OutOfRange,
	} {
		if got := kindOf(frame.Check()); got != want {
			t.Errorf("%08x: %v, want %v", uint32(frame), frame.Check(), want)
		}
	}
}

// frameOf is what the chip answers: millivolts over its slope, on top of its own temperature.
// Slopes by its data sheet, table 1.
func frameOf(kind thermocouple.Type, slope, hotC, chipC float64) sensor.Frame {
	mv := kind.Millivolts(hotC) - kind.Millivolts(chipC)
	couple := math.Round(4 * (mv/slope + chipC))
	return sensor.Frame(uint32(int32(couple))<<18 | uint32(int32(16*chipC))<<4&0xFFF0)
}

// A step of the chip is a quarter of a degree, so an eighth is lost, by the curve's slope
// over the chip's; a type T is 12 K off without its curve.
func TestFrameCelsius(t *testing.T) {
	for _, hot := range []float64{-20, 20, 60, 95, 98, 100, 110} {
		for _, chip := range []float64{0, 22.5, 40} {
			for _, test := range []struct {
				kind       thermocouple.Type
				slope, tol float64
			}{{thermocouple.K, 0.041276, 0.20}, {thermocouple.T, 0.05218, 0.23}} {
				f := frameOf(test.kind, test.slope, hot, chip)
				got, err := f.Celsius(test.kind)
				if err != nil || math.Abs(got-hot) > test.tol {
					t.Errorf("type %v at %g °C, chip at %g: %.3f, %v", test.kind, hot, chip, got, err)
				}
			}
		}
	}
	if f := frameOf(thermocouple.T, 0.05218, 100, 25); f.Couple() != 88 {
		t.Errorf("a type T at 100 °C is %g by the chip's straight line", f.Couple())
	}
	if _, err := sensor.Frame(0x64007F00).Celsius(thermocouple.T); !errors.Is(err, thermocouple.ErrRange) {
		t.Errorf("1600 °C of a type T: %v", err)
	}
}

func FuzzFrame(f *testing.F) {
	for _, seed := range []uint32{0x01901900, 0, 0xFFFFFFFF, 0x00011901, 0xF060C900, 0x64007F00} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, word uint32) {
		frame := sensor.Frame(word)
		if frame.Check() != nil {
			return
		}
		again := uint32(int32(4*frame.Couple()))<<18 | uint32(int32(16*frame.Chip()))<<4&0xFFF0
		if again != word {
			t.Errorf("%08x is encoded as %08x", word, again)
		}
		if c, err := frame.Celsius(thermocouple.K); err == nil && (c < -201 || c > 1373) {
			t.Errorf("%08x is %g °C", word, c)
		}
	})
}

// recorded is a bus on which a chip answers so, one time after the other and the last for
// ever; with a single answer the bus fails after it.
func recorded(answers ...uint32) func(bus, chipSelect, hertz int) (sensor.SPIConn, error) {
	var ops []conntest.IO
	for _, word := range answers {
		ops = append(ops, conntest.IO{R: binary.BigEndian.AppendUint32(nil, word)})
	}
	for range 1000 * (len(answers) - 1) {
		ops = append(ops, ops[len(ops)-1])
	}
	return func(int, int, int) (sensor.SPIConn, error) {
		return &conntest.Playback{Ops: ops, DontPanic: true, D: conn.Half}, nil
	}
}

// chips are what hangs at the SPI buses: words by bus and chip select, which may change.
type chips struct {
	mu    sync.Mutex
	words map[string]sensor.Frame
	fails map[string]error
}

func (c *chips) open(bus, chipSelect, hertz int) (sensor.SPIConn, error) {
	at := fmt.Sprintf("%d.%d", bus, chipSelect)
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.fails[at]; err != nil {
		return nil, err
	}
	if hertz > 5_000_000 {
		return nil, fmt.Errorf("%d Hz is too fast", hertz)
	}
	return &chipAt{c, at}, nil
}

func (c *chips) set(at string, word sensor.Frame, err error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.words == nil {
		c.words, c.fails = map[string]sensor.Frame{}, map[string]error{}
	}
	c.words[at], c.fails[at] = word, err
}

type chipAt struct {
	chips *chips
	at    string
}

func (c *chipAt) Tx(_, r []byte) error {
	c.chips.mu.Lock()
	defer c.chips.mu.Unlock()
	binary.BigEndian.PutUint32(r, uint32(c.chips.words[c.at]))
	return c.chips.fails[c.at]
}
func (c *chipAt) String() string      { return c.at }
func (c *chipAt) Duplex() conn.Duplex { return conn.Half }
func (c *chipAt) Close() error        { return nil }

func TestSPIReads(t *testing.T) {
	const well = 0x06401900 // 100.00 °C, chip at 25
	for _, test := range []struct {
		name    string
		probe   string
		answers []uint32
		want    float64
		fault   string
	}{
		// 75 K of the chip's 41.276 µV/K are 3.0957 mV, and with 1.0002 for the chip's 25 °C
		// 4.0959 of the table.
		{"type K", "spi:0.1:K", []uint32{well, well}, 99.962, ""},
		// 63 K of 52.18 µV/K are 3.2873 mV; with 0.9920, 4.2793 of the table.
		{"type T", "spi:0.1:T", []uint32{0x05801900, 0x05801900}, 100.022, ""},
		{"zeros", "spi:0.1:K", []uint32{well, 0}, 0, "shorted: only zeros"},
		{"ones", "spi:0.1:K", []uint32{well, 0xFFFFFFFF}, 0, "absent: only ones"},
		{"a cut wire", "spi:0.1:K", []uint32{well, 0x00011901}, 0, "open_wire"},
		{"it stops in the middle of an answer, and the rest are zeros", "spi:0.1:K", []uint32{well, 0x06400000}, 0, "malformed: 06400000 ends in zeros"},
		{"a bit later, each other time", "spi:0.1:K", slices.Repeat([]uint32{well, 0x06401000}, 30), 0, "malformed: 0640"},
		{"and the rest are ones", "spi:0.1:K", []uint32{well, 0x0640FFFF}, 0, "malformed"},
		{"hotter than a type T", "spi:0.1:T", []uint32{0x40001900, 0x40001900}, 0, "out_of_range"},
		{"the bus fails", "spi:0.1:K", []uint32{well}, 0, "unreadable"},
	} {
		t.Run(test.name, func(t *testing.T) {
			cfg := sensor.Config{Probes: []string{test.probe}}.OnSPI(recorded(test.answers...))
			expect(t, once(t, cfg), test.want, test.fault)
		})
	}
}

func TestSPIBusNotThere(t *testing.T) {
	expect(t, once(t, sensor.Config{Probes: []string{"spi:99.9:K"}}), 0, "absent: no /dev/spidev99.9")
}

// A chip that goes away and comes back is read again; another chip goes on meanwhile.
func TestSPIComesAndGoes(t *testing.T) {
	var on chips
	on.set("0.0", 0x05801900, nil)
	on.set("0.1", 0, syscall.EACCES)
	b := onKernel(t, sensor.Config{Probes: []string{"spi:0.0:T", "spi:0.1:K"}}.OnSPI(on.open))
	await(t, b, "100.0 °C", "denied")
	on.set("0.1", 0x06401900, nil)
	await(t, b, "100.0 °C", "100.0 °C")
	on.set("0.0", 0, syscall.EREMOTEIO)
	await(t, b, "absent", "100.0 °C")
	on.set("0.0", 0, syscall.EBUSY)
	await(t, b, "busy", "100.0 °C")
	on.set("0.0", 0x05801900, nil)
	await(t, b, "100.0 °C", "100.0 °C")
}

func TestSPIBoardIsASource(t *testing.T) {
	var on chips
	on.set("0.0", 0x05801900, nil)
	on.set("0.1", 0x00011901, nil)
	sensortest.TestSource(t, func() sensortest.Source {
		return onKernel(t, sensor.Config{Probes: []string{"spi:0.0:T", "spi:0.1:K"}}.OnSPI(on.open))
	}, "spi:0.0:T", "spi:0.1:K")
}

// Whatever is pulled, plugged in again and given another number, no probe is ever given the
// temperature of another: each device here has one of its own.
func TestAttribution(t *testing.T) {
	type plug struct {
		name, place, probe string
		c                  int
	}
	plugs := []plug{
		{"max31856", "spi0.0", "iio:max31856@spi0.0/temp", 11}, {"max31856", "spi0.1", "iio:max31856@spi0.1/temp", 22},
		{"mcp9600", "1-0060", "iio:mcp9600/temp", 33}, {"mcp9600", "1-0061", "", 44}, // of the same kind, and no probe of ours
	}
	hwmons := []plug{{"ntc", "a", "hwmon:ntc@a/temp1", 55}, {"ntc", "b", "hwmon:ntc@b/temp1", 66}}
	wires := map[string]int{steam: 77, door: 88}

	rapid.Check(t, func(r *rapid.T) {
		iio, hwmon, tree := sensortest.NewIIO(t), sensortest.NewHwmon(t), sensortest.NewTree(t)
		var names []string
		own := map[string]int{}
		for _, p := range slices.Concat(plugs, hwmons) {
			if p.probe != "" {
				names, own[p.probe] = append(names, p.probe), p.c
			}
		}
		for probe, c := range wires {
			names, own[probe] = append(names, probe), c
		}
		b, err := sensor.NewBoard(sensor.Config{W1Root: tree.Root, IIORoot: iio.Root, HwmonRoot: hwmon.Root,
			Probes: names, Period: 2 * time.Millisecond, MaxAge: time.Second}, quiet())
		if err != nil {
			r.Fatal(err)
		}
		defer b.Close()

		iio.Plug(9, plugs[2].place, files(plugs[2].name, plugs[2].c)) // found first, so it is the one meant
		for sweep := read(r, b); sweep["iio:mcp9600/temp"] != 33; sweep = read(r, b) {
		}
		at := map[int]int{9: 2} // devices by their number
		numbers := map[int]bool{}
		wired := map[string]bool{}
		for range rapid.IntRange(1, 12).Draw(r, "steps") {
			n := rapid.IntRange(0, 9).Draw(r, "number")
			if _, in := at[n]; in {
				iio.Pull(n)
				delete(at, n)
			} else if i := rapid.IntRange(0, len(plugs)-1).Draw(r, "device"); !holds(at, i) {
				iio.Plug(n, plugs[i].place, files(plugs[i].name, plugs[i].c))
				at[n] = i
			}
			if h := rapid.IntRange(0, 1).Draw(r, "hwmon"); numbers[h] {
				hwmon.Pull(h)
				hwmon.Pull(1 - h)
				clear(numbers)
			} else {
				hwmon.Plug(h, hwmons[0].place, sensortest.Files{"name": "ntc", "temp1_input": "55000"})
				hwmon.Plug(1-h, hwmons[1].place, sensortest.Files{"name": "ntc", "temp1_input": "66000"})
				numbers[0], numbers[1] = true, true
			}
			probe := rapid.SampledFrom([]string{steam, door}).Draw(r, "probe")
			if wired[probe] {
				tree.Pull(probe)
			} else {
				tree.Plug(rapid.SampledFrom([]string{bus1, bus2}).Draw(r, "bus"), probe)
				tree.Write(probe, "temperature", fmt.Sprintf("%d000\n", wires[probe]))
			}
			wired[probe] = !wired[probe]
			for range 3 {
				for probe, c := range read(r, b) {
					if c != own[probe] {
						r.Fatalf("%s reads %d °C, which is another's", probe, c)
					}
				}
			}
		}
	})
}

func files(name string, c int) sensortest.Files {
	return sensortest.Files{"name": name, "in_temp_raw": fmt.Sprint(1000 * c)}
}

func holds(at map[int]int, device int) bool {
	for _, d := range at {
		if d == device {
			return true
		}
	}
	return false
}

// read returns the whole degrees of the probes that have any, in the next sweep.
func read(r *rapid.T, b *sensor.Board) map[string]int {
	sweep, err := b.Read(r.Context())
	if err != nil {
		r.Fatal(err)
	}
	out := map[string]int{}
	for _, reading := range sweep.Probes {
		if reading.Fault == nil {
			out[reading.Probe] = int(reading.Temp)
		}
	}
	return out
}
