package emulated

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
)

// TestPowerCuts takes the power from a board with the package on it at random moments of
// a session, WITHY_CUTS times (2 if that isn't set), and sees after each that all of which
// it had been told "done" is on record.
func TestPowerCuts(t *testing.T) {
	t.Parallel()
	cuts := 2
	if n, err := strconv.Atoi(os.Getenv("WITHY_CUTS")); err == nil {
		cuts = n
	}
	c := newCard(t)
	b := c.boot()
	b.wants(b.root("dpkg -i /packages/withy_arm64.deb"), "Setting up withy")
	b.heat(15, 15)
	b.configure()
	b.root("sync")
	b.until("the page answers", time.Minute, func() bool { _, ok := b.look(); return ok })
	token := b.token
	var kept []string
	lost, beyond := 0, 0
	for cut := range cuts {
		done := make(chan []string)
		go func() { done <- b.chatter(cut) }()
		after := time.Duration(rand.Int64N(int64(12 * time.Second)))
		time.Sleep(after)
		b.cut()
		told := <-done
		kept = append(kept, told...)
		t.Logf("%6.1f s  until cut %d, with %d events told and answered", after.Seconds(), cut+1, len(told))

		b = c.boot()
		b.token = token // who was paired stays so
		b.heat(15, 15)
		b.until("the page answers", time.Minute, func() bool { _, ok := b.look(); return ok })
		v, _ := b.look()
		for _, trouble := range v.Troubles {
			if !strings.HasPrefix(trouble, "How long the board was off is not known") { // its clock isn't set by anybody
				t.Errorf("after cut %d the page says %q", cut+1, trouble)
			}
		}
		found := map[string]bool{}
		for id := range strings.FieldsSeq(b.root("(" + exported + `) | grep -o '"cut-[0-9]*-[0-9]*"' | tr -d '"' | sort -u`)) {
			found[id] = true
		}
		for _, id := range kept {
			if !found[id] {
				lost++
				t.Errorf("after cut %d: %s was answered with done and is not on record", cut+1, id)
			}
		}
		beyond = len(found) - len(kept)
	}
	if len(kept) == 0 {
		t.Error("nothing was told and answered")
	}
	t.Logf("%d cuts, %d events answered, %d lost; %d are on record of which no answer came", cuts, len(kept), lost, beyond)
}

// chatter tells the board one event after the other until it answers no more, and returns
// the ids of those that it answered with done.
func (b *board) chatter(cut int) (done []string) {
	for i := 0; ; i++ {
		id := fmt.Sprintf("cut-%d-%d", cut, i)
		body, _ := json.Marshal(map[string]string{"id": id, "kind": "note", "text": strings.Repeat("x", 1+i%150)})
		answer, err := b.visit("POST", "/api/event", body)
		if err != nil {
			return done
		}
		answer.Body.Close()
		if answer.StatusCode == http.StatusOK {
			done = append(done, id)
		}
		time.Sleep(time.Duration(rand.IntN(60)) * time.Millisecond)
	}
}
