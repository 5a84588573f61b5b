package main

import (
	"net/http"
	"strconv"

	"golang.org/x/sys/unix"
)

// setClock sets the kernel's wall clock, as `date -s` or a time server does.
func (g *guest) setClock(w http.ResponseWriter, r *http.Request) {
	ns, err := strconv.ParseInt(r.FormValue("ns"), 10, 64)
	if err == nil {
		tv := unix.NsecToTimeval(ns)
		err = unix.Settimeofday(&tv)
	}
	answer(w, nil, err)
}
