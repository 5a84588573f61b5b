package emulated

import (
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"withy/alert"
)

// card is a board's own copy of the card that run wrote.
type card struct {
	t    *testing.T
	dir  string
	path string
}

func newCard(t *testing.T) *card {
	t.Helper()
	dir := os.Getenv("WITHY_EMULATED")
	if dir == "" {
		t.Skip("deploy/emulated/run starts this")
	}
	c := &card{t, dir, filepath.Join(t.TempDir(), "card")}
	if said, err := exec.CommandContext(t.Context(), "cp", "--sparse=always", filepath.Join(dir, "card"), c.path).CombinedOutput(); err != nil {
		t.Fatalf("%s %v", said, err)
	}
	return c
}

// boot gives a board with the card power.
func (c *card) boot() *board {
	c.t.Helper()
	return c.bootBy(kernelLine)
}

// bootServed does so where a time server answers before anything else starts.
func (c *card) bootServed(wall time.Time) *board {
	c.t.Helper()
	return c.bootBy(fmt.Sprintf("%s wall=%d", kernelLine, wall.UnixNano()))
}

func (c *card) bootBy(kernelLine string) *board {
	c.t.Helper()
	b := power(c.t, c.dir, "initramfs.disk", "-append", kernelLine, "-drive", "if=none,id=card,format=raw,cache=writeback,file="+c.path, "-device", "virtio-blk-device,drive=card")
	b.pair = func() string { return b.root("withy pair --token test") }
	for _, line := range []int{levelLine, palmLine, pedalLine} {
		b.set(line, line != levelLine) // water above the float, nobody at the buttons
	}
	return b
}

// root runs a shell's line as the administrator of the board.
func (b *board) root(line string) string {
	b.t.Helper()
	return b.send("/do", command{Root: true, Args: []string{"/bin/sh", "-c", line}, Env: []string{"PATH=/usr/sbin:/usr/bin:/sbin:/bin", "DEBIAN_FRONTEND=noninteractive"}})
}

// says fails unless a shell's line prints just this.
func (b *board) says(want, line string) {
	b.t.Helper()
	if got := strings.TrimSpace(b.root(line)); got != want {
		b.t.Errorf("%s: %q, want %q", line, got, want)
	}
}

const installedFile = "/etc/withy/withy.yaml"

// configure puts the eight probes, the switch, the buzzer and the buttons of the board
// into the package's configuration.
func (b *board) configure() {
	b.t.Helper()
	b.write(installedFile, strings.Replace(configured(), "/tmp/withy", "/var/lib/withy", 1))
	b.root("systemctl restart withy")
	b.answers()
}

// answers waits for the page and a reading of all eight probes.
func (b *board) answers() time.Duration {
	b.t.Helper()
	b.until("the page answers", time.Minute, func() bool { _, ok := b.look(); return ok })
	return b.until("all eight probes are read", 20*time.Second, func() bool { v, _ := b.look(); return allRead(v) })
}

// TestPackage installs the package on a Debian with systemd, has its unit work with all
// that hangs on a board, upgrades it, takes it away and leaves nothing behind.
func TestPackage(t *testing.T) {
	t.Parallel()
	b := newCard(t).boot()
	defer b.explain()
	b.wants(b.root("dpkg -i /packages/withy_before.deb"), "Setting up withy (0.0.1)")
	b.until("the unit runs", 30*time.Second, func() bool { return b.active() })
	b.says("withy", "stat -c %U /proc/$(systemctl show -P MainPID withy)")
	b.says("withy gpio input spi", "id -nG withy | tr ' ' '\\n' | sort | grep -v '^withy$' | tr '\\n' ' ' | sed 's/^/withy /; s/ $//'")
	b.t.Logf("          %s", b.root("systemd-analyze security --no-pager withy | tail -1")) //nolint:misspell // the program is called so
	b.heat(15, 15)
	b.configure()
	underTheUnit(b)
	reloaded(b)
	spi(b)
	killed(b)
	upgraded(b)
	removed(b)
	// The unit lets only this system's own kind of program run, so the one for 32 bits is
	// run beside it.
	b.wants(b.root("dpkg -i --force-architecture /packages/withy_armhf.deb 2>&1; withy --version"), "Setting up withy", "withy ")
	b.root("dpkg -P withy")
}

// explain prints what the board's system says of the unit, if the test has failed.
func (b *board) explain() {
	if b.t.Failed() {
		b.t.Log(b.root("systemctl status --no-pager --full --lines=0 withy; journalctl --no-pager --lines=40 -u withy"))
	}
}

func (b *board) active() bool {
	return strings.TrimSpace(b.root("systemctl is-active withy")) == "active"
}

