package door

import (
	"crypto/rand"
	"crypto/subtle"
	"errors"
	"fmt"
	"math/big"
	"slices"
	"time"
)

// How pairing goes.
const (
	CodeFor    = 2 * time.Minute  // that a code can be used
	tries      = 5                // wrong ones; then the code is closed
	digits     = 6                // of a code
	askFor     = 5 * time.Second  // that a device asks after it was heard last: its page asks each second
	grantFor   = 30 * time.Second // that one that was let in may come for its token
	mostAsking = 8                // devices that may ask at once
	leastAsk   = 16               // bytes of the secret that a device asks with
	mostAsk    = 64
)

// code is one that is shown at the board. It is good once.
type code struct {
	text  string
	role  Role
	until time.Time
	left  int // wrong tries before it is closed
}

// asking is a device that waits for the button.
type asking struct {
	secret, name string
	heard        time.Time
	granted      bool
}

// Errors of pairing.
var (
	// ErrCode does not say whether a code is open: there would be something to learn.
	ErrCode = errors.New("that code is not right, or not open any more")
	ErrBusy = errors.New("too many devices ask at once")
	ErrAsk  = fmt.Errorf("ask: %d to %d characters, made at random by the device", leastAsk, mostAsk)
)

// OpenCode makes a code that lets one device in, once, in a role. The one before is
// closed. The code is to be shown on the board only.
func (d *Door) OpenCode(role Role) (string, error) {
	if role != View && role != Crew {
		return "", fmt.Errorf("role %q is not %s or %s", role, View, Crew)
	}
	n, err := rand.Int(rand.Reader, big.NewInt(1e6))
	if err != nil {
		return "", err
	}
	c := &code{text: fmt.Sprintf("%0*d", digits, n), role: role, until: time.Now().Add(CodeFor), left: tries}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.code = c
	return c.text, nil
}

// Code lets a device in that shows the code. Errors are ErrCode, those of Let, and any
// other where its key can't be kept; then the code is still good.
func (d *Door) Code(text, name string) (token string, role Role, err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	c := d.code
	if c == nil || time.Now().After(c.until) {
		d.code = nil
		return "", Nobody, ErrCode
	}
	if subtle.ConstantTimeCompare([]byte(c.text), []byte(text)) != 1 {
		if c.left--; c.left == 0 {
			d.code = nil
		}
		return "", Nobody, ErrCode
	}
	token, err = d.let(name, c.role)
	if err != nil {
		return "", Nobody, err
	}
	d.code = nil
	return token, c.role, nil
}

// Ask says that a device waits for the board's button; secret is its own, and the same
// each time that it asks. It returns a token, and lets it in as crew, once the button
// was pressed for it; until then the token is empty. A device asks again within five
// seconds, or it does not wait any more.
func (d *Door) Ask(secret, name string) (token string, err error) {
	if len(secret) < leastAsk || len(secret) > mostAsk {
		return "", ErrAsk
	}
	if CheckName(name) != nil {
		return "", ErrName
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.forget()
	i := slices.IndexFunc(d.asking, func(a *asking) bool { return subtle.ConstantTimeCompare([]byte(a.secret), []byte(secret)) == 1 })
	if i < 0 {
		if len(d.asking) >= mostAsking {
			return "", ErrBusy
		}
		d.asking = append(d.asking, &asking{secret: secret, name: name, heard: time.Now()})
		return "", nil
	}
	a := d.asking[i]
	if !a.granted {
		a.heard = time.Now()
		return "", nil
	}
	if token, err = d.let(name, Crew); err == nil {
		d.asking = slices.Delete(d.asking, i, i+1)
	}
	return token, err
}

// forget drops the devices that ask no more.
func (d *Door) forget() {
	d.asking = slices.DeleteFunc(d.asking, func(a *asking) bool {
		if a.granted {
			return time.Since(a.heard) > grantFor
		}
		return time.Since(a.heard) > askFor
	})
}

// waiting returns the devices that wait for the button.
func (d *Door) waiting() []*asking {
	d.forget()
	var out []*asking
	for _, a := range d.asking {
		if !a.granted {
			out = append(out, a)
		}
	}
	return out
}

// Asked reports whether a device waits for the button.
func (d *Door) Asked() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return len(d.waiting()) > 0
}

// Errors of the button.
var (
	ErrNobody  = errors.New("no device asks to be let in")
	ErrSeveral = errors.New("several devices ask to be let in; which of them is meant can't be told")
)

// Press lets in the device that asks, by the board's button, and returns its name.
// Where several ask none is let in, ErrSeveral: somebody else may be trying.
func (d *Door) Press() (name string, err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	all := d.waiting()
	switch {
	case len(all) == 0:
		return "", ErrNobody
	case len(all) > 1:
		return "", ErrSeveral
	}
	all[0].granted, all[0].heard = true, time.Now()
	return all[0].name, nil
}
