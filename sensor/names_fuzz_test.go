package sensor

import "testing"

// The names of a configuration are understood, or each is refused in a sentence.
func FuzzNames(f *testing.F) {
	for _, name := range []string{"iio:bmp280/pressure", "iio:max31865@spi0.1/temp", "hwmon:ntc_thermistor/temp1", "spi:0.1:T", "28-000000000001", "space", "30", "", "GPIO17", "gpiochip0:4", "a:b:c/d@e"} {
		f.Add(name)
	}
	f.Fuzz(func(t *testing.T, name string) {
		_, line := ParseLine(name)
		_, key := ParseKey(name)
		for what, err := range map[string]error{
			"line": line, "key": key, "barometer": CheckBarometer(name), "probe": CheckProbe(name), "element": CheckElement(name, &Element{Ohm0: 100, ReferenceOhm: 430}),
		} {
			if err != nil && err.Error() == "" {
				t.Errorf("%s %q: refused without a word", what, name)
			}
		}
	})
}
