package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"withy/cmd/withy/internal/boxes"
	"withy/cmd/withy/internal/hail"
	"withy/steambox/shop"
)

// mostBoxes is how many boxes a shop may have; each is asked every two seconds while
// somebody looks.
const mostBoxes = 24

// shop reads what is told of the other boxes.
func (r *settler) shop() boxes.Shop {
	c := r.c.Shop
	out := boxes.Shop{Number: c.Number}
	r.number("shop.number", float64(c.Number), 0, mostBoxes)
	if len(c.Boxes) > mostBoxes {
		r.wrong("shop.boxes", "%d boxes; at most %d", len(c.Boxes), mostBoxes)
	}
	out.Circuits = r.circuits()
	numbers, places := map[string]int{}, map[string]int{}
	for i, b := range c.Boxes {
		key := "shop.boxes[" + strconv.Itoa(i) + "]"
		r.number(key+".number", float64(b.Number), 1, mostBoxes)
		r.twice(numbers, key+".number", strconv.Itoa(b.Number), i)
		r.twice(places, key+".at", b.At, i)
		r.load(key, b.Watts, b.Circuit)
		out.Boxes = append(out.Boxes, r.listed(key, b))
	}
	listed := func(b shopBoxConfig) bool { return b.Number == c.Number }
	if c.Number != 0 && len(c.Boxes) > 0 && !slices.ContainsFunc(c.Boxes, listed) {
		r.wrong("shop.number", "%d is none of shop.boxes; list this box too", c.Number)
	}
	if c.Kettle != nil {
		r.load("shop.kettle", c.Kettle.Watts, c.Kettle.Circuit)
		out.Kettle = &shop.Shared{Watts: c.Kettle.Watts, Circuit: c.Kettle.Circuit}
	}
	return out
}

// listed checks how a box of the shop is reached.
func (r *settler) listed(key string, b shopBoxConfig) boxes.Listed {
	out := boxes.Listed{Number: b.Number, At: b.At, Watts: b.Watts, Circuit: b.Circuit, Bench: b.Bench, Secret: hail.Secret{Credential: b.Credential}}
	u, err := url.Parse(b.At)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" || *u != (url.URL{Scheme: u.Scheme, Host: u.Host}) {
		r.wrong(key+".at", "not the address of a page, such as https://box-%d.lan:8017", b.Number)
	}
	r.secretPlace(key, b.SecretFile, b.Credential)
	if b.SecretFile != "" {
		out.Secret.File = r.at.beside(b.SecretFile)
	}
	if b.SHA256 != "" {
		out.SHA256 = strings.ToLower(strings.ReplaceAll(b.SHA256, ":", ""))
		if n, err := hex.DecodeString(out.SHA256); err != nil || len(n) != sha256.Size {
			r.wrong(key+".sha256", "not 64 hexadecimal digits, with colons or without, as `withy pair` on that box shows them")
		} else if u != nil && u.Scheme == "http" {
			r.wrong(key+".sha256", "a page at http:// has no certificate; say https://, or leave it out")
		}
	}
	return out
}

// readShop reads the shop of a configuration file and of the environment, and nothing else
// of it; without a name there is none.
func readShop(name string) (boxes.Shop, error) {
	if name == "" {
		return boxes.Shop{}, nil
	}
	c, at, err := readConfig(name)
	if err != nil {
		return boxes.Shop{}, err
	}
	r := settler{c: c, at: at}
	return r.shop(), errors.Join(r.mistakes...)
}

// load checks what a boiler or the kettle takes from which circuit.
func (r *settler) load(key string, watts float64, circuit string) {
	r.number(key+".watts", watts, 0, 20000)
	named := func(c circuitConfig) bool { return c.Name == circuit }
	if circuit != "" && !slices.ContainsFunc(r.c.Shop.Circuits, named) {
		r.wrong(key+".circuit", "%q is none of shop.circuits", circuit)
	}
	switch {
	case circuit != "" && watts == 0:
		r.wrong(key+".watts", "0 on a circuit; say what it takes, or leave the circuit out")
	case circuit == "" && watts > 0 && len(r.c.Shop.Circuits) > 0:
		r.wrong(key+".circuit", "which of shop.circuits do its %.0f W hang on? Where it is none of them, leave watts out", watts)
	}
}

func (r *settler) circuits() []shop.Circuit {
	var out []shop.Circuit
	names := map[string]int{}
	for i, c := range r.c.Shop.Circuits {
		key := "shop.circuits[" + strconv.Itoa(i) + "]"
		r.twice(names, key+".name", c.Name, i)
		r.number(key+".volts", c.Volts, 50, 480)
		r.number(key+".amps", c.Amps, 1, 125)
		out = append(out, shop.Circuit{Name: c.Name, Volts: c.Volts, Amps: c.Amps})
	}
	return out
}
