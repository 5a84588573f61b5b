package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"withy/steambox/boiler"
	"withy/steambox/measure"
	"withy/steambox/pace"
	"withy/steambox/soak"
)

// config is the configuration file, in the units that people write. Its keys are
// the tags; deploy/withy.yaml comments each.
type config struct {
	Units  string        `yaml:"units"`
	Box    boxConfig     `yaml:"box"`
	Place  placeConfig   `yaml:"place"`
	Probes []probeConfig `yaml:"probes"`
	Boiler boilerConfig  `yaml:"boiler"`
	Kettle kettleConfig  `yaml:"kettle"`
	Wood   woodConfig    `yaml:"wood"`
	Window windowConfig  `yaml:"window"`
	Run    runConfig     `yaml:"run"`
	Boat   boatConfig    `yaml:"boat"`
	Board  boardConfig   `yaml:"board"`
	Page   pageConfig    `yaml:"page"`
	Log    logConfig     `yaml:"log"`

	Outputs []reachConfig `yaml:"outputs"`
	Shop    shopConfig    `yaml:"shop"`
	Data    string        `yaml:"data"`
}

type boxConfig struct {
	Name     string   `yaml:"name"`
	LengthMM float64  `yaml:"length_mm"`
	InsideMM float64  `yaml:"inside_mm"`
	BoardMM  float64  `yaml:"board_mm"`
	Slots    []string `yaml:"slots"`
	ColdEndK float64  `yaml:"cold_end_k"`
	Level    duration `yaml:"level"`
	AtLeast  duration `yaml:"at_least"`
	BelowK   float64  `yaml:"below_k"`
	InletMM  float64  `yaml:"inlet_mm"`

	Survey      []knotConfig `yaml:"survey"`
	SlotOffsetK []float64    `yaml:"slot_offset_k"`
}

type knotConfig struct {
	AtMM  float64 `yaml:"at_mm"`
	Share float64 `yaml:"share"`
}

type placeConfig struct {
	AltitudeM  float64 `yaml:"altitude_m"`
	PressurePa float64 `yaml:"pressure_pa"`
	Barometer  string  `yaml:"barometer"`
	ShopC      float64 `yaml:"shop_c"`
}

type probeConfig struct {
	Name       string   `yaml:"name"`
	ID         string   `yaml:"id"`
	AtMM       float64  `yaml:"at_mm"`
	OffsetK    float64  `yaml:"offset_k"`
	IceK       *float64 `yaml:"ice_k"`
	Lag        duration `yaml:"lag"`
	Calibrated bool     `yaml:"calibrated"`

	Element *elementConfig `yaml:"element"`
}

type elementConfig struct {
	Kind         string      `yaml:"kind"`
	Table        []rowConfig `yaml:"table"`
	Ohm25        float64     `yaml:"ohm_25"`
	BetaK        float64     `yaml:"beta_k"`
	ReferenceOhm float64     `yaml:"reference_ohm"`
	SupplyMV     float64     `yaml:"supply_mv"`
}

type rowConfig struct {
	C   float64 `yaml:"c"`
	Ohm float64 `yaml:"ohm"`
}

type boilerConfig struct {
	Kind    string  `yaml:"kind"`
	Gas     bool    `yaml:"gas"`
	Ring    string  `yaml:"ring"`
	PowerW  float64 `yaml:"power_w"`
	FullL   float64 `yaml:"full_l"`
	SwitchL float64 `yaml:"switch_l"`
	BareL   float64 `yaml:"bare_l"`
}

type kettleConfig struct {
	Litres float64  `yaml:"litres"`
	PowerW float64  `yaml:"power_w"`
	TapC   float64  `yaml:"tap_c"`
	Carry  duration `yaml:"carry"`
}

type woodConfig struct {
	Species     string  `yaml:"species"`
	MoisturePct float64 `yaml:"moisture_pct"`
	StartC      float64 `yaml:"start_c"`
	FilmWPerM2K float64 `yaml:"film_w_m2k"`
	FilmFactor  float64 `yaml:"film_factor"`
}

