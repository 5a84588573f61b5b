package emulated

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

// TestCard starts the ready card as somebody does who has no terminal: a first start that
// ends by itself, the sheet read on another computer, a phone that joins by what its square
// codes say, and a button of the board that lets it in. The radios are simulated by the
// kernel; the firmware that a board has before its kernel, and the wireless chip, are not here.
func TestCard(t *testing.T) {
	t.Parallel()
	first, other := newReady(t), newReady(t)
	started := []*board{first.plug(), other.plug()}
	for _, b := range started {
		b.until("the first start ends by itself", 4*time.Minute, func() bool {
			select {
			case <-b.off:
				return true
			default:
				return false
			}
		})
	}
	codes, others := first.sheet(), other.sheet()
	join := regexp.MustCompile(`^WIFI:T:WPA;S:(withy-[a-z2-9]{4});P:((?:[a-z2-9]{4}-){2}[a-z2-9]{4});;$`)
	network, same := join.FindStringSubmatch(codes[0]), join.FindStringSubmatch(others[0])
	if network == nil || same == nil || network[1] == same[1] || network[2] == same[2] {
		t.Fatalf("two cards ask a phone to join %q and %q", codes[0], others[0])
	}
	if codes[1] != "http://10.42.0.1/" {
		t.Errorf("the second code opens %q", codes[1])
	}

	b := first.boot()
	defer b.explain()
	b.until("the unit runs", time.Minute, b.active)
	b.joins(network[1], network[2], codes[1])
	b.letIn()
	b.until("both probes are read, by their own names", time.Minute, func() bool {
		v, ok := b.look()
		return ok && len(v.Status.Probes) == 2 && v.Status.Probes[0].TempC != nil && v.Status.Probes[1].TempC != nil
	})
	b.says("28-000000000017 28-00000000002a", `sed -n 's/^    id: \([^ ]*\).*/\1/p' /etc/withy/withy.yaml | tr '\n' ' ' | sed 's/ $//'`)
	b.lines()
	b.says("grown", "[ $(df --output=size -m / | tail -1) -gt 2400 ] && echo grown")
	b.locked()
	b.upgrade()
}

// upgrade installs a package of the next version, which has another configuration: the one
// on the card's first partition, where nothing can be written, stays. The program is not in
// it, so this comes last.
func (b *board) upgrade() {
	b.t.Helper()
	b.says("unreadable", "systemctl cat withy | grep -q '^InaccessiblePaths=.*withy.html' && echo unreadable")
	b.wants(b.root(`set -e
		mkdir -p /run/next/DEBIAN /run/next/etc/withy
		printf 'Package: withy\nVersion: 9\nArchitecture: arm64\nMaintainer: nobody <nobody@example.org>\nDescription: the next\n' >/run/next/DEBIAN/control
		echo /etc/withy/withy.yaml >/run/next/DEBIAN/conffiles
		echo '# of the next version' >/run/next/etc/withy/withy.yaml
		dpkg-deb -b /run/next /run/next.deb
		dpkg --force-confdef --force-confold -i /run/next.deb 2>&1`), "Setting up withy (9)")
	b.says("28-000000000017", `sed -n 's/^    id: \([^ ]*\).*/\1/p' /boot/firmware/withy.yaml | head -n 1`)
	b.says("/boot/firmware/withy.yaml", "readlink /etc/withy/withy.yaml")
}

// TestCardForFirmware looks at what a board's firmware would read: the kernel and what it
// starts with are there, the system is found by its label, and the description of each kind
// of board has a 1-wire bus at GPIO4.
func TestCardForFirmware(t *testing.T) {
	c := newReady(t)
	if options := c.read("cmdline.txt"); !strings.Contains(options, "root=LABEL=withy ") || !strings.Contains(options, "net.ifnames=0") || strings.Contains(options, "cma=") {
		t.Errorf("the kernel is started with %q", options)
	}
	files := t.TempDir()
	if said, err := exec.CommandContext(t.Context(), "mcopy", "-n", "-i", c.path+"@@4M", "::*", files).CombinedOutput(); err != nil {
		t.Fatalf("%s %v", said, err)
	}
	started := regexp.MustCompile(`(?m)^(?:kernel=|initramfs )(\S+)$`).FindAllStringSubmatch(c.read("config.txt"), -1)
	if len(started) != 2 {
		t.Errorf("config.txt starts %q", started)
	}
	for _, file := range started {
		if _, err := os.Stat(filepath.Join(files, file[1])); err != nil {
			t.Error(err)
		}
	}
	boards, _ := filepath.Glob(filepath.Join(files, "*.dtb"))
	if len(boards) < 5 {
		t.Errorf("descriptions of %d kinds of boards", len(boards))
	}
	get := func(board, kind, node, property string) string {
		said, err := exec.CommandContext(t.Context(), "fdtget", "-t", kind, board, node, property).CombinedOutput()
		if err != nil {
			t.Errorf("%s: %s", filepath.Base(board), said)
		}
		return strings.TrimSpace(string(said))
	}
	for _, board := range boards {
		if got, want := get(board, "i", "/onewire", "gpios"), get(board, "i", "/soc/gpio@7e200000", "phandle")+" 4 0"; got != want {
			t.Errorf("%s: the bus is at %s, want %s", filepath.Base(board), got, want)
		}
		for _, line := range []string{"GPIO17", "GPIO18", "GPIO22", "GPIO23"} {
			if !strings.Contains(" "+get(board, "s", "/soc/gpio@7e200000", "gpio-line-names")+" ", " "+line+" ") {
				t.Errorf("%s has no line %s", filepath.Base(board), line)
			}
		}
	}
}

