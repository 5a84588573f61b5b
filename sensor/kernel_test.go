package sensor_test

import (
	"errors"
	"maps"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"withy/sensor"
	"withy/sensor/resistance"
	"withy/sensor/sensortest"
	"withy/steambox/unit"
)

// onKernel starts a board on the kernel's other lists.
func onKernel(t *testing.T, cfg sensor.Config) *sensor.Board {
	t.Helper()
	cfg.Period, cfg.MaxAge = tick, maxAge
	b, err := sensor.NewBoard(cfg, quiet())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.Close() })
	return b
}

// once returns what one probe says once it has been read.
func once(t *testing.T, cfg sensor.Config) sensor.Reading {
	t.Helper()
	b := onKernel(t, cfg)
	defer b.Close()
	for {
		sweep, err := b.Read(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if r := sweep.Probes[0]; r.Fault == nil || r.Fault.Kind != sensor.Pending {
			return r
		}
	}
}

// The files as the drivers of Linux 6.12 give them: names and scales out of their sources.
var (
	max31856 = sensortest.Files{"name": "max31856", "in_temp_raw": "12608", "in_temp_scale": "7.812500",
		"in_temp_ambient_raw": "1600", "in_temp_ambient_scale": "15.625000", "fault_oc": "0", "fault_ovuv": "0"}
	max31855 = sensortest.Files{"name": "maxim_thermocouple", "in_temp_raw": "394", "in_temp_scale": "250",
		"in_temp_ambient_raw": "400", "in_temp_ambient_scale": "62.500000"}
	max31865 = sensortest.Files{"name": "max31865", "in_temp_raw": "11346", "in_temp_scale": "31.250000", "fault_ovuv": "0"}
	ads1015  = sensortest.Files{"name": "ads1015", "in_voltage0_raw": "5048", "in_voltage0_scale": "0.125000"}
	bmp280   = sensortest.Files{"name": "bmp280", "in_temp_input": "25080", "in_pressure_input": "100.653253906"}
	ntc      = sensortest.Files{"name": "ntc_thermistor", "temp1_type": "4", "temp1_input": "98400"}
	mcp9600  = sensortest.Files{"name": "mcp9600", "label": "door end", "in_temp_raw": "1576", "in_temp_scale": "62.5"}
)

// pt100 hangs at a MAX31865 with 400 ohm, as in its data sheet.
var pt100 = sensor.Element{Ohm0: 100, ReferenceOhm: 400}

// bead is a thermistor below 10 k at 3.3 V, by its maker's table (AMF58B-103F3950).
func bead(t *testing.T) sensor.Element {
	t.Helper()
	th, err := resistance.FromTable([3]float64{25, 85, 125}, [3]float64{10000, 1059.4, 340.2})
	if err != nil {
		t.Fatal(err)
	}
	return sensor.Element{Thermistor: th, ReferenceOhm: 10000, SupplyMV: 3300}
}

func TestIIOReads(t *testing.T) {
	volts := func(mv string) sensortest.Files {
		return with(ads1015, "in_voltage0_raw", mv, "in_voltage0_scale", "1")
	}
	tests := []struct {
		name    string
		files   sensortest.Files
		probe   string
		element *sensor.Element
		want    float64 // °C, or the fault
		fault   string
	}{
		{"a thermocouple's converter: 98.5 °C is 062800h", max31856, "iio:max31856/temp", nil, 98.5, ""},
		{"its own temperature", max31856, "iio:max31856/temp_ambient", nil, 25, ""},
		{"by its place", max31856, "iio:max31856@spi0.1/temp", nil, 98.5, ""},
		{"by its label", with(mcp9600, "label", "door-end"), "iio:door-end/temp", nil, 98.5, ""},
		{"quarters of a degree", max31855, "iio:maxim_thermocouple/temp", nil, 98.5, ""},
		{"type T through a chip that takes its curve for a straight line: see TestSPIReads",
			with(max31855, "in_temp_raw", "352", "in_temp_thermocouple_type", "T"), "iio:maxim_thermocouple/temp", nil, 100.022, ""},
		{"type J, which isn't known here", with(max31855, "in_temp_thermocouple_type", "J"), "iio:maxim_thermocouple/temp", nil, 98.5, ""},
		{"a MAX6675, which doesn't tell its own temperature",
			sensortest.Files{"name": "maxim_thermocouple", "in_temp_raw": "394", "in_temp_scale": "250", "in_temp_thermocouple_type": "K"},
			"iio:maxim_thermocouple/temp", nil, 98.5, ""},
		{"an input that is finished", bmp280, "iio:bmp280/temp", nil, 25.08, ""},
		{"offset before scale, as the ABI has it",
			sensortest.Files{"name": "adc", "in_temp0_raw": "2500", "in_temp0_offset": "-605", "in_temp_scale": "40"},
			"iio:adc/temp0", nil, 75.8, ""},
		// Code 11346 is 138.501 ohm, 99.988 °C; by the driver's own scale it would be 354.56.
		{"platinum, 100 °C in its converter's data sheet", max31865, "iio:max31865/temp", &pt100, 99.988, ""},
		{"platinum without a word of it", max31865, "iio:max31865/temp", nil, 0, "malformed: max31865@spi0.1 gives volts or ohms"},
		{"platinum's wire cut: the ratio is full", with(max31865, "in_temp_raw", "32767"), "iio:max31865/temp", &pt100, 0, "open_wire"},
		{"platinum shorted", with(max31865, "in_temp_raw", "0"), "iio:max31865/temp", &pt100, 0, "to_ground"},
		{"platinum at 30 ohm", with(max31865, "in_temp_raw", "1200"), "iio:max31865/temp", &pt100, 0, "out_of_range"},
		{"platinum's fault by the driver", with(max31865, "fault_ovuv", "1"), "iio:max31865/temp", &pt100, 0, "to_supply"},
		// 673.0 ohm is 100.010 °C by the formula; below 10 k of 3300 mV that is 208.087 mV.
		{"thermistor", volts("208.0871"), "iio:ads1015/voltage0", new(bead(t)), 100.010, ""},
		{"thermistor between two inputs, where all differences share a scale",
			sensortest.Files{"name": "mcp3008", "in_voltage0-voltage1_raw": "1664.6968", "in_voltage-voltage_scale": "0.125", "in_voltage_scale": "3"},
			"iio:mcp3008/voltage0-voltage1", new(bead(t)), 100.010, ""},
		{"thermistor shorted", volts("2"), "iio:ads1015/voltage0", new(bead(t)), 0, "to_ground"},
		{"thermistor's wire cut", volts("3299"), "iio:ads1015/voltage0", new(bead(t)), 0, "open_wire"},
		{"more than its supply", volts("4000"), "iio:ads1015/voltage0", new(bead(t)), 0, "to_supply"},
		{"an ADC's register stuck at ones, -1", volts("-1"), "iio:ads1015/voltage0", new(bead(t)), 0, "to_ground"},
		{"element at a thermometer", max31856, "iio:max31856/temp", &pt100, 0, "malformed"},
		{"open, by the driver's file", with(max31856, "fault_oc", "1"), "iio:max31856/temp", nil, 0, "open_wire"},
		{"over-voltage, by the driver's file", with(max31856, "fault_ovuv", "1"), "iio:max31856/temp", nil, 0, "to_supply"},
		{"hotter than a box", with(max31856, "in_temp_raw", "25600"), "iio:max31856/temp", nil, 0, "out_of_range"},
		{"empty", with(max31856, "in_temp_raw", ""), "iio:max31856/temp", nil, 0, "empty"},
		{"no number", with(max31856, "in_temp_raw", "warm"), "iio:max31856/temp", nil, 0, `malformed: in_temp_raw is "warm"`},
		{"infinite", with(max31856, "in_temp_raw", "inf"), "iio:max31856/temp", nil, 0, "malformed"},
		{"greater than any temperature", with(max31856, "in_temp_raw", "1e300"), "iio:max31856/temp", nil, 0, "malformed"},
		{"another channel", max31856, "iio:max31856/temp7", nil, 0, "absent: max31856@spi0.1 has no temp7; there are temp, temp_ambient"},
		{"another chip", max31855, "iio:max31856/temp", nil, 0, "absent: no max31856; there are maxim_thermocouple@spi0.1"},
		{"another chip in its place", max31855, "iio:max31856@spi0.1/temp", nil, 0, "other_chip: at spi0.1 sits maxim_thermocouple, not max31856"},
		{"at another place", max31856, "iio:max31856@spi0.0/temp", nil, 0, "absent: no max31856@spi0.0; there are max31856@spi0.1"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			list := sensortest.NewIIO(t)
			list.Plug(3, "spi0.1", test.files)
			cfg := sensor.Config{IIORoot: list.Root, Probes: []string{test.probe}}
			if test.element != nil {
				cfg.Elements = map[string]sensor.Element{test.probe: *test.element}
			}
			expect(t, once(t, cfg), test.want, test.fault)
		})
	}
}

