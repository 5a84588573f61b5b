package sensor

import (
	"fmt"
	"regexp"
	"strconv"

	"withy/sensor/thermocouple"
)

// address is where a probe is, as its name says.
type address struct {
	from source

	bus, chipSelect int // spi
	couple          thermocouple.Type

	device  string // iio and hwmon: what the device is called
	place   string // what it sits at; empty: wherever
	channel string
}

// source is the kernel's face that a probe is read by.
type source int

const (
	w1 source = iota
	spiBus
	iio
	hwmon
)

var (
	// w1Name is a thermometer's family code and its serial number: DS18S20,
	// DS1822, DS18B20, DS1825 and MAX31850, DS28EA00.
	w1Name    = regexp.MustCompile(`^(10|22|28|3b|42)-[0-9a-f]{12}$`)
	spiName   = regexp.MustCompile(`^spi:([0-9]{1,3})\.([0-9]{1,3}):([A-Z])$`)
	iioName   = regexp.MustCompile(`^iio:([^/@:\s]+)(?:@([^/@\s]+))?/(temp[0-9a-z_]*|voltage[0-9]+(?:-voltage[0-9]+)?)$`)
	hwmonName = regexp.MustCompile(`^hwmon:([^/@:\s]+)(?:@([^/@\s]+))?/([^/]+)$`)
	meterName = regexp.MustCompile(`^iio:([^/@:\s]+)(?:@([^/@\s]+))?/(pressure[0-9]*)$`)
)

// CheckProbe returns an error when name can't be the name of a thermometer:
//
//	28-0000000a0b0c            on a 1-wire bus: family code and serial number
//	spi:0.1:K                  a MAX31855 on SPI bus 0, chip select 1, thermocouple type K or T
//	iio:max31856/temp          what a driver of the kernel gives as an IIO device's channel
//	iio:max31856@spi0.1/temp   the same, of the device that sits there
//	iio:ads1015@1-0048/voltage0
//	hwmon:ntc_thermistor/temp1 what a driver gives as a hwmon channel or its label
//
// A device is called by its label in the device tree or by its chip, as its files
// "label" and "name" say; its number is of no use, since it may change at each
// boot.
func CheckProbe(name string) error {
	_, err := parseProbe(name)
	return err
}

// SameProbe reports whether two names mean one probe or barometer, or may: where one says at which place
// its device sits and the other does not.
func SameProbe(a, b string) bool {
	x, errX := parseAny(a)
	y, errY := parseAny(b)
	if a == b || errX != nil || errY != nil || x.from != y.from {
		return a == b
	}
	switch x.from {
	case w1:
		return false
	case spiBus:
		return x.bus == y.bus && x.chipSelect == y.chipSelect
	}
	return x.device == y.device && x.channel == y.channel && (x.place == "" || y.place == "")
}

func parseAny(name string) (address, error) {
	if a, err := parseBarometer(name); err == nil {
		return a, nil
	}
	return parseProbe(name)
}

func parseProbe(name string) (address, error) {
	if w1Name.MatchString(name) {
		return address{from: w1}, nil
	}
	if m := spiName.FindStringSubmatch(name); m != nil {
		a := address{from: spiBus}
		a.bus, _ = strconv.Atoi(m[1]) // digits, by the pattern
		a.chipSelect, _ = strconv.Atoi(m[2])
		var err error
		if a.couple, err = thermocouple.Parse(m[3]); err != nil {
			return a, fmt.Errorf("probe %q: %w", name, err)
		}
		return a, nil
	}
	if m := iioName.FindStringSubmatch(name); m != nil {
		return address{from: iio, device: m[1], place: m[2], channel: m[3]}, nil
	}
	if m := hwmonName.FindStringSubmatch(name); m != nil {
		return address{from: hwmon, device: m[1], place: m[2], channel: m[3]}, nil
	}
	return address{}, fmt.Errorf("probe %q: want a name such as 28-0000000a0b0c, spi:0.1:K, iio:max31856/temp or hwmon:ntc_thermistor/temp1", name)
}

// CheckBarometer returns an error when name can't be the name of a barometer, such as
// iio:bmp280/pressure or iio:bmp280@1-0076/pressure.
func CheckBarometer(name string) error {
	_, err := parseBarometer(name)
	return err
}

func parseBarometer(name string) (address, error) {
	m := meterName.FindStringSubmatch(name)
	if m == nil {
		return address{}, fmt.Errorf("barometer %q: want a name such as iio:bmp280/pressure", name)
	}
	return address{from: iio, device: m[1], place: m[2], channel: m[3]}, nil
}