// ready is a card of somebody's own, as deploy/image/build wrote it.
type ready struct {
	*card
}

// newReady writes the image to a card of 3 GB.
func newReady(t *testing.T) ready {
	t.Helper()
	dir := os.Getenv("WITHY_EMULATED")
	if dir == "" {
		t.Skip("deploy/emulated/run starts this")
	}
	c := ready{&card{t, dir, filepath.Join(t.TempDir(), "card")}}
	if said, err := exec.CommandContext(t.Context(), "cp", "--sparse=always", filepath.Join(dir, "../image/withy.img"), c.path).CombinedOutput(); err != nil {
		t.Fatalf("%s %v", said, err)
	}
	if err := os.Truncate(c.path, 3_000_000_000/512*512); err != nil {
		t.Fatal(err)
	}
	return c
}

func (c ready) qemu() []string {
	return []string{"-dtb", filepath.Join(c.dir, "board-card.dtb"),
		"-drive", "if=none,id=card,format=raw,cache=writeback,file=" + c.path, "-device", "virtio-blk-device,drive=card"}
}

func (c ready) plug() *board {
	c.t.Helper()
	return plug(c.t, c.dir, "initramfs.card", c.qemu()...)
}

// boot starts a board with the card, water above its float and nobody at its buttons.
func (c ready) boot() *board {
	c.t.Helper()
	b := power(c.t, c.dir, "initramfs.card", c.qemu()...)
	b.pair = nil // by its button and no other way
	for _, line := range []int{levelLine, palmLine, pedalLine} {
		b.set(line, line != levelLine)
	}
	return b
}

// read returns a file of the card's first partition, as any computer shows it.
func (c ready) read(name string) string {
	c.t.Helper()
	text, err := exec.CommandContext(c.t.Context(), "mtype", "-i", c.path+"@@4M", "::"+name).Output()
	if err != nil {
		c.t.Fatalf("%s on the card: %v", name, err)
	}
	return string(text)
}

// sheet returns what a phone reads in the square codes of the sheet. The sheet loads nothing,
// and says the same in letters.
func (c ready) sheet() (codes []string) {
	c.t.Helper()
	html := c.read("withy.html")
	if strings.Contains(html, "src=") || strings.Contains(html, "@") {
		c.t.Errorf("a sheet that loads something, or says nothing: %s", html)
	}
	pictures := regexp.MustCompile(`(?s)<svg.*?</svg>`).FindAllString(html, -1)
	for _, svg := range pictures {
		codes = append(codes, c.scan(svg))
	}
	if len(codes) != 2 {
		c.t.Fatalf("%d square codes on the sheet", len(codes))
	}
	for _, word := range regexp.MustCompile(`[SP]:([^;]+)|(http:.*)`).FindAllStringSubmatch(codes[0]+"\n"+codes[1], -1) {
		if said := word[1] + word[2]; !strings.Contains(html, "<b>"+said+"</b>") {
			c.t.Errorf("the sheet doesn't say %q", said)
		}
	}
	return codes
}

// scan reads a square code by ZBar, as a camera's picture of it.
func (c ready) scan(svg string) string {
	c.t.Helper()
	picture := filepath.Join(c.t.TempDir(), "code.png")
	draw := exec.CommandContext(c.t.Context(), "rsvg-convert", "--background-color=white", "--width=400", "--output="+picture)
	draw.Stdin = strings.NewReader(svg)
	if said, err := draw.CombinedOutput(); err != nil {
		c.t.Fatalf("%s %v", said, err)
	}
	text, err := exec.CommandContext(c.t.Context(), "zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", picture).Output()
	if err != nil {
		c.t.Fatalf("a code that can't be read: %v", err)
	}
	return strings.TrimSpace(string(text))
}

