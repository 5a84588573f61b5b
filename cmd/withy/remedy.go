package main

import (
	"errors"
	"io/fs"
	"strings"
	"syscall"

	"withy/sensor"
)

// Lines for the boot configuration of a Raspberry Pi, by which its kernel finds what a
// probe's or a barometer's name begins with. Source: the overlays' own README. Elsewhere the
// device tree has words of its own.
var overlays = []struct{ prefix, line string }{
	{"spi:", "dtparam=spi=on"},
	{"iio:maxim_thermocouple", "dtoverlay=maxtherm,spi0-0,max31855,type_k"},
	{"iio:max31856", "dtoverlay=maxtherm,spi0-0,max31856,type_k"},
	{"iio:ads1015", "dtoverlay=ads1015,cha_enable,cha_cfg=4,cha_gain=1"},
	{"iio:ads1115", "dtoverlay=ads1115,cha_enable,cha_cfg=4,cha_gain=1"},
	{"iio:bmp280", "dtoverlay=i2c-sensor,bmp280"},
	{"iio:bme280", "dtoverlay=i2c-sensor,bme280"},
}

// bootLine asks for the line that is missing where the kernel does not list a device.
func bootLine(id string) string {
	for _, o := range overlays {
		if strings.HasPrefix(id, o.prefix) {
			return "is the overlay there (" + o.line + " in /boot/firmware/config.txt)?"
		}
	}
	return "does the device tree name it, and is its driver loaded?"
}

// absent says what to do about what the kernel doesn't list.
func absent(r sensor.Reading) string {
	if strings.Contains(r.Probe, ":") {
		return r.Fault.Detail + ". Is it wired and powered, and " + bootLine(r.Probe)
	}
	return "the kernel does not list it: is it plugged in, and is the overlay there (dtoverlay=w1-gpio in the boot configuration)?"
}

// remedy says what to do about a probe's fault.
func remedy(r sensor.Reading) string {
	says := ""
	switch f := r.Fault; f.Kind {
	case sensor.Absent:
		says = absent(r)
	case sensor.Empty:
		says = "it does not answer: check its plug and cable"
	case sensor.Shorted:
		says = "nothing on its cable answers: is the data wire shorted or cut?"
	case sensor.PowerOn:
		says = "it has just got power, or loses it: check the supply wire"
	case sensor.LowPower:
		says = "its supply sags: use three wires"
	case sensor.OpenWire:
		says = "a wire of it is cut, or its plug is out: check both"
	case sensor.ToGround:
		says = "it touches ground or a bare pipe: is its cable crushed, or its tip not insulated?"
	case sensor.ToSupply:
		says = "it touches the supply: is its cable crushed?"
	case sensor.OtherChip:
		says = f.Detail + ": put the right one there, or correct the id"
	case sensor.Denied:
		says = "this user may not read it: " + permission(r.Probe)
	case sensor.Busy:
		says = "another program or driver holds it: end that one, or take its overlay out"
	case sensor.Stuck:
		says = "its value doesn't move: unplug it and plug it in again"
	default:
		return f.Error()
	}
	return r.Fault.Kind.String() + ": " + says
}

// permission says how a user comes to read a probe. Groups are those of Raspberry Pi OS.
func permission(id string) string {
	if strings.HasPrefix(id, "spi:") {
		return group("spi")
	}
	return "its files under /sys want a udev rule that lets it, MODE=\"0644\""
}

func group(name string) string {
	return "add it to the group (usermod -aG " + name + " USER, or SupplementaryGroups=" + name + " in the unit)"
}

// lineRemedy says what to do about a line or a keyboard that can't be had.
func lineRemedy(err error) string {
	switch {
	case errors.Is(err, fs.ErrPermission) && strings.Contains(err.Error(), "/dev/input"):
		return err.Error() + ": " + group("input")
	case errors.Is(err, fs.ErrPermission):
		return err.Error() + ": " + group("gpio")
	case errors.Is(err, syscall.EBUSY):
		return err.Error() + ": another program holds it; end that one"
	}
	return err.Error()
}
