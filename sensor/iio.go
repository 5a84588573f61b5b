package sensor

import (
	"errors"
	"fmt"
	"io/fs"
	"regexp"
	"strings"
	"syscall"

	"withy/sensor/resistance"
	"withy/sensor/thermocouple"
)

// Element is what hangs at a converter that gives ohms or volts instead of a
// temperature: a platinum thermometer or a thermistor.
type Element struct {
	// Ohm0 is a platinum thermometer's resistance at 0 °C, 100 or 1000; 0 for a
	// thermistor.
	Ohm0 float64 `json:"ohm_0,omitempty"`
	// Thermistor counts where Ohm0 is 0.
	Thermistor resistance.Thermistor `json:"thermistor"`
	// ReferenceOhm is the resistor that it is compared with: a MAX31865's, or the
	// one between a voltage input and the supply.
	ReferenceOhm float64 `json:"reference_ohm"`
	// SupplyMV is that supply's voltage; it counts at voltage inputs.
	SupplyMV float64 `json:"supply_mv,omitempty"`
}

// CheckElement returns an error when a probe of that name needs an element and e is nil,
// or has no use for e, or when e can't be reckoned with.
func CheckElement(probe string, e *Element) error {
	a, err := parseProbe(probe)
	voltage := strings.HasPrefix(a.channel, "voltage")
	switch {
	case err != nil:
		return err
	case e == nil && voltage:
		return fmt.Errorf("probe %q gives volts: say which element hangs at it", probe)
	case e == nil:
		return nil
	case a.from != iio:
		return fmt.Errorf("probe %q gives a temperature: no element belongs to it", probe)
	case !(e.ReferenceOhm > 0):
		return fmt.Errorf("probe %q: its element is compared with a resistor of some ohms, not %g", probe, e.ReferenceOhm)
	case voltage && !(e.SupplyMV > 0):
		return fmt.Errorf("probe %q: the supply of its element has some millivolts, not %g", probe, e.SupplyMV)
	}
	return nil
}

func (e Element) curve() resistance.Element {
	if e.Ohm0 > 0 {
		return resistance.Platinum(e.Ohm0)
	}
	return e.Thermistor
}

// rails is how near to 0 and to all of it a share of the supply means a short or a cut
// wire, and no element: a 10 k thermistor below a 10 k resistor gives 3 % at 125 °C, and
// 97 % at −40 °C.
const rails = 0.01

// thermometer turns the share of the supply that is across the element into its temperature
// in thousandths of a degree.
func (e Element) thermometer(share float64) (int, error) {
	switch {
	case share < rails:
		return 0, faultf(ToGround, "%.2f %% of the supply", 100*share)
	case share > 1+rails:
		return 0, faultf(ToSupply, "%.2f %% of the supply: more than there should be", 100*share)
	case share > 1-rails:
		return 0, faultf(OpenWire, "%.2f %% of the supply", 100*share)
	}
	return e.celsius(e.ReferenceOhm * share / (1 - share))
}

func (e Element) celsius(ohm float64) (int, error) {
	c, err := e.curve().Celsius(ohm)
	if err != nil {
		return 0, faultf(OutOfRange, "%v", err)
	}
	return milli(1000 * c)
}

// iioProbe reads one channel of an IIO device.
type iioProbe struct {
	root    string
	at      address
	element *Element // nil: the driver gives a temperature
}

// max31865Full is a MAX31865's reading where the element is as great as its reference.
// Source: its data sheet.
const max31865Full = 1 << 15

// read asks the kernel for the channel. The driver converts meanwhile, or not: that is
// its business, and may take a tenth of a second.
func (p *iioProbe) read() Sample {
	d, err := p.at.open(p.root, "iio:device")
	if err != nil {
		return Sample{Fault: faultOf(err)}
	}
	defer d.close()
	s := Sample{}
	if s.Milli, err = p.measure(d); err == nil {
		err = d.reported()
	}
	// A register or a line stuck at zero may read as 0 °C, and as nothing else.
	s.Proven, s.Fault = s.Milli != deadMilli, faultOf(d.explain(err, p.at.channel))
	return s
}

func (p *iioProbe) measure(d *device) (int, error) {
	voltage := strings.HasPrefix(p.at.channel, "voltage")
	switch {
	case p.element == nil && (voltage || d.name == "max31865"):
		return 0, faultf(Malformed, "%s gives volts or ohms: say which element hangs at it", d)
	case p.element == nil:
		x, err := d.value("in_" + p.at.channel)
		if err == nil && p.at.channel == "temp" && d.name == maximThermocouple {
			x, err = d.bent(x)
		}
		if err != nil {
			return 0, err
		}
		return milli(x)
	case voltage:
		mv, err := d.value("in_" + p.at.channel)
		if err != nil {
			return 0, err
		}
		return p.element.thermometer(mv / p.element.SupplyMV)
	case d.name != "max31865":
		return 0, faultf(Malformed, "%s gives a temperature: no element belongs to it", d)
	}
	// Its driver's own scale takes the element for a straight line from −256 °C.
	raw, err := d.number("in_" + p.at.channel + "_raw")
	switch {
	case err != nil:
		return 0, err
	case raw <= 0:
		return 0, faultf(ToGround, "no ohms at all, or the chip does not answer")
	case raw >= max31865Full-1:
		return 0, faultf(OpenWire, "%g ohm or more, or the chip does not answer", p.element.ReferenceOhm)
	}
	return p.element.celsius(raw / max31865Full * p.element.ReferenceOhm)
}

