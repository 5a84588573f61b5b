package upkeep

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"

	"withy/steambox"
)

// zone writes a thermal zone as the kernel shows it.
func zone(t *testing.T, root, name, kind, temp string) {
	t.Helper()
	dir := filepath.Join(root, name)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	for file, text := range map[string]string{"type": kind, "temp": temp} {
		if err := os.WriteFile(filepath.Join(dir, file), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func TestHottest(t *testing.T) {
	u := &Upkeep{thermal: t.TempDir()}
	if c := u.hottestC(); c != nil {
		t.Errorf("%g °C of a board without zones", *c)
	}
	zone(t, u.thermal, "thermal_zone0", "x86_pkg_temp\n", "97000\n")
	zone(t, u.thermal, "thermal_zone1", "acpitz\n", "99000\n")
	if c := u.hottestC(); c != nil {
		t.Errorf("%g °C of a PC", *c)
	}
	zone(t, u.thermal, "thermal_zone2", "cpu-thermal\n", "48312\n")
	zone(t, u.thermal, "thermal_zone3", "soc_thermal\n", "-1250\n")
	zone(t, u.thermal, "thermal_zone4", "cpu-thermal\n", "nonsense\n")
	if c := u.hottestC(); c == nil || *c != 48.312 {
		t.Errorf("%v °C, want 48.312", c)
	}
}

// What ails begins beyond one limit and ends beyond another, and what can't be read
// stays as it was.
func TestLook(t *testing.T) {
	var s state
	for _, step := range []struct {
		c    *float64
		free *uint64
		want []steambox.Ailment
	}{
		{nil, nil, nil},
		{new(79.9), new(uint64(200_000_000)), nil},
		{new(80.1), new(uint64(199_999_999)), []steambox.Ailment{steambox.TooHot, steambox.Full}},
		{new(77.1), new(uint64(249_999_999)), []steambox.Ailment{steambox.TooHot, steambox.Full}},
		{nil, nil, []steambox.Ailment{steambox.TooHot, steambox.Full}},
		{new(77.0), nil, []steambox.Ailment{steambox.Full}},
		{new(77.1), new(uint64(250_000_000)), nil},
	} {
		if got := s.look(step.c, step.free); !slices.Equal(got, step.want) {
			t.Errorf("%v, %v: %v, want %v", step.c, step.free, got, step.want)
		}
	}
}

// The room left is what df says.
func TestFree(t *testing.T) {
	dir := t.TempDir()
	out, err := exec.Command("df", "--output=avail", "-B1", dir).Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Fields(string(out))
	want, err := strconv.ParseFloat(lines[len(lines)-1], 64)
	if err != nil {
		t.Fatal(err)
	}
	u := New(dir)
	if got := u.freeBytes(); got == nil || float64(*got) < want*0.9-1e8 || float64(*got) > want*1.1+1e8 {
		t.Errorf("%v bytes, df says %g", got, want)
	}
	if got := New(filepath.Join(dir, "gone")).freeBytes(); got != nil {
		t.Errorf("%d bytes in no folder", *got)
	}
	if got := New("").freeBytes(); got != nil {
		t.Errorf("%d bytes where nothing is kept", *got)
	}
}

func TestRun(t *testing.T) {
	u := &Upkeep{thermal: t.TempDir()}
	if u.Ails() != nil {
		t.Error("ails before it was looked at")
	}
	zone(t, u.thermal, "thermal_zone0", "cpu-thermal\n", "85000\n")
	synctest.Test(t, func(t *testing.T) {
		go u.Run(t.Context())
		synctest.Wait()
		if got := u.Ails(); !slices.Equal(got, []steambox.Ailment{steambox.TooHot}) {
			t.Errorf("ails %v", got)
		}
	})
}
