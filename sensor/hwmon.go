package sensor

import (
	"errors"
	"io/fs"
	"regexp"
	"strings"
)

// hwmonProbe reads one channel of a hwmon device.
type hwmonProbe struct {
	root string
	at   address
}

// hwmonInput is the file that a channel is read from.
var hwmonInput = regexp.MustCompile(`^temp[0-9]+_input$`)

func hwmonChannel(file string) (string, bool) {
	return strings.TrimSuffix(file, "_input"), hwmonInput.MatchString(file)
}

func (p *hwmonProbe) read() Sample {
	d, err := p.at.open(p.root, "hwmon")
	if err != nil {
		return Sample{Fault: faultOf(err)}
	}
	defer d.close()
	s := Sample{}
	s.Milli, err = p.measure(d)
	s.Proven, s.Fault = s.Milli != deadMilli, faultOf(err)
	return s
}

func (p *hwmonProbe) measure(d *device) (int, error) {
	channel, ok := d.labelled(p.at.channel)
	if !ok {
		return 0, d.noChannel(p.at.channel, hwmonChannel)
	}
	if fault, err := d.number(channel + "_fault"); err == nil && fault != 0 {
		return 0, faultf(OpenWire, "%s_fault", channel)
	}
	x, err := d.number(channel + "_input")
	if errors.Is(err, fs.ErrNotExist) {
		return 0, d.noChannel(p.at.channel, hwmonChannel)
	}
	if err != nil {
		return 0, err
	}
	return milli(x)
}

// labelled returns the channel of that name, or the one of that label.
func (d *device) labelled(name string) (channel string, ok bool) {
	if _, ok := hwmonChannel(name + "_input"); ok {
		return name, true
	}
	for _, c := range d.channels(hwmonChannel) {
		if label, err := d.text(c + "_label"); err == nil && label == name {
			return c, true
		}
	}
	return "", false
}