// underTheUnit tries the lines and the 1-wire bus: a button comes in, a sound goes out,
// and the probes measure all at once, which is said by how soon they are all read anew.
func underTheUnit(b *board) {
	b.says("gpio", "stat -c %G /sys/bus/w1/devices/w1_bus_master1/therm_bulk_read")
	before, start := b.given(), time.Now()
	time.Sleep(10 * time.Second)
	if each := time.Since(start).Seconds() / (float64(b.given()-before) / 8); each > 3 {
		b.t.Errorf("%.1f s to read eight probes once: they measure one after the other", each)
	} else {
		b.t.Logf("%6.2f s  to read eight probes once", each)
	}
	since := time.Now()
	answer, err := b.visit("POST", "/api/sound", []byte(`{"id": "try", "sound": "pull"}`))
	if err != nil {
		b.t.Fatal(err)
	}
	answer.Body.Close()
	b.until("the buzzer's line pulses", 20*time.Second, func() bool { return len(b.pulses(buzzerLine, since)) == len(alert.Patterns[alert.Pull]) })
	b.set(levelLine, true)
	b.until("the float is seen to sink", 20*time.Second, func() bool { v, _ := b.look(); return v.Status.Water.Switch == "open" })
	b.set(levelLine, false)
}

// reloaded has the unit read its file anew.
func reloaded(b *board) {
	b.root("systemctl reload withy")
	b.until("the file is read anew", 20*time.Second, func() bool {
		return strings.Contains(b.root("journalctl --no-pager -u withy"), "settings read")
	})
}

// spi has the unit read a chip on SPI and one by the kernel's driver.
func spi(b *board) {
	b.write("/sys/bus/spi/devices/spi0.0/driver_override", "spidev")
	b.write("/sys/bus/spi/drivers/spidev/bind", "spi0.0")
	b.words(typeT, typeK)
	b.barometer()
	pedal := b.plug()
	b.write(installedFile, strings.Replace(fmt.Sprintf(kinds, pedal), "/tmp/withy", "/var/lib/withy", 1))
	b.root("systemctl restart withy")
	b.until("a chip on SPI and one of the kernel's are read", time.Minute, func() bool {
		v, ok := b.look()
		return ok && len(v.Status.Probes) == 2 && v.Status.Probes[0].TempC != nil && v.Status.Probes[1].TempC != nil
	})
	b.configure()
}

// killed has the program end by a signal that it can't hear, and by the one of the watchdog,
// after which it ends as after a panic. How fast it starts is the emulator's affair; that it
// is started at once is the unit's, which waits ten seconds after settings that can't be used.
func killed(b *board) {
	for _, signal := range []string{"KILL", "ABRT"} {
		b.root("kill -" + signal + " " + b.root("systemctl show -P MainPID withy"))
		b.until("after SIG"+signal+" the page answers; 3 s is the aim", time.Minute, func() bool { _, ok := b.look(); return ok })
		b.says("yes", "ended=$(systemctl show -P ActiveExitTimestampMonotonic withy); begun=$(systemctl show -P ExecMainStartTimestampMonotonic withy); "+
			"[ $((begun - ended)) -gt 0 ] && [ $((begun - ended)) -lt 9000000 ] && echo yes || echo $ended $begun")
		b.answers()
	}
}

// upgraded has the next version installed in mid-session, over a configuration that
// was edited.
func upgraded(b *board) {
	b.tell(map[string]any{"kind": "note", "text": "before the upgrade"})
	// As whoever is asked answers who keeps to the default.
	b.wants(b.root("dpkg --force-confdef --force-confold -i /packages/withy_arm64.deb 2>&1"), "Unpacking withy", "over (0.0.1)")
	b.says("0", "grep -c '^# of the version before' "+installedFile+".dpkg-dist || true")
	b.answers()
	b.says("", "grep -s 'the version before' /lib/systemd/system/withy.service || true")
	b.says("8", "grep -c 'name: p[0-9]' "+installedFile)
	b.wants(b.root(exported), "before the upgrade")
}

// exported prints all sessions on record.
const exported = `for s in $(withy sessions --json | sed -n 's/.*"session": "\(.*\)",/\1/p'); do withy sessions export "$s"; done`

// removed takes the package away, once so that it can come back and once for good.
func removed(b *board) {
	b.root("dpkg -r withy")
	if _, err := http.Get(b.page + "/healthz"); err == nil {
		b.t.Error("removed, and the page still answers")
	}
	b.says("8", "grep -c 'name: p[0-9]' "+installedFile)
	b.says("record there", "test -s /var/lib/withy/record.db && echo record there")
	b.root("dpkg -i /packages/withy_arm64.deb")
	b.answers()
	b.root("dpkg -P withy")
	b.says("", `find / -xdev -name '*withy*' -not -path '/packages/*' -not -path '/proc/*'`)
	b.says("", "systemctl list-unit-files --no-legend 'withy*' || true")
}