// joins has a phone, with a radio and a network of its own on the emulated board, join by a
// name and a password and ask for an address. From then on b.page is what the phone sees.
func (b *board) joins(network, password, url string) {
	b.t.Helper()
	b.write("/run/phone.conf", fmt.Sprintf("network={\nssid=%q\npsk=%q\n}\n", network, password))
	b.root(`set -e
		ip netns add phone
		iw phy "$(cat /sys/class/net/wlan1/phy80211/name)" set netns name phone
		ip netns exec phone wpa_supplicant -B -D nl80211 -i wlan1 -c /run/phone.conf`)
	b.until("the phone joins and has an address", 2*time.Minute, func() bool {
		b.root("ip netns exec phone timeout 10 /usr/lib/klibc/bin/ipconfig -t 8 -c dhcp wlan1")
		return strings.Contains(b.root("ip netns exec phone ip -4 -o address show wlan1"), "inet 10.42.0.")
	})
	b.root("systemd-run --unit=phone --socket-property=ListenStream=8017 -p NetworkNamespacePath=/run/netns/phone /lib/systemd/systemd-socket-proxyd 10.42.0.1:80")
	b.host = strings.Trim(strings.TrimPrefix(url, "http:"), "/")
	b.until("the page answers the phone", time.Minute, func() bool {
		answer, err := b.visit("GET", "/", nil)
		if err != nil {
			return false
		}
		defer answer.Body.Close()
		page, _ := io.ReadAll(answer.Body)
		return answer.StatusCode == http.StatusOK && strings.Contains(string(page), "<title>Withy")
	})
}

// letIn has the phone ask to be paired, and somebody hold the palm button down.
func (b *board) letIn() {
	b.t.Helper()
	ask := func() bool {
		answer, err := b.visit("POST", "/api/pair", []byte(`{"name": "phone", "ask": "0123456789abcdef"}`))
		if err != nil {
			return false
		}
		defer answer.Body.Close()
		var paired struct{ Role string }
		_ = json.NewDecoder(answer.Body).Decode(&paired)
		if i := slices.IndexFunc(answer.Cookies(), func(c *http.Cookie) bool { return c.Name == "withy" }); i >= 0 {
			b.token = answer.Cookies()[i].Value
		}
		return paired.Role == "crew" && b.token != ""
	}
	for range 3 {
		if ask() {
			b.t.Fatal("let in without a press")
		}
		if answer, err := b.visit("GET", "/api/status", nil); err != nil || answer.StatusCode != http.StatusUnauthorized {
			b.t.Fatalf("who isn't paired is told how the box is: %v %v", answer, err)
		}
		time.Sleep(time.Second)
	}
	b.set(palmLine, false)
	for held := time.Now(); time.Since(held) < 6*time.Second; time.Sleep(time.Second) {
		ask()
	}
	b.set(palmLine, true)
	b.until("the button, held and let go, has let the phone in", 20*time.Second, ask)
	if _, ok := b.look(); !ok {
		b.t.Error("let in, and not told how the box is")
	}
}

// lines sees that float and sounder are where wiring.md has them.
func (b *board) lines() {
	b.t.Helper()
	b.until("the float is seen to be up", 20*time.Second, func() bool { v, _ := b.look(); return v.Status.Water.Switch == "closed" })
	since := time.Now()
	answer, err := b.visit("POST", "/api/sound", []byte(`{"id": "try", "sound": "pull"}`))
	if err != nil {
		b.t.Fatal(err)
	}
	answer.Body.Close()
	b.sounds("pull", since, 30*time.Second)
}

// locked sees that nobody gets in as it comes, and by a key that was put on the card, and by
// nothing else.
func (b *board) locked() {
	b.t.Helper()
	b.says("", `awk -F: '$2 !~ /^[!*]/' /etc/shadow`)
	b.says("", "ss -Hltn 'sport = 22'")
	b.says("10.42.0.1:80", "ss -Hltn | awk '{ print $4 }' | grep -v ':8017$\\|:8018$'")
	b.root(`set -e
		ssh-keygen -q -t ed25519 -N '' -f /run/key
		mount -o remount,rw /boot/firmware
		cp /run/key.pub /boot/firmware/authorized_keys
		mount -o remount,ro /boot/firmware
		systemctl start ssh`)
	const in = "ssh -o StrictHostKeyChecking=no -o UserKnownHostsFile=/dev/null -o LogLevel=ERROR "
	b.says("root", in+"-o BatchMode=yes -i /run/key root@127.0.0.1 whoami")
	b.wants(b.root(in+"-o BatchMode=yes root@127.0.0.1 whoami 2>&1"), "Permission denied (publickey).")
}
