package emulated

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"withy/alert"
	"withy/steambox"
)

// kinds is a board with a chip on SPI that Withy reads itself, one that the kernel's own driver
// reads, a barometer, a lamp and a pedal on USB.
const kinds = `
probes:
  - {name: steam, id: "spi:0.0:T", calibrated: true}
  - {name: door, id: iio:maxim_thermocouple/temp, at_mm: 1500, calibrated: true}
place: {barometer: iio:bmp280/pressure}
board:
  lamp: {line: LAMP}
  buttons:
    - {name: foot, device: %s, key: b, does: stop}
page:
  listen: 10.0.2.15:8017
  hosts: ["127.0.0.1"]
  tls: off
data: /tmp/withy
`

// Words of a MAX31855: 88 °C by the chip's straight line, which is 100.022 °C of a type T, and
// 100 °C of a type K, with the chip at 25 °C; and its three faults.
const (
	typeT, typeK               = 0x05801900, 0x06401900
	openWire, ground, toSupply = 0x00011901, 0x00011902, 0x00011904
)

// TestKinds tries the probes that are on no 1-wire bus, on the kernel's drivers.
func TestKinds(t *testing.T) {
	onBoards(t, func(b *board) {
		b.write("/sys/bus/spi/devices/spi0.0/driver_override", "spidev")
		b.write("/sys/bus/spi/drivers/spidev/bind", "spi0.0")
		b.words(typeT, typeK)
		b.barometer()
		pedal := b.plug()
		b.write("/etc/withy.yaml", fmt.Sprintf(kinds, pedal))

		b.wants(b.do("check", "--config", "/etc/withy.yaml"), "denied: this user may not read it", "usermod -aG spi USER", "usermod -aG input USER", "ok     probe      door")
		b.grant(lines, "/dev/spidev0.0", pedal)
		since := time.Now()
		b.wants(b.do("check", "--config", "/etc/withy.yaml"), "ok  probe      steam", "ok  probe      door", "ok  switch     foot", "1007 hPa", "flashed three times")
		flash := alert.Pulse(alert.Fast)
		if got := b.pulses(lampLine, since); len(got) != 3 || max(got[0].On-flash.On, flash.On-got[0].On) > slack {
			b.t.Errorf("the lamp's line did %v", got)
		}
		faults(b)
		foot(b, pedal)
	})
}

// words sets what the chips on SPI answer.
func (b *board) words(first, second uint32) {
	b.t.Helper()
	b.write("/sys/module/pretend_spi/parameters/words", fmt.Sprintf("%d,%d,0", first, second))
}

// barometer makes the chip on I2C a BMP280 that has the trim and the raw values of its data
// sheet's worked example, 100653.27 Pa.
func (b *board) barometer() {
	b.t.Helper()
	put := func(at int, bytes ...int) {
		for i, x := range bytes {
			b.write("/sys/module/pretend_i2c/parameters/at", fmt.Sprint(at+i))
			b.write("/sys/module/pretend_i2c/parameters/put", fmt.Sprint(x&0xff))
		}
	}
	put(0xd0, 0x58)
	for i, word := range []int{27504, 26435, -1000, 36477, -10685, 3024, 2855, 140, -7, 15500, -14600, 6000} {
		put(0x88+2*i, word, word>>8)
	}
	put(0xf7, 0x65, 0x5a, 0xc0, 0x7e, 0xed, 0x00)
	b.write("/sys/bus/i2c/devices/i2c-1/new_device", "bmp280 0x76")
}

// plug plugs the pedal in and returns its path.
func (b *board) plug() (path string) {
	b.t.Helper()
	b.monitor("device_add usb-kbd,bus=usb.0,id=pedal")
	b.until("the kernel lists the pedal", 30*time.Second, func() bool {
		for block := range strings.SplitSeq(b.read("/proc/bus/input/devices"), "\n\n") {
			if strings.Contains(block, "USB Keyboard") {
				for word := range strings.FieldsSeq(block) {
					if strings.HasPrefix(word, "event") {
						path = "/dev/input/" + word
					}
				}
			}
		}
		return path != ""
	})
	return path
}

// monitor gives QEMU an order as somebody types it.
func (b *board) monitor(line string) {
	b.t.Helper()
	if said := string(b.qmp.order("human-monitor-command", map[string]string{"command-line": line})); said != `""` {
		b.t.Fatalf("%s: %s", line, said)
	}
}

// faults tries what is said of each probe while it has one.
func faults(b *board) {
	for _, f := range []struct {
		steam, door uint32
		says        []string
	}{
		{openWire, typeK, []string{"open_wire", "99.96 °C"}},
		{ground, openWire, []string{"to_ground", "open_wire"}},
		{toSupply, ground, []string{"to_supply", "open_wire"}}, // the driver doesn't tell which
		{0, 0, []string{"shorted"}},
		{0xffffffff, 0xffffffff, []string{"absent: only ones: no chip answers", "open_wire"}},
	} {
		b.words(f.steam, f.door)
		b.wants(b.do("probes", "--config", "/etc/withy.yaml"), f.says...)
	}
	b.words(typeT, typeK)
	b.wants(b.do("probes", "--config", "/etc/withy.yaml"), "100.02 °C", "99.96 °C", "iio:bmp280@1-0076/temp")
	b.write("/sys/module/pretend_i2c/parameters/absent", "1")
	b.wants(b.do("check", "--config", "/etc/withy.yaml"), "WRONG  barometer", "no such device or address")
	b.write("/sys/module/pretend_i2c/parameters/absent", "0")
}

// foot tries the pedal: a press, another program that wants it, the plug out and in.
func foot(b *board, pedal string) {
	b.startDaemon()
	b.until("both probes are read", 30*time.Second, func() bool {
		v, ok := b.look()
		return ok && !slices.ContainsFunc(v.Status.Probes, func(p steambox.ProbeAt) bool { return p.TempC == nil })
	})
	resting := func(want bool) func() bool {
		return func() bool { v, ok := b.look(); return ok && v.Status.Resting == want }
	}
	b.monitor("sendkey b 200")
	b.until("the pedal says stop", 10*time.Second, resting(true))
	b.wants(b.do("check", "--config", "/etc/withy.yaml"), "held by another program", "device or resource busy")
	b.monitor("device_del pedal")
	b.until("the pedal is gone", 30*time.Second, func() bool { return !strings.Contains(b.read("/proc/bus/input/devices"), "USB Keyboard") })
	if again := b.plug(); again != pedal {
		b.t.Fatalf("the pedal is %s now, was %s", again, pedal)
	}
	b.grant(pedal)
	time.Sleep(5 * time.Second) // it is looked for each three seconds
	b.monitor("sendkey c 200")  // no button
	b.monitor("sendkey b 200")
	b.until("the pedal that came back says go on", 10*time.Second, resting(false))
	since := time.Now()
	b.words(openWire, openWire)
	b.until("the lamp flashes slowly", time.Minute, func() bool {
		for _, p := range b.pulses(lampLine, since) {
			if slow := alert.Slow.On; max(p.On-slow, slow-p.On) < slack {
				return true
			}
		}
		return false
	})
	// By the barometer: 100653.25 Pa boil water at 99.79 °C (IAPWS-IF97, by its slope of
	// 0.2765 K/kPa from 99.9743 at 101.325 kPa).
	if v, _ := b.look(); v.Status.BoilingC < 99.77 || v.Status.BoilingC > 99.81 || len(v.Troubles) > 0 {
		b.t.Errorf("water boils at %v °C, troubles %q", v.Status.BoilingC, v.Troubles)
	}
}