func TestHwmonReads(t *testing.T) {
	many := sensortest.Files{"name": "board", "temp1_input": "40000", "temp2_input": "98500", "temp2_label": "Steam end", "temp3_fault": "1",
		"temp3_input": "0"}
	for _, test := range []struct {
		name  string
		files sensortest.Files
		probe string
		want  float64
		fault string
	}{
		{"a thermistor", ntc, "hwmon:ntc_thermistor/temp1", 98.4, ""},
		{"by its place", ntc, "hwmon:ntc_thermistor@1-0048/temp1", 98.4, ""},
		{"by its label", many, "hwmon:board/Steam end", 98.5, ""},
		{"fault", many, "hwmon:board/temp3", 0, "open_wire: temp3_fault"},
		{"another label", many, "hwmon:board/Door end", 0, "absent: board@1-0048 has no Door end; there are temp1, temp2, temp3"},
		{"empty", with(ntc, "temp1_input", ""), "hwmon:ntc_thermistor/temp1", 0, "empty"},
		{"no channel at all", sensortest.Files{"name": "fan"}, "hwmon:fan/temp1", 0, "absent: fan@1-0048 has no channel at all"},
	} {
		t.Run(test.name, func(t *testing.T) {
			list := sensortest.NewHwmon(t)
			list.Plug(2, "1-0048", test.files)
			expect(t, once(t, sensor.Config{HwmonRoot: list.Root, Probes: []string{test.probe}}), test.want, test.fault)
		})
	}
}

