// Package sensortest holds what tests of sensor sources share: a pretend tree of
// the kernel's 1-wire files, and the checks that every source must pass.
package sensortest

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// Tree is a directory laid out as the kernel lays out its 1-wire devices: bus
// masters with their probes in one place, and links to all of them in another.
// What only a kernel can do it doesn't do: reading a file starts no
// conversion and takes no time.
type Tree struct {
	// Root is the list of links, to be used as sensor.Config's W1Root.
	Root string

	t       testing.TB
	devices string
}

// NewTree makes an empty tree that goes away with the test.
func NewTree(t testing.TB) *Tree {
	t.Helper()
	dir := t.TempDir()
	tree := &Tree{Root: filepath.Join(dir, "bus/w1/devices"), t: t, devices: filepath.Join(dir, "devices")}
	tree.must(os.MkdirAll(tree.Root, 0o755))
	return tree
}

// Plug puts a probe on a bus master, "w1_bus_master1", with no files yet.
func (tr *Tree) Plug(bus, probe string) {
	tr.t.Helper()
	dir := filepath.Join(tr.devices, bus, probe)
	tr.must(os.MkdirAll(dir, 0o755))
	tr.must(os.Symlink(dir, filepath.Join(tr.Root, probe)))
}

// Pull takes a probe out, files and all.
func (tr *Tree) Pull(probe string) {
	tr.t.Helper()
	dir, err := filepath.EvalSymlinks(filepath.Join(tr.Root, probe))
	tr.must(err)
	tr.must(os.Remove(filepath.Join(tr.Root, probe)))
	tr.must(os.RemoveAll(dir))
}

// Write gives a probe's file its text, at one stroke: no reader finds half of it.
func (tr *Tree) Write(probe, file, text string) {
	tr.t.Helper()
	path := filepath.Join(tr.Root, probe, file)
	tr.must(os.WriteFile(path+".new", []byte(text), 0o644))
	tr.must(os.Rename(path+".new", path))
}

// Bulk gives a bus master the file that starts a conversion of all its
// probes. Its path is returned, to see what was written.
func (tr *Tree) Bulk(bus string) (path string) {
	tr.t.Helper()
	path = filepath.Join(tr.devices, bus, "therm_bulk_read")
	tr.must(os.MkdirAll(filepath.Dir(path), 0o755))
	tr.must(os.WriteFile(path, []byte("0\n"), 0o644))
	return path
}

// Hang makes reads of a probe's file never return, until the test ends or the
// function it returns is called.
func (tr *Tree) Hang(probe, file string) (release func()) {
	tr.t.Helper()
	return hang(tr.t, filepath.Join(tr.Root, probe, file))
}

// hang puts a file in the place of path that no open returns from.
func hang(t testing.TB, path string) (release func()) {
	t.Helper()
	if err := os.Remove(path); err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	if err := syscall.Mkfifo(path, 0o600); err != nil { // nobody writes: open blocks
		t.Fatal(err)
	}
	release = func() {
		// Opened for both ways a FIFO does not block, and lets readers go.
		f, err := os.OpenFile(path, os.O_RDWR, 0)
		if err != nil {
			return // already gone
		}
		_ = os.Remove(path)
		_ = f.Close()
	}
	t.Cleanup(release)
	return release
}

func (tr *Tree) must(err error) {
	tr.t.Helper()
	if err != nil {
		tr.t.Fatal(err)
	}
}
