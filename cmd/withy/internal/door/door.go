// Package door says who comes in to the page: devices that were paired and programs
// that were given a token, what each may do, and the key and certificate that it is
// served with.
//
// Whoever is on the board itself is let in as crew. Everybody else is paired: by a code
// that is shown on the board only, or by the board's own button while the device asks.
// There is no password, and nothing to guess between two pairings.
package door

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"withy/cmd/withy/internal/onefile"
)

// Role is what somebody may do.
type Role string

// The roles, each with what the one before may do.
const (
	Nobody Role = ""     // load the page and ask to be paired
	View   Role = "view" // see all that is known
	Crew   Role = "crew" // tell, set, erase, and send others away
)

// May reports whether r is enough where need is asked for.
func (r Role) May(need Role) bool {
	return slices.Index(roles, r) >= slices.Index(roles, need)
}

var roles = []Role{Nobody, View, Crew}

// Key is what is kept of one that was let in.
type Key struct {
	ID   string    `json:"id"`   // to name it by
	Name string    `json:"name"` // as it called itself
	Role Role      `json:"role"`
	Made time.Time `json:"made"`   // by a clock that anybody may set: a label
	Hash string    `json:"sha256"` // of its token, which is kept nowhere here
}

// mostKeys is how many may be let in.
const mostKeys = 64

// Door lets in and sends away. Its methods may be called by any goroutine.
type Door struct {
	file string

	mu     sync.Mutex
	keys   []Key
	code   *code     // nil: none is open
	asking []*asking // devices that wait for the button
	inside map[string]map[*visit]bool
}

// visit is one request of a key that is being answered.
type visit struct{ end context.CancelFunc }

// keysFile is where the data folder keeps who was let in.
const keysFile = "keys.json"

// Open returns the door of a data folder. Where the file can't be read nobody was let
// in: the door can be used all the same, and the error says why. A damaged file is put
// aside as keys.json.damaged.
func Open(data string) (*Door, error) {
	d := &Door{file: filepath.Join(data, keysFile), inside: map[string]map[*visit]bool{}}
	text, err := os.ReadFile(d.file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return d, nil
	case err != nil:
		return d, err
	}
	if d.keys, err = readKeys(text); err != nil {
		d.keys = nil
		return d, errors.Join(fmt.Errorf("%s: %w", d.file, err), os.Rename(d.file, d.file+".damaged"))
	}
	return d, os.Chmod(d.file, 0o600) // somebody may have copied it
}

// readKeys reads the file strictly: what is not understood lets nobody in.
func readKeys(text []byte) ([]Key, error) {
	var keys []Key
	if err := json.Unmarshal(text, &keys); err != nil {
		return nil, err
	}
	for i, k := range keys {
		hash, err := base64.RawURLEncoding.DecodeString(k.Hash)
		switch {
		case err != nil || len(hash) != sha256.Size:
			return nil, fmt.Errorf("key %d: sha256 is not that of a token", i+1)
		case k.Role != View && k.Role != Crew:
			return nil, fmt.Errorf("key %d: role %q is not %s or %s", i+1, k.Role, View, Crew)
		case k.ID == "" || CheckName(k.Name) != nil:
			return nil, fmt.Errorf("key %d: no id, or no name of 1 to %d letters", i+1, longestName)
		}
	}
	if len(keys) > mostKeys {
		return nil, fmt.Errorf("%d keys; at most %d", len(keys), mostKeys)
	}
	return keys, nil
}

// longestName is the longest name of a device, in letters.
const longestName = 40

// CheckName returns what is wrong with the name of a device.
func CheckName(name string) error {
	unseen := func(r rune) bool { return !unicode.IsPrint(r) }
	if n := utf8.RuneCountInString(name); n < 1 || n > longestName || strings.TrimSpace(name) != name || strings.ContainsFunc(name, unseen) {
		return fmt.Errorf("a name has 1 to %d letters that can be seen", longestName)
	}
	return nil
}

// Errors of letting in.
var (
	ErrFull = fmt.Errorf("%d devices are paired already; take one away first", mostKeys)
	ErrName = CheckName("")

	ErrToken = errors.New("a token is 26 of A to Z and 2 to 7, as a box makes it")
	ErrKnown = errors.New("that token is known already")
)

// tokenForm is how rand.Text writes 130 bits.
var tokenForm = regexp.MustCompile(`^[A-Z2-7]{26}$`)