type windowConfig struct {
	Learn     bool    `yaml:"learn"`
	Dryness   string  `yaml:"dryness"`
	Bends     string  `yaml:"bends"`
	SoftMin   float64 `yaml:"soft_min"`
	TargetMin float64 `yaml:"target_min"`
	OverMin   float64 `yaml:"over_min"`
}

type runConfig struct {
	Way  string   `yaml:"way"`
	Crew duration `yaml:"crew"`
}

type boatConfig struct {
	Name        string  `yaml:"name"`
	Ribs        string  `yaml:"ribs"`
	LengthMM    float64 `yaml:"length_mm"`
	ThicknessMM float64 `yaml:"thickness_mm"`
	WidthMM     float64 `yaml:"width_mm"`
	Spares      int     `yaml:"spares"`
	Margin      float64 `yaml:"margin"`
	ByTurns     bool    `yaml:"always_alternate"`
}

type boardConfig struct {
	W1Root  string         `yaml:"w1_root"`
	IIORoot string         `yaml:"iio_root"`
	Hwmon   string         `yaml:"hwmon_root"`
	Level   lineConfig     `yaml:"level"`
	Floats  []floatConfig  `yaml:"floats"`
	Door    lineConfig     `yaml:"door"`
	Buzzer  outputConfig   `yaml:"buzzer"`
	Lamp    outputConfig   `yaml:"lamp"`
	Buttons []buttonConfig `yaml:"buttons"`
}

type lineConfig struct {
	Line   string `yaml:"line"`
	ToHigh bool   `yaml:"to_high"`
}

type floatConfig struct {
	Line   string  `yaml:"line"`
	ToHigh bool    `yaml:"to_high"`
	Litres float64 `yaml:"litres"`
}

type outputConfig struct {
	Line      string `yaml:"line"`
	ActiveLow bool   `yaml:"active_low"`
}

type buttonConfig struct {
	Name   string `yaml:"name"`
	Line   string `yaml:"line"`
	ToHigh bool   `yaml:"to_high"`
	Device string `yaml:"device"`
	Key    string `yaml:"key"`
	Does   string `yaml:"does"`
}

type pageConfig struct {
	Listen string   `yaml:"listen"`
	Hosts  []string `yaml:"hosts"`
	TLS    string   `yaml:"tls"`

	Certificate     string `yaml:"certificate"`
	Key             string `yaml:"key"`
	SecurityContact string `yaml:"security_contact"`
}

// logConfig is how much of the log is kept.
type logConfig struct {
	Days int `yaml:"keep_days"`
	MB   int `yaml:"keep_mb"`
}

// reachConfig is one way to reach somebody away from the box.
type reachConfig struct {
	Name       string            `yaml:"name"`
	Kind       string            `yaml:"kind"`
	URL        string            `yaml:"url"`
	Topic      string            `yaml:"topic"`
	CAFile     string            `yaml:"ca_file"`
	SecretFile string            `yaml:"secret_file"`
	Credential string            `yaml:"credential"`
	User       string            `yaml:"user"`
	Least      string            `yaml:"least"`
	Headers    map[string]string `yaml:"headers"`
	Priorities map[string]string `yaml:"priorities"`
	Method     string            `yaml:"method"`
	Each       duration          `yaml:"each"`
	SecretIn   string            `yaml:"secret_in"`
}

type shopConfig struct {
	Number   int               `yaml:"number"`
	Boxes    []shopBoxConfig   `yaml:"boxes"`
	Kettle   *shopKettleConfig `yaml:"kettle"`
	Circuits []circuitConfig   `yaml:"circuits"`
}

type shopBoxConfig struct {
	Number  int     `yaml:"number"`
	At      string  `yaml:"at"`
	Watts   float64 `yaml:"watts"`
	Circuit string  `yaml:"circuit"`
	Bench   string  `yaml:"bench"`

	SecretFile string `yaml:"secret_file"`
	Credential string `yaml:"credential"`
	SHA256     string `yaml:"sha256"`
}

type shopKettleConfig struct {
	Watts   float64 `yaml:"watts"`
	Circuit string  `yaml:"circuit"`
}