// expect compares a reading with a temperature, within half a thousandth of what a driver
// rounds to, or with the beginning of a fault.
func expect(t *testing.T, r sensor.Reading, want float64, fault string) {
	t.Helper()
	if fault == "" {
		if r.Fault != nil || math.Abs(float64(r.Temp)-want) > 0.001 {
			t.Errorf("reads %s %v, want %g °C", say(r), r.Fault, want)
		}
	} else if r.Fault == nil || !strings.HasPrefix(r.Fault.Error(), fault) {
		t.Errorf("reads %s, %v, want %q", say(r), r.Fault, fault)
	}
}

// with returns files with some of them changed.
func with(files sensortest.Files, changed ...string) sensortest.Files {
	files = maps.Clone(files)
	for i := 0; i < len(changed); i += 2 {
		files[changed[i]] = changed[i+1]
	}
	return files
}

// Zero is what a line or register that is held low reads as; a box in a frosty shed passes it.
func TestIIOZero(t *testing.T) {
	list := sensortest.NewIIO(t)
	list.Plug(0, "spi0.1", with(max31856, "in_temp_raw", "0"))
	b := onKernel(t, sensor.Config{IIORoot: list.Root, Probes: []string{"iio:max31856/temp"}})
	await(t, b, "shorted")
	list.Write(0, "in_temp_raw", "64")
	await(t, b, "0.5 °C")
	list.Write(0, "in_temp_raw", "0")
	await(t, b, "0.0 °C")
}

func TestKernelListsMissing(t *testing.T) {
	for _, probe := range []string{"iio:max31856/temp", "hwmon:ntc_thermistor/temp1"} {
		r := once(t, sensor.Config{IIORoot: "/no/such", HwmonRoot: "/no/such", Probes: []string{probe}})
		expect(t, r, 0, "absent: no /no/such")
		list := sensortest.NewIIO(t)
		r = once(t, sensor.Config{IIORoot: list.Root, HwmonRoot: list.Root, Probes: []string{probe}})
		expect(t, r, 0, "absent")
	}
}

func TestIIODenied(t *testing.T) {
	if os.Geteuid() == 0 {
		t.Skip("root may read everything")
	}
	list := sensortest.NewIIO(t)
	list.Plug(0, "spi0.1", max31856)
	if err := os.Chmod(list.Root+"/iio:device0/in_temp_raw", 0); err != nil {
		t.Fatal(err)
	}
	expect(t, once(t, sensor.Config{IIORoot: list.Root, Probes: []string{"iio:max31856/temp"}}), 0, "denied")
}