// maximThermocouple is what the driver of the MAX31855 and the MAX6675 calls every one of
// them. Source: maxim_thermocouple.c; seen on kernel 6.1.
const maximThermocouple = "maxim_thermocouple"

// bent puts right what a MAX31855 makes of its thermocouple, x thousandths of a degree,
// where the driver knows what type that is and it is K or T. The MAX6675 doesn't tell its
// own temperature, and is for type K alone, where there is little to put right.
func (d *device) bent(x float64) (float64, error) {
	letter, _ := d.text("in_temp_thermocouple_type") // older kernels don't say
	kind, err := thermocouple.Parse(letter)
	if err != nil {
		return x, nil
	}
	chip, err := d.value("in_temp_ambient")
	if errors.Is(err, fs.ErrNotExist) {
		return x, nil
	}
	if err != nil {
		return 0, err
	}
	c, err := bent(x/1000, chip/1000, kind)
	if err != nil {
		return 0, faultf(OutOfRange, "%v", err)
	}
	return 1000 * c, nil
}

// value returns a channel in the subsystem's own unit: thousandths of a degree,
// millivolts, kilopascals.
func (d *device) value(channel string) (float64, error) {
	x, err := d.number(channel + "_input")
	if !errors.Is(err, fs.ErrNotExist) {
		return x, err
	}
	raw, err := d.number(channel + "_raw")
	if err != nil {
		return 0, err
	}
	offset, err := d.optional(channel, "offset", 0)
	if err != nil {
		return 0, err
	}
	scale, err := d.optional(channel, "scale", 1)
	return (raw + offset) * scale, err
}

// channelNumber is what tells a channel from others of its kind.
var channelNumber = regexp.MustCompile(`[0-9]+`)

// optional returns a number that a channel may have for itself, share with its kind
// (in_voltage_scale for all in_voltageN, in_voltage-voltage_scale for all differences), or
// not have. Documented in the kernel's ABI/testing/sysfs-bus-iio.
func (d *device) optional(channel, what string, or float64) (float64, error) {
	for _, name := range []string{channel, channelNumber.ReplaceAllString(channel, "")} {
		x, err := d.number(name + "_" + what)
		if !errors.Is(err, fs.ErrNotExist) {
			return x, err
		}
	}
	return or, nil
}

// reported returns the fault that a driver tells of in a file beside the value.
// Documented in the kernel's ABI/testing/sysfs-bus-iio-thermocouple.
func (d *device) reported() error {
	if open, err := d.number("fault_oc"); err == nil && open != 0 {
		return faultf(OpenWire, "fault_oc")
	}
	if over, err := d.number("fault_ovuv"); err == nil && over != 0 {
		return faultf(ToSupply, "fault_ovuv: over- or under-voltage at the input")
	}
	return nil
}

// explain says what a failed read of a channel means.
func (d *device) explain(err error, channel string) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, fs.ErrNotExist):
		return d.noChannel(channel, iioChannel)
	case errors.Is(err, syscall.EINVAL) && d.name == maximThermocouple:
		// It says no more than that the chip's fault bit is set.
		return faultf(OpenWire, "the driver says a wire is open or shorted")
	case errors.Is(err, syscall.EIO):
		if told := d.reported(); told != nil {
			return told
		}
	}
	return err
}

// iioChannel returns the channel that a file of a temperature, a voltage or a pressure
// belongs to.
func iioChannel(file string) (string, bool) {
	for _, end := range []string{"_input", "_raw"} {
		if channel, ok := strings.CutSuffix(file, end); ok {
			return strings.CutPrefix(channel, "in_")
		}
	}
	return "", false
}

// Limits of the pressure where boxes stand, in pascal.
const minPa, maxPa = 50e3, 110e3

// ReadPressure reads a barometer by its name, see [CheckBarometer], and returns the
// pressure where it is, in pascal. root is [DefaultIIORoot] but in tests. The error is a
// *[Fault] but for a name that is none; 50 to 110 kPa are believed.
func ReadPressure(root, name string) (pa float64, err error) {
	at, err := parseBarometer(name)
	if err != nil {
		return 0, err
	}
	d, err := findDevice(root, "iio:device", at)
	if err != nil {
		return 0, faultOf(err)
	}
	defer d.close()
	kpa, err := d.value("in_" + at.channel)
	if err != nil {
		return 0, faultOf(d.explain(err, at.channel))
	}
	if pa = 1000 * kpa; !(pa >= minPa && pa <= maxPa) {
		return 0, faultf(OutOfRange, "%.0f Pa", pa)
	}
	return pa, nil
}