type circuitConfig struct {
	Name  string  `yaml:"name"`
	Volts float64 `yaml:"volts"`
	Amps  float64 `yaml:"amps"`
}

// duration is a length of time that must be written with its unit.
type duration time.Duration

// UnmarshalYAML reads a duration such as 90s or 1m30s, and names the line where it can't.
func (d *duration) UnmarshalYAML(n *yaml.Node) error {
	parsed, err := time.ParseDuration(n.Value)
	if err != nil {
		return &yaml.TypeError{Errors: []string{fmt.Sprintf("line %d: %q is not a length of time with its unit, such as 90s or 5m", n.Line, n.Value)}}
	}
	*d = duration(parsed)
	return nil
}

func (d duration) seconds() float64 { return time.Duration(d).Seconds() }

// defaults returns the configuration of a file that says nothing.
func defaults() config {
	b := defaultBox
	return config{
		Units: string(measure.Metric),
		Box: boxConfig{Name: "steam box", LengthMM: 1000 * b.LengthM, Slots: b.Slots, ColdEndK: b.ColdEndK,
			Level: inUnits(b.Warm.LevelS), AtLeast: inUnits(b.Warm.AtLeastS), BelowK: b.Warm.BelowK},
		Place: placeConfig{ShopC: b.ShopC},
		Boiler: boilerConfig{Kind: string(boiler.OpenPot), PowerW: b.Boiler.PowerW, FullL: b.Boiler.FullL,
			SwitchL: b.Boiler.SwitchL, BareL: b.Boiler.BareL},
		Kettle: kettleConfig{Litres: b.Kettle.Litres, PowerW: b.Kettle.PowerW, TapC: b.Kettle.TapC, Carry: inUnits(b.Kettle.CarryS)},
		Wood: woodConfig{Species: "white-oak", MoisturePct: 65, StartC: b.WoodC, FilmWPerM2K: soak.DefaultFilm,
			FilmFactor: soak.DefaultFilmFactor},
		Window: windowConfig{Learn: b.Learn, Dryness: string(b.Dryness), SoftMin: float64(b.Window.Soft), TargetMin: float64(b.Window.Target), OverMin: float64(b.Window.Over)},
		Run:    runConfig{Way: string(pace.Run), Crew: inUnits(b.CrewS)},
		Boat: boatConfig{Name: "boat", LengthMM: 1000 * b.Common.LengthM, ThicknessMM: 1000 * b.Common.ThicknessM,
			WidthMM: 1000 * b.Common.WidthM, Margin: b.HullMargin},
		Page: pageConfig{Listen: defaultListen, TLS: tlsOwn},
		Log:  logConfig{MB: 500},
		Data: "/var/lib/withy",
	}
}

func inUnits(s float64) duration { return duration(s * float64(time.Second)) }

// maxConfigBytes is the largest configuration file that is read.
const maxConfigBytes = 1 << 20

// readConfig reads a configuration file and what the environment overrides, such
// as WITHY_PLACE_SHOP_C. All mistakes in the file are reported together, each with file,
// line and key.
func readConfig(name string) (config, lines, error) {
	text, err := readSmall(name)
	if err != nil {
		return config{}, lines{}, err
	}
	c := defaults()
	at, err := readLines(name, text, &c)
	if err != nil {
		return config{}, lines{}, err
	}
	return c, at, at.environment(reflect.ValueOf(&c).Elem(), "")
}

// environment lets the variables of the environment go before what the file says:
// WITHY_PLACE_SHOP_C before place.shop_c, with a value written as there. An empty one
// counts for none. It notes which keys they set.
func (l lines) environment(block reflect.Value, within string) error {
	var mistakes []error
	for field, value := range block.Fields() {
		key := strings.TrimPrefix(within+"."+field.Tag.Get("yaml"), ".")
		name := "WITHY_" + strings.ToUpper(strings.ReplaceAll(key, ".", "_"))
		if value.Kind() == reflect.Struct {
			mistakes = append(mistakes, l.environment(value, key))
		} else if text := os.Getenv(name); text != "" {
			l.variable[key] = name
			if err := yaml.Unmarshal([]byte(text), value.Addr().Interface()); err != nil {
				mistakes = append(mistakes, l.mistake(key, "%q is not what belongs there", text))
			}
		}
	}
	return errors.Join(mistakes...)
}