// Two chips of a kind must be told apart; once one of them was found, the other isn't taken
// for it.
func TestIIOTwoOfAKind(t *testing.T) {
	list := sensortest.NewIIO(t)
	list.Plug(0, "spi0.0", with(max31856, "in_temp_raw", "1280"))
	b := onKernel(t, sensor.Config{IIORoot: list.Root, Probes: []string{"iio:max31856/temp"}})
	await(t, b, "10.0 °C")
	list.Plug(1, "spi0.1", max31856)
	time.Sleep(3 * tick)
	await(t, b, "10.0 °C")
	list.Pull(0)
	await(t, b, "absent")

	list.Plug(0, "spi0.0", max31856)
	r := once(t, sensor.Config{IIORoot: list.Root, Probes: []string{"iio:max31856/temp"}})
	expect(t, r, 0, "other_chip: max31856 may be max31856@spi0.0, max31856@spi0.1: write which")
}

// A read that hangs costs only its own probe.
func TestIIOHang(t *testing.T) {
	list := sensortest.NewIIO(t)
	list.Plug(0, "spi0.0", max31856)
	list.Plug(1, "1-0060", with(mcp9600, "label", "door"))
	b := onKernel(t, sensor.Config{IIORoot: list.Root, Probes: []string{"iio:max31856/temp", "iio:door/temp"}})
	await(t, b, "98.5 °C", "98.5 °C")
	list.Hang(0, "in_temp_raw")
	await(t, b, "timeout", "98.5 °C")
}

func TestKernelBoardIsASource(t *testing.T) {
	iio, hwmon := sensortest.NewIIO(t), sensortest.NewHwmon(t)
	iio.Plug(0, "spi0.1", max31856)
	hwmon.Plug(4, "1-0048", ntc)
	names := []string{"iio:max31856/temp", "hwmon:ntc_thermistor/temp1", "iio:bmp280/temp"} // the last is not plugged in
	sensortest.TestSource(t, func() sensortest.Source {
		return onKernel(t, sensor.Config{IIORoot: iio.Root, HwmonRoot: hwmon.Root, Probes: names})
	}, names...)
}

func TestDiscoverOthers(t *testing.T) {
	iio, hwmon := sensortest.NewIIO(t), sensortest.NewHwmon(t)
	iio.Plug(0, "1-0076", bmp280)
	iio.Plug(1, "spi0.1", max31856)
	iio.Plug(2, "1-0048", ads1015)
	iio.Plug(3, "1-0060", mcp9600) // its label has a space, which no name has
	iio.Plug(4, "1-0029", sensortest.Files{"name": "light", "in_illuminance_raw": "5"})
	hwmon.Plug(1, "28-000000000001", sensortest.Files{"name": "w1_slave_temp", "temp1_input": "40000"})
	hwmon.Plug(0, "thermal_zone0", sensortest.Files{"name": "cpu_thermal", "temp1_input": "40000"})
	want := []string{"hwmon:cpu_thermal@thermal_zone0/temp1", "iio:ads1015@1-0048/voltage0", "iio:bmp280@1-0076/pressure",
		"iio:bmp280@1-0076/temp", "iio:max31856@spi0.1/temp", "iio:max31856@spi0.1/temp_ambient"}
	if got := sensor.DiscoverOthers(iio.Root, hwmon.Root); !slices.Equal(got, want) {
		t.Errorf("there are %q, want %q", got, want)
	}
	if got := sensor.DiscoverOthers("/no/such", "/no/such"); len(got) > 0 {
		t.Errorf("nowhere there are %q", got)
	}
}

