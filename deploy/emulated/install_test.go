package emulated

import (
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"
)

// TestByHand types what install.md says, line by line, on a board that has never seen
// Withy, and then the page must show both ends to whoever has typed the code. Left out are
// the pin, which is there, and the copying; the editor's changes are made without one.
func TestByHand(t *testing.T) {
	t.Parallel()
	b := newCard(t).boot()
	defer b.explain()
	b.heat(21, 19)
	b.root("mkdir -p /root/home && cp /packages/withy_arm64.deb \"/root/home/withy_$(dpkg-deb -f /packages/withy_arm64.deb Version)_arm64.deb\"")
	steps := typed(t)
	if len(steps) < 6 {
		t.Fatalf("install.md has %q", steps)
	}
	for _, line := range steps {
		switch {
		case strings.HasPrefix(line, "echo dtoverlay"), line == "sudo reboot", strings.HasPrefix(line, "scp "):
			continue // the pretended bus is there; the package too
		case line == "sudo nano /etc/withy/withy.yaml":
			b.edit()
			continue
		}
		said := b.root("cd /root/home; sudo() { [ \"$1\" != -u ] || shift 2; \"$@\"; }; " + line)
		t.Logf("$ %s\n%s", line, said)
		if line == "withy probes" {
			b.wants(said, "28-000000000001", "28-000000000008")
		}
		if line == "sudo -u withy withy pair" {
			b.wants(said, "type it there within 2 minutes", "SHA-256")
			b.page = strings.Replace(b.page, "http:", "https:", 1)
			b.letInBy(regexp.MustCompile(`\b[0-9]{3} ?[0-9]{3}\b`).FindString(said))
			b.until("the page shows both ends", time.Minute, func() bool {
				v, ok := b.look()
				return ok && len(v.Status.Probes) == 2 && v.Status.Probes[0].TempC != nil && v.Status.Probes[1].TempC != nil &&
					*v.Status.Probes[0].TempC > *v.Status.Probes[1].TempC
			})
		}
	}
	b.until("the unit runs", 30*time.Second, func() bool { return b.active() })
}

// letInBy types a code on the page.
func (b *board) letInBy(code string) {
	b.t.Helper()
	b.pair = nil
	answer, err := b.visit("POST", "/api/pair", fmt.Appendf(nil, `{"name": "phone", "code": %q}`, strings.ReplaceAll(code, " ", "")))
	if err != nil {
		b.t.Fatal(err)
	}
	answer.Body.Close()
	for _, c := range answer.Cookies() {
		if strings.HasSuffix(c.Name, "withy") {
			b.token = c.Value
		}
	}
	if b.token == "" {
		b.t.Fatalf("the code %q lets nobody in: %s", code, answer.Status)
	}
}

// edit does to the configuration what the guide tells, as with an editor.
func (b *board) edit() {
	b.t.Helper()
	text := b.read(installedFile)
	for _, change := range [][2]string{
		{"28-000000000002", "28-000000000008"}, // the first probe has the name of the example's
		{"listen: 127.0.0.1:8017", "listen: 0.0.0.0:8017"},
		{"hosts: []", `hosts: ["127.0.0.1"]`},
	} {
		if strings.Count(text, change[0]) != 1 {
			b.t.Fatalf("the installed configuration has not one %q", change[0])
		}
		text = strings.Replace(text, change[0], change[1], 1)
	}
	b.write(installedFile, text)
}

// typed returns the lines of install.md that are typed on a board, in their order.
func typed(t *testing.T) (lines []string) {
	t.Helper()
	guide, err := os.ReadFile("../install.md")
	if err != nil {
		t.Fatal(err)
	}
	text, _, _ := strings.Cut(string(guide), "\n## ")
	in := false
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if strings.HasPrefix(line, "```") {
			in = !in
		} else if in {
			lines = append(lines, line)
		}
	}
	return lines
}
