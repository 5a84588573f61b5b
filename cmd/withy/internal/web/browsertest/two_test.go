package browsertest

import (
	"testing"
	"time"

	"withy/cmd/withy/internal/view"
)

// What is told in one browser is seen in another, and both show the same.
func TestTwoBrowsers(t *testing.T) {
	s := shop(t, "good", hot, 1)
	at := browser(t).open(t, phone, s.url)
	other := browser(t).open(t, tablet, s.url)
	at.press("#crew", "into B")
	const there = `document.querySelector("#box").textContent.includes("Slot B: rib 13")`
	took := other.wait(there)
	if t.Logf("seen after %v", took); took > 2*time.Second {
		t.Errorf("seen after %v, not 2 s", took)
	}
	at.wait(there)
	s.wait("both have the same view", func(*view.View) bool {
		mine, all := at.view()
		theirs, same := other.view()
		return mine == theirs && all == same
	})
}

// The first load is small, as the browser counts it, and all of it comes from the
// daemon itself.
func TestFirstLoad(t *testing.T) {
	const most = 200_000 // bytes, with heads, the first view and the log so far
	s := shop(t, "good", hot, 1)
	s.begin()
	p := browser(t).open(t, phone, s.url)
	p.stayed(s.url)
	p.mu.Lock()
	defer p.mu.Unlock()
	t.Logf("%d bytes in %d requests", p.bytes, len(p.asked))
	if len(p.asked) < 4 || p.bytes < 10_000 || p.bytes > most {
		t.Errorf("%d bytes for %q, at most %d", p.bytes, p.asked, most)
	}
}
