// Package browsertest looks at the page as a person would: in a real browser, served
// by the whole daemon on a rehearsal box.
//
// Chromium is driven over its debugging pipe, one JSON message after another with a
// zero byte between them. The protocol: chromedevtools.github.io/devtools-protocol.
package browsertest

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"
)

// patience is how long anything in a test may take that is not measured.
const patience = 20 * time.Second

// chromium is a browser that runs without a screen.
type chromium struct {
	t      *testing.T
	orders *os.File

	mu      sync.Mutex
	sent    int
	waiting map[int]chan message // for the answers to orders, by their ids
	pages   map[string]*page     // by the ids of their debugging sessions
}

// message is an order, the answer to one, or something that happened.
type message struct {
	ID      int             `json:"id,omitempty"`
	Session string          `json:"sessionId,omitempty"`
	Method  string          `json:"method,omitempty"`
	Params  json.RawMessage `json:"params,omitempty"`
	Result  json.RawMessage `json:"result,omitempty"`
	Error   *struct {
		Message string `json:"message"`
	} `json:"error,omitempty"`
}

// browser starts a Chromium of its own for a test. That it is missing is a failure.
func browser(t *testing.T) *chromium {
	t.Helper()
	long(t)
	program, err := exec.LookPath("chromium")
	if err != nil {
		t.Fatalf("these tests want Debian's package chromium: %v", err)
	}
	home := t.TempDir()
	// Its sandbox does not work for root, and it looks at our own page only.
	cmd := exec.Command(program, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--mute-audio",
		"--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-crash-reporter",
		"--user-data-dir="+filepath.Join(home, "profile"), "--remote-debugging-pipe")
	cmd.Env = append(os.Environ(), "HOME="+home)
	theirOrders, orders := pipe(t)
	news, theirNews := pipe(t)
	cmd.ExtraFiles = []*os.File{theirOrders, theirNews} // 3 and 4, where Chromium looks for them
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	theirOrders.Close()
	theirNews.Close()
	c := &chromium{t: t, orders: orders, waiting: map[int]chan message{}, pages: map[string]*page{}}
	var reader sync.WaitGroup
	reader.Go(func() { c.listen(news) })
	t.Cleanup(func() {
		_ = c.ask(context.Background(), "", "Browser.close", nil, nil) // it may end before it answers
		if err := cmd.Wait(); err != nil {
			t.Errorf("chromium: %v", err)
		}
		reader.Wait()
	})
	return c
}

func pipe(t *testing.T) (r, w *os.File) {
	t.Helper()
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close(); w.Close() })
	return r, w
}

// listen hands answers to those who wait for them, and what happens to its page.
func (c *chromium) listen(news *os.File) {
	r := bufio.NewReader(news)
	for {
		text, err := r.ReadBytes(0)
		if err != nil {
			c.gone()
			return
		}
		var m message
		if err := json.Unmarshal(text[:len(text)-1], &m); err != nil {
			c.t.Errorf("chromium said %q: %v", text, err)
			continue
		}
		c.mu.Lock()
		answer, p := c.waiting[m.ID], c.pages[m.Session]
		delete(c.waiting, m.ID)
		c.mu.Unlock()
		switch {
		case answer != nil:
			answer <- m
		case p != nil:
			p.happened(m)
		}
	}
}

// gone lets nobody wait for a browser that has ended.
func (c *chromium) gone() {
	c.mu.Lock()
	defer c.mu.Unlock()
	for id, answer := range c.waiting {
		close(answer)
		delete(c.waiting, id)
	}
}

var errGone = errors.New("chromium has ended")

// ask gives an order, to the page of a debugging session or ("") the browser, and
// puts what is answered into result, unless that is nil.
func (c *chromium) ask(ctx context.Context, session, method string, params map[string]any, result any) error {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	text, err := json.Marshal(params)
	if err != nil {
		return err
	}
	answer := make(chan message, 1)
	c.mu.Lock()
	c.sent++
	m := message{ID: c.sent, Session: session, Method: method}
	if params != nil {
		m.Params = text
	}
	c.waiting[m.ID] = answer
	text, err = json.Marshal(m)
	if err == nil {
		_, err = c.orders.Write(append(text, 0))
	}
	c.mu.Unlock()
	if err != nil {
		return fmt.Errorf("%s: %w", method, err)
	}
	select {
	case m, ok := <-answer:
		switch {
		case !ok:
			return errGone
		case m.Error != nil:
			return fmt.Errorf("%s: %s", method, m.Error.Message)
		case result == nil:
			return nil
		}
		return json.Unmarshal(m.Result, result)
	case <-ctx.Done():
		return fmt.Errorf("%s: no answer from chromium: %w", method, ctx.Err())
	}
}
