package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"strconv"
	"time"

	"golang.org/x/sys/unix"
)

// clocks is what the kernel's clocks show, in nanoseconds: the wall clock since 1970, the
// others since the board was switched on.
type clocks struct {
	Wall int64 `json:"wall"`
	Boot int64 `json:"boot"` // slewed with the wall clock, but never set
	Raw  int64 `json:"raw"`  // not slewed either
}

// clocks answers with the board's.
func (g *guest) clocks(w http.ResponseWriter, _ *http.Request) {
	var read [3]int64
	for i, id := range []int32{unix.CLOCK_REALTIME, unix.CLOCK_BOOTTIME, unix.CLOCK_MONOTONIC_RAW} {
		var ts unix.Timespec
		if err := unix.ClockGettime(id, &ts); err != nil {
			answer(w, nil, err)
			return
		}
		read[i] = ts.Nano()
	}
	body, err := json.Marshal(clocks{read[0], read[1], read[2]})
	answer(w, body, err)
}

// setClock sets the kernel's wall clock to wall, in nanoseconds since 1970: as `date -s`
// does, after which the kernel doesn't know whether it is right, or with server as a time
// server does, after which it does. Or it slews the clocks by so many ppm from now on.
func (g *guest) setClock(w http.ResponseWriter, r *http.Request) {
	set := func(ns int64) error {
		tv := unix.NsecToTimeval(ns)
		return unix.Settimeofday(&tv)
	}
	text := r.FormValue("wall")
	switch {
	case r.FormValue("slew_ppm") != "":
		text, set = r.FormValue("slew_ppm"), slew
	case r.FormValue("server") != "":
		set = serve
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err == nil {
		err = set(n)
	}
	answer(w, nil, err)
}

// served is what systemd-timesyncd touches after that: systemd-timesyncd.service(8).
const served = "/run/systemd/timesync/synchronized" //nolint:misspell // the file is called so

// serve sets the wall clock as systemd-timesyncd does.
func serve(ns int64) error {
	if err := stepTo(ns); err != nil || os.Getpid() == 1 {
		return err // where no system has taken over, there is no timesyncd but for the call
	}
	return put(served, nil)
}

// stepTo makes the one call that systemd-timesyncd makes for a clock that is far off
// (manager_adjust_clock, from memory): the step, and that the clock is right now.
func stepTo(ns int64) error {
	by := unix.NsecToTimespec(ns - time.Now().UnixNano()) // -0.3 s is -1 s and 700 ms
	state, err := unix.Adjtimex(&unix.Timex{
		Modes:  unix.ADJ_STATUS | unix.ADJ_NANO | unix.ADJ_SETOFFSET | unix.ADJ_MAXERROR | unix.ADJ_ESTERROR,
		Status: unix.STA_PLL,
		Time:   unix.Timeval{Sec: by.Sec, Usec: by.Nsec}, // by ADJ_NANO
	})
	if err == nil && state == unix.TIME_ERROR {
		err = fmt.Errorf("the kernel does not take it for right")
	}
	return err
}

// slew has the kernel's clocks run so many ppm fast; 500 is the most that adjtimex(2) takes.
func slew(ppm int64) error {
	t := unix.Timex{Modes: unix.ADJ_FREQUENCY}
	fill(&t.Freq, ppm<<16)
	_, err := unix.Adjtimex(&t)
	return err
}

// fill sets a field that has as many bits as the processor.
func fill[T int32 | int64](field *T, n int64) { *field = T(n) }

// servedAtStart sets the clock to what the kernel's command line says in wall=, if it says
// so, before the system in root is handed over to: a board whose time server has answered
// before anything else starts.
func servedAtStart(root string) error {
	text := os.Getenv("wall")
	if text == "" {
		return nil
	}
	ns, err := strconv.ParseInt(text, 10, 64)
	if err == nil {
		err = stepTo(ns)
	}
	if err == nil {
		err = put(root+served, nil)
	}
	return err
}
