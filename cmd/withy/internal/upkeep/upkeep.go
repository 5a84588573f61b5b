// Package upkeep looks after the board itself: how hot it is, and how much room is left
// where the log is kept.
package upkeep

import (
	"context"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"golang.org/x/sys/unix"

	"withy/steambox"
)

// A Raspberry Pi slows itself down from 80 °C on, and more at 85 °C (its documentation,
// "Frequency management and thermal control").
const hotC, coolC = 80.0, 77.0

// A session takes less than 3 MB an hour (TestWritten), so that the lower is some seventy
// hours' worth, in bytes.
const littleRoom, roomAgain = 200_000_000, 250_000_000

// every is how often the board is looked at.
const every = 10 * time.Second

// Upkeep tells what ails the board. A look that hangs, as on a card that is dying, costs
// its own goroutine and nobody else.
type Upkeep struct {
	data    string // folder of the log; "": none is kept
	thermal string // the kernel's folder of thermal zones
	ails    atomic.Pointer[[]steambox.Ailment]
}

// New returns the upkeep of the board that it runs on, with its log in a folder, "" for
// none. Nothing ails it before Run.
func New(data string) *Upkeep {
	return &Upkeep{data: data, thermal: "/sys/class/thermal"}
}

// Ails returns what was wrong at the last look. It must not be changed.
func (u *Upkeep) Ails() []steambox.Ailment {
	if now := u.ails.Load(); now != nil {
		return *now
	}
	return nil
}

// Run looks every ten seconds until ctx is done.
func (u *Upkeep) Run(ctx context.Context) {
	var s state
	ticks := time.NewTicker(every)
	defer ticks.Stop()
	for {
		now := s.look(u.hottestC(), u.freeBytes())
		u.ails.Store(&now)
		select {
		case <-ctx.Done():
			return
		case <-ticks.C:
		}
	}
}

// state is what ailed at the last look: each ailment ends some way from where it began.
type state struct{ hot, full bool }

// look judges the hottest place of the processor and the room left; nil: not known, and
// then it is as it was.
func (s *state) look(c *float64, free *uint64) []steambox.Ailment {
	if c != nil {
		s.hot = *c > hotC || s.hot && *c > coolC
	}
	if free != nil {
		s.full = *free < littleRoom || s.full && *free < roomAgain
	}
	ails := []steambox.Ailment{}
	if s.hot {
		ails = append(ails, steambox.TooHot)
	}
	if s.full {
		ails = append(ails, steambox.Full)
	}
	return ails
}

// hottestC returns the temperature of the hottest zone that is a board's processor;
// a PC's zones have other names and other limits. Nil: there is none to be read. The
// files are those of the kernel's Documentation/driver-api/thermal/sysfs-api.rst.
func (u *Upkeep) hottestC() *float64 {
	zones, _ := filepath.Glob(filepath.Join(u.thermal, "thermal_zone*")) // fails only for a bad pattern
	var hottest *float64
	for _, zone := range zones {
		kind, err := os.ReadFile(filepath.Join(zone, "type"))
		if err != nil || !strings.HasPrefix(string(kind), "cpu") && !strings.HasPrefix(string(kind), "soc") {
			continue
		}
		text, err := os.ReadFile(filepath.Join(zone, "temp"))
		if err != nil {
			continue
		}
		milli, err := strconv.Atoi(strings.TrimSpace(string(text)))
		if c := float64(milli) / 1000; err == nil && (hottest == nil || c > *hottest) {
			hottest = &c
		}
	}
	return hottest
}

// freeBytes returns the room left for the log; nil: it can't be told.
func (u *Upkeep) freeBytes() *uint64 {
	var fs unix.Statfs_t
	if u.data == "" || unix.Statfs(u.data, &fs) != nil {
		return nil
	}
	return new(fs.Bavail * uint64(fs.Bsize))
}