func TestReadPressure(t *testing.T) {
	for _, test := range []struct {
		name  string
		files sensortest.Files
		ask   string
		pa    float64
		fault string
	}{
		// The data sheet's worked example is 100653.27 Pa; the driver reckons in 64 bits.
		{"the data sheet's example", bmp280, "iio:bmp280/pressure", 100653.253906, ""},
		{"stuck at zero", with(bmp280, "in_pressure_input", "0"), "iio:bmp280/pressure", 0, "out_of_range: 0 Pa"},
		{"in another unit", with(bmp280, "in_pressure_input", "1006.5"), "iio:bmp280/pressure", 0, "out_of_range"},
		{"none there", max31856, "iio:bmp280/pressure", 0, "absent"},
		{"a thermometer", max31856, "iio:max31856/temp", 0, `barometer "iio:max31856/temp"`},
		{"no such channel", sensortest.Files{"name": "bmp280"}, "iio:bmp280/pressure", 0, "absent"},
	} {
		t.Run(test.name, func(t *testing.T) {
			list := sensortest.NewIIO(t)
			list.Plug(0, "1-0076", test.files)
			pa, err := sensor.ReadPressure(list.Root, test.ask)
			if test.fault == "" && (err != nil || math.Abs(pa-test.pa) > 0.001) {
				t.Errorf("reads %v Pa, %v, want %v", pa, err, test.pa)
			}
			if test.fault != "" && (err == nil || !strings.HasPrefix(err.Error(), test.fault)) {
				t.Errorf("reads %v Pa, %v, want %q", pa, err, test.fault)
			}
		})
	}
}

func TestCheckElement(t *testing.T) {
	for _, test := range []struct {
		probe string
		e     *sensor.Element
		want  string
	}{
		{"iio:ads1015/voltage0", nil, "gives volts"},
		{"iio:ads1015/voltage0", &sensor.Element{Ohm0: 100, ReferenceOhm: 400}, "millivolts"},
		{"iio:ads1015/voltage0", &sensor.Element{Ohm0: 100, SupplyMV: 3300}, "resistor"},
		{"iio:ads1015/voltage0", &sensor.Element{Ohm0: 100, SupplyMV: 3300, ReferenceOhm: 400}, ""},
		{"iio:max31865/temp", &pt100, ""},
		{"iio:max31856/temp", nil, ""},
		{"hwmon:a/temp1", &pt100, "no element belongs"},
		{"spi:0.0:K", &pt100, "no element belongs"},
		{"28-0000000a0b0c", &pt100, "no element belongs"},
		{"nonsense", nil, "want a name"},
	} {
		err := sensor.CheckElement(test.probe, test.e)
		if test.want == "" && err != nil || test.want != "" && (err == nil || !strings.Contains(err.Error(), test.want)) {
			t.Errorf("%s with %+v: %v, want %q", test.probe, test.e, err, test.want)
		}
	}
}

func TestSameProbe(t *testing.T) {
	for _, test := range []struct {
		a, b string
		same bool
	}{
		{steam, steam, true}, {steam, door, false}, {steam, "spi:0.0:K", false},
		{"spi:0.0:K", "spi:0.0:T", true}, {"spi:0.0:K", "spi:0.1:K", false},
		{"iio:a/temp", "iio:a@spi0.0/temp", true}, {"iio:a@spi0.1/temp", "iio:a@spi0.0/temp", false},
		{"iio:a/temp", "iio:a/temp2", false}, {"iio:a/temp", "iio:b/temp", false}, {"iio:a/temp1", "hwmon:a/temp1", false},
		{"x", "y", false}, {"x", "x", true},
	} {
		if got := sensor.SameProbe(test.a, test.b); got != test.same || sensor.SameProbe(test.b, test.a) != test.same {
			t.Errorf("%s and %s the same: %v", test.a, test.b, got)
		}
	}
}

func FuzzCheckProbe(f *testing.F) {
	for _, seed := range []string{steam, "spi:0.1:K", "spi:0.1:J", "iio:max31856@spi0.1/temp", "iio:a/voltage0-voltage1",
		"hwmon:board/Steam end", "hwmon:../a", "iio:a/b/c", "iio:@/temp", ""} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, name string) {
		if sensor.CheckProbe(name) != nil {
			return
		}
		if !sensor.SameProbe(name, name) {
			t.Errorf("%q is not itself", name)
		}
		if strings.Contains(name, "..") && strings.HasPrefix(name, "28") {
			t.Errorf("%q leads out of its folder", name)
		}
	})
}

func FuzzParseNumber(f *testing.F) {
	for _, seed := range []string{"98500", "-62", "7.812500", "100.653253906", "", "nan", "inf", "1e999", "0x10", "1_0", "YES"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		x, err := sensor.ParseNumber("in_temp_raw", text)
		if f, ok := errors.AsType[*sensor.Fault](err); err != nil && (!ok || !slices.Contains(sensor.FaultKinds(), f.Kind)) {
			t.Errorf("%q: %v is no fault", text, err)
		}
		if err == nil && !unit.Finite(x) {
			t.Errorf("%q is %v", text, x)
		}
	})
}