func readSmall(name string) ([]byte, error) {
	info, err := os.Stat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("%s: there is no such file; deploy/withy.yaml is one to begin with", name)
	case err != nil:
		return nil, err
	case info.IsDir():
		return nil, fmt.Errorf("%s: a folder, not a configuration file", name)
	case info.Size() > maxConfigBytes:
		return nil, fmt.Errorf("%s: %d MiB; a configuration file has at most 1 MiB", name, info.Size()>>20)
	}
	return os.ReadFile(name)
}

// lines knows on which line of a file each key stands, and which variable of the
// environment goes before it.
type lines struct {
	file     string
	of       map[string]int
	variable map[string]string
}

// readLines reads a file into a configuration, strictly as to keys and types, and notes
// on which lines the keys stand.
func readLines(name string, text []byte, to *config) (lines, error) {
	at := lines{file: name, of: map[string]int{}, variable: map[string]string{}}
	decoder := yaml.NewDecoder(bytes.NewReader(text))
	decoder.KnownFields(true)
	switch err := decoder.Decode(to); {
	case errors.Is(err, io.EOF):
		return at, fmt.Errorf("%s: empty; deploy/withy.yaml is one to begin with", name)
	case err != nil:
		return at, at.reword(err)
	}
	var root yaml.Node
	if err := yaml.Unmarshal(text, &root); err != nil {
		return at, fmt.Errorf("%s: %w", name, err)
	}
	at.note("", root.Content[0])
	return at, nil
}

// reword puts the file's name before each of a decoder's errors and takes the
// program's own names out of them.
func (l lines) reword(err error) error {
	var all *yaml.TypeError
	if !errors.As(err, &all) {
		return fmt.Errorf("%s: %s", l.file, strings.TrimPrefix(err.Error(), "yaml: "))
	}
	var out []error
	for _, e := range all.Errors {
		e = strings.TrimPrefix(e, "line ")
		if key, found := strings.CutPrefix(e[strings.Index(e, ": ")+2:], "field "); found {
			e = fmt.Sprintf("%s: %q is not a key here", e[:strings.Index(e, ": ")], strings.Fields(key)[0])
		}
		e = strings.NewReplacer("cannot unmarshal ", "", "!!str ", "", "!!seq", "a list", "!!map", "a block of keys",
			" into float64", " is not a number", " into bool", " is not true or false").Replace(e)
		out = append(out, fmt.Errorf("%s:%s", l.file, e))
	}
	return errors.Join(out...)
}

// note enters the lines of a node's keys under its own.
func (l lines) note(key string, n *yaml.Node) {
	l.of[key] = n.Line
	switch n.Kind {
	case yaml.MappingNode:
		for i := 0; i+1 < len(n.Content); i += 2 {
			l.note(strings.TrimPrefix(key+"."+n.Content[i].Value, "."), n.Content[i+1])
		}
	case yaml.SequenceNode:
		for i, item := range n.Content {
			l.note(fmt.Sprintf("%s[%d]", key, i), item)
		}
	}
}

// mistake returns a mistake at a key: with the variable that set it, or its line if the
// file has it, else the nearest key above it.
func (l lines) mistake(key, format string, a ...any) error {
	for k := key; ; {
		if name, ok := l.variable[k]; ok {
			return fmt.Errorf("%s in the environment: %s: %s", name, key, fmt.Sprintf(format, a...))
		}
		if line, ok := l.of[k]; ok && k != "" {
			return fmt.Errorf("%s:%d: %s: %s", l.file, line, key, fmt.Sprintf(format, a...))
		}
		cut := strings.LastIndexAny(k, ".[")
		if cut < 0 {
			return fmt.Errorf("%s: %s: %s", l.file, key, fmt.Sprintf(format, a...))
		}
		k = k[:cut]
	}
}

// beside returns a path that a configuration file names, from the file's folder.
func (l lines) beside(path string) string {
	if filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(filepath.Dir(l.file), path)
}