// Let lets in a device or a program under a name, and returns the token that it shows
// from now on. An error means that it is not let in, as where its key can't be kept.
func (d *Door) Let(name string, role Role) (token string, err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.let(name, role)
}

// LetBy lets in a program by a token that another box has made for it, so that it shows
// the same at each. Errors are those of Let, ErrToken and ErrKnown.
func (d *Door) LetBy(token, name string, role Role) error {
	if !tokenForm.MatchString(token) {
		return ErrToken
	}
	if _, known := d.Knows(token); known {
		return ErrKnown
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.add(token, name, role)
}

func (d *Door) let(name string, role Role) (token string, err error) {
	token = rand.Text()
	if err := d.add(token, name, role); err != nil {
		return "", err
	}
	return token, nil
}

func (d *Door) add(token, name string, role Role) error {
	switch {
	case CheckName(name) != nil:
		return ErrName
	case role != View && role != Crew:
		return fmt.Errorf("role %q is not %s or %s", role, View, Crew)
	case len(d.keys) >= mostKeys:
		return ErrFull
	}
	k := Key{ID: d.freeID(), Name: name, Role: role, Made: time.Now().UTC().Truncate(time.Second), Hash: hashed(token)}
	keys := append(slices.Clone(d.keys), k)
	if err := keep(d.file, keys); err != nil {
		return err
	}
	d.keys = keys
	return nil
}

// freeID returns an id that no key has: short, since people type it.
func (d *Door) freeID() string {
	for {
		id := strings.ToLower(rand.Text()[:4])
		if !slices.ContainsFunc(d.keys, func(k Key) bool { return k.ID == id }) {
			return id
		}
	}
}

// hashed is what is kept of a token. It has 130 random bits, so one round will do.
func hashed(token string) string {
	sum := sha256.Sum256([]byte(token))
	return base64.RawURLEncoding.EncodeToString(sum[:])
}

func keep(file string, keys []Key) error {
	text, err := json.MarshalIndent(keys, "", "\t")
	if err != nil {
		return err
	}
	return onefile.Write(file, append(text, '\n'), 0o600)
}

// Knows returns the key of a token.
func (d *Door) Knows(token string) (Key, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	hash := hashed(token)
	for _, k := range d.keys {
		if subtle.ConstantTimeCompare([]byte(k.Hash), []byte(hash)) == 1 {
			return k, true
		}
	}
	return Key{}, false
}

// Keys lists who was let in, the first first.
func (d *Door) Keys() []Key {
	d.mu.Lock()
	defer d.mu.Unlock()
	return slices.Clone(d.keys)
}

// Stay returns a context that ends with ctx, and as soon as the key is taken away.
// The caller calls leave once the request is answered.
func (d *Door) Stay(ctx context.Context, key Key) (during context.Context, leave func()) {
	during, end := context.WithCancel(ctx)
	v := &visit{end}
	d.mu.Lock()
	defer d.mu.Unlock()
	if !slices.Contains(d.keys, key) { // taken away just now
		end()
	}
	if d.inside[key.ID] == nil {
		d.inside[key.ID] = map[*visit]bool{}
	}
	d.inside[key.ID][v] = true
	return during, func() {
		end()
		d.mu.Lock()
		defer d.mu.Unlock()
		delete(d.inside[key.ID], v)
		if len(d.inside[key.ID]) == 0 {
			delete(d.inside, key.ID)
		}
	}
}

// ErrUnknown says that no key has that id.
var ErrUnknown = errors.New("no device has that id")

// Revoke sends one away, by its id, and ends what it is being told. It counts from now
// on even where that can't be kept; then the error says so.
func (d *Door) Revoke(id string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	i := slices.IndexFunc(d.keys, func(k Key) bool { return k.ID == id })
	if i < 0 {
		return ErrUnknown
	}
	d.keys = slices.Delete(slices.Clone(d.keys), i, i+1)
	for v := range d.inside[id] {
		v.end()
	}
	return keep(d.file, d.keys)
}

// RevokeAll sends everybody away, closes the code, and forgets who was ever let in.
func (d *Door) RevokeAll() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.keys, d.code, d.asking = nil, nil, nil
	for _, visits := range d.inside {
		for v := range visits {
			v.end()
		}
	}
	return errors.Join(onefile.Remove(d.file), onefile.Remove(d.file+".damaged"))
}
