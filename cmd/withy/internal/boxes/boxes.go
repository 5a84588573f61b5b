// Package boxes looks at all the boxes of a shop, each by what its daemon tells everybody
// over HTTP. It has goroutines of its own; the watch over this daemon's own box has no part
// in it.
package boxes

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net/http"
	"slices"
	"sync"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/hail"
	"withy/cmd/withy/internal/view"
	"withy/steambox"
	"withy/steambox/measure"
	"withy/steambox/shop"
	"withy/steambox/words"
)

// Listed is a box of the shop as the configuration has it.
type Listed struct {
	Number  int     `json:"number"` // painted on it
	At      string  `json:"at"`     // its page, such as https://box-2.lan:8017
	Watts   float64 `json:"watts"`
	Circuit string  `json:"circuit"`
	Bench   string  `json:"bench"` // where it stands, as people say

	// Secret is where the token stands that lets this box look at it.
	Secret hail.Secret `json:"secret"`
	// SHA256 is of the certificate that it has made for itself, in small hexadecimal
	// digits; empty: it has one that this board trusts, or none.
	SHA256 string `json:"sha256,omitempty"`
}

// Shop is what is told of a shop.
type Shop struct {
	Number   int            `json:"number"` // of this box; 0: the only one
	Boxes    []Listed       `json:"boxes"`  // all, this one too
	Kettle   *shop.Shared   `json:"kettle"` // nil: each box has its own
	Circuits []shop.Circuit `json:"circuits"`
}

// Limits of one look at one box. A daemon's status has 10 to 50 KB; a rib takes up to 600
// bytes and 25 commas of it.
const (
	patience = 2 * time.Second
	mostByte = 1 << 20
	mostList = 50000            // entries of lists, by the commas: one takes up to 300 bytes when it is read, and three in the text
	farthest = 1e9              // any figure is nearer to 0
	every    = 2 * time.Second  // while somebody looks at the shop
	seldom   = 30 * time.Second // while nobody does: so that it is known since when a box is silent
	looking  = 15 * time.Second // how long somebody looks who asked once
	silentIn = 10 * time.Second // without an answer, a box that was asked is silent
)

// Watch looks at the boxes of a shop.
type Watch struct {
	shop    Shop
	own     func() *view.View
	log     *slog.Logger
	clients []*http.Client // one a box, in the order of the list
	lines   []hail.Line    // the same

	mu    sync.Mutex
	heard []heard // one a box, in the order of the list
	asked time.Time
	wake  chan struct{} // closed when somebody looks
}

// heard is what a box said last.
type heard struct {
	view  *view.View
	at    time.Time // of that; the beginning of the watch before anything was heard
	tried bool      // it was asked since then, and did not answer
}

// New returns a watch over a shop. own tells of the box with the shop's number, which is
// asked by no network.
func New(s Shop, own func() *view.View, log *slog.Logger) *Watch {
	w := &Watch{shop: s, own: own, log: log, heard: make([]heard, len(s.Boxes)), lines: make([]hail.Line, len(s.Boxes)), wake: make(chan struct{})}
	for i, b := range s.Boxes {
		w.heard[i].at = time.Now()
		w.clients = append(w.clients, b.client(&w.lines[i]))
	}
	return w
}

// client asks a box where the list says it is, through no proxy and following nobody
// elsewhere, neither by a redirect nor by a name that comes to point out of the shop.
func (l Listed) client(line *hail.Line) *http.Client {
	t := &http.Transport{DialContext: line.Dial, MaxIdleConnsPerHost: 1, MaxResponseHeaderBytes: 16 << 10, TLSClientConfig: &tls.Config{MinVersion: tls.VersionTLS12}}
	if l.SHA256 != "" {
		t.TLSClientConfig.InsecureSkipVerify = true //nolint:gosec // the very certificate is known
		t.TLSClientConfig.VerifyConnection = func(c tls.ConnectionState) error {
			if sum := sum(c.PeerCertificates[0]); sum != l.SHA256 {
				return &StrangerError{sum}
			}
			return nil
		}
	}
	return &http.Client{
		Timeout:       patience,
		Transport:     t,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}

func sum(c *x509.Certificate) string {
	s := sha256.Sum256(c.Raw)
	return hex.EncodeToString(s[:])
}

// Run looks at each box again and again until ctx is done, so that one that answers slowly
// keeps nobody waiting for the others.
func (w *Watch) Run(ctx context.Context) {
	var group sync.WaitGroup
	for i := range w.shop.Boxes {
		group.Go(func() { w.follow(ctx, i) })
	}
	group.Wait()
	w.close()
}

func (w *Watch) close() {
	for _, c := range w.clients {
		c.CloseIdleConnections()
	}
}

func (w *Watch) follow(ctx context.Context, i int) {
	for ctx.Err() == nil {
		v, err := w.look(ctx, i)
		w.mu.Lock()
		was := w.heard[i].tried
		w.heard[i].tried = err != nil
		if err == nil {
			w.heard[i] = heard{view: v, at: time.Now()}
		}
		pause, wake := seldom, w.wake
		if time.Since(w.asked) < looking {
			pause, wake = every, nil
		}
		w.mu.Unlock()
		if err != nil && !was && ctx.Err() == nil {
			w.log.Warn("a box of the shop does not answer", "box", w.shop.Boxes[i].Number, "at", w.shop.Boxes[i].At, "err", err)
		}
		select {
		case <-ctx.Done():
		case <-wake:
		case <-time.After(pause):
		}
	}
}

// What a box that is there may have against being looked at.
var (
	ErrName   = errors.New("it does not answer to that name: it belongs under its page.hosts")
	ErrClosed = errors.New("it does not let this box look: `withy pair --token shop --view` there makes the token for secret_file")
)

// StrangerError says that what answers has another certificate than is known.
type StrangerError struct {
	SHA256 string // of what it has
}

// Error says what it has, and what to do.
func (e *StrangerError) Error() string {
	return "its certificate is none that is known: if `withy pair` there shows this SHA-256, it belongs into sha256: " + e.SHA256
}

// OtherBoxError says that what answers is not the box that is listed.
type OtherBoxError struct {
	Number int // that it says it has; 0: none
}

// Error says which it is.
func (e *OtherBoxError) Error() string {
	if e.Number == 0 {
		return "what answers there has no number: it belongs under its shop.number"
	}
	return fmt.Sprintf("box %d answers there: see to the addresses", e.Number)
}

// Try asks each box but this one once and returns what is wrong, in the order of the list;
// nil where a box answers.
func (w *Watch) Try(ctx context.Context) []error {
	out := make([]error, len(w.shop.Boxes))
	var group sync.WaitGroup
	for i := range w.shop.Boxes {
		group.Go(func() { _, out[i] = w.look(ctx, i) })
	}
	group.Wait()
	w.close()
	return out
}

// look asks a box of the list for its status.
func (w *Watch) look(ctx context.Context, i int) (*view.View, error) {
	b := w.shop.Boxes[i]
	if b.Number == w.shop.Number {
		return w.own(), nil
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, b.At+"/api/status", nil)
	if err != nil {
		return nil, err
	}
	if b.Secret.Given() {
		token, err := b.Secret.Read()
		if err != nil {
			return nil, err
		}
		r.Header.Set("Authorization", "Bearer "+token)
	}
	answer, err := w.clients[i].Do(r)
	var unknown *tls.CertificateVerificationError
	if errors.As(err, &unknown) && len(unknown.UnverifiedCertificates) > 0 {
		return nil, &StrangerError{sum(unknown.UnverifiedCertificates[0])}
	}
	if err != nil {
		return nil, err
	}
	defer answer.Body.Close()
	switch answer.StatusCode {
	case http.StatusOK:
	case http.StatusMisdirectedRequest:
		return nil, ErrName
	case http.StatusUnauthorized, http.StatusForbidden:
		return nil, ErrClosed
	default:
		return nil, fmt.Errorf("status: %s", answer.Status)
	}
	text, err := io.ReadAll(io.LimitReader(answer.Body, mostByte+1))
	if err != nil {
		return nil, err
	}
	v, err := read(text)
	if err != nil {
		return nil, err
	}
	if v.Number != b.Number {
		return nil, &OtherBoxError{v.Number}
	}
	w.lines[i].Took()
	return v, nil
}

// read reads a status that the shop can be reckoned with.
func read(text []byte) (*view.View, error) {
	if len(text) > mostByte || bytes.Count(text, []byte{','}) > mostList {
		return nil, errors.New("it says more than a box has to say")
	}
	v := &view.View{}
	if err := json.Unmarshal(text, v); err != nil {
		return nil, err
	}
	w := &v.Status.Water
	figures := []*float64{&v.Speed, w.LeftL, w.DryLoS, w.KettleS, &w.LeadS}
	for _, c := range v.Status.Calls {
		figures = append(figures, c.InS, c.GoodS)
	}
	for _, p := range v.Status.Probes {
		figures = append(figures, p.TempC)
	}
	for _, x := range figures {
		if x != nil && math.Abs(*x) >= farthest {
			return nil, fmt.Errorf("it says %g, which no box has", *x)
		}
	}
	return v, nil
}

// ShopView is the whole shop at one moment, for the page and for programs.
type ShopView struct {
	Number   int           `json:"number"` // of this box; 0: the only one
	Units    measure.Units `json:"units"`  // that people see at this box; figures are metric
	Boxes    []ShopBox     `json:"boxes"`  // the next call first, silent ones last
	Kettle   string        `json:"kettle,omitempty"`
	Circuits []ShopCircuit `json:"circuits"`
}

// ShopBox is one box of the shop. Times in it count from now.
type ShopBox struct {
	Number    int            `json:"number"`
	At        string         `json:"at"`
	Bench     string         `json:"bench,omitempty"` // where it stands
	Silent    bool           `json:"silent"`          // it does not answer: nothing of what follows age_s is known, but for names
	Heard     bool           `json:"heard"`           // it was, at some time
	AgeS      float64        `json:"age_s"`           // since it was heard, or since this daemon listens
	Name      string         `json:"name,omitempty"`  // as it told last, and so on
	Boat      string         `json:"boat,omitempty"`  // whose rib is next
	Rehearsal bool           `json:"rehearsal,omitempty"`
	Phase     steambox.Phase `json:"phase,omitempty"`
	HeatOff   bool           `json:"heat_off,omitempty"`
	Call      *steambox.Call `json:"call,omitempty"`
	Says      string         `json:"says,omitempty"`    // the call as a sentence
	SteamC    *float64       `json:"steam_c,omitempty"` // air at the ends
	DoorC     *float64       `json:"door_c,omitempty"`
	LeftL     *float64       `json:"left_l,omitempty"`
	DryLoS    *float64       `json:"dry_lo_s,omitempty"` // until it may be dry, the early bound
	Switch    string         `json:"switch,omitempty"`   // closed: water above it; open: low; unknown
	Alarm     *alert.Alarm   `json:"alarm,omitempty"`    // the most urgent
	More      int            `json:"more_alarms,omitempty"`
	ToGo      int            `json:"ribs_to_go,omitempty"`
}

// ShopCircuit is what hangs on one circuit.
type ShopCircuit struct {
	Name  string  `json:"name"`
	Amps  float64 `json:"amps"` // that its breaker lets through
	OnA   float64 `json:"on_a"`
	AllA  float64 `json:"all_a"`
	Trips bool    `json:"trips"` // all at once are more
	Close bool    `json:"close"` // all at once are more than it bears for hours
	Says  string  `json:"says"`
}

// Shop returns the shop as it was heard last, and has the boxes asked more often for a
// while.
func (w *Watch) Shop() ShopView {
	w.mu.Lock()
	defer w.mu.Unlock()
	now := time.Now()
	if now.Sub(w.asked) >= looking {
		close(w.wake)
		w.wake = make(chan struct{})
	}
	w.asked = now
	all := make([]shop.Box, len(w.heard))
	at := map[int]int{}
	for i, h := range w.heard {
		all[i] = w.shop.Boxes[i].box(h, now)
		at[all[i].Number] = i
	}
	out := ShopView{Number: w.shop.Number, Boxes: []ShopBox{}, Circuits: []ShopCircuit{}}
	for _, b := range shop.Order(all) {
		i := at[b.Number]
		out.Boxes = append(out.Boxes, told(b, &w.shop.Boxes[i], w.heard[i], now))
	}
	var kettle shop.Shared
	if w.shop.Kettle != nil {
		kettle = *w.shop.Kettle
		out.Kettle = words.Kettle(shop.Kettle(all))
	}
	for _, l := range shop.Loads(w.shop.Circuits, all, kettle) {
		out.Circuits = append(out.Circuits, ShopCircuit{l.Name, l.Amps, l.OnA, l.AllA, l.Trips(), l.Close(), words.Circuit(l)})
	}
	return out
}

// box is a listed box with what it said last.
func (l Listed) box(h heard, now time.Time) shop.Box {
	b := shop.Box{Number: l.Number, Watts: l.Watts, Circuit: l.Circuit}
	b.Silent = h.tried && now.Sub(h.at) >= silentIn
	if h.view != nil {
		b.Status, b.AgeS = &h.view.Status, now.Sub(h.at).Seconds()*max(1, h.view.Speed) // a rehearsal's time is faster
	}
	return b
}

// told is what the shop's page shows of a box.
func told(b shop.Box, l *Listed, h heard, now time.Time) ShopBox {
	out := ShopBox{Number: b.Number, At: l.At, Bench: l.Bench, Silent: b.Silent, Heard: h.view != nil, AgeS: now.Sub(h.at).Seconds()}
	if h.view == nil {
		return out
	}
	s := &h.view.Status
	out.Name, out.Boat, out.Rehearsal = s.Box, s.Boat, s.Rehearsal
	if b.Silent {
		return out
	}
	out.Phase, out.HeatOff, out.ToGo = s.Phase, s.HeatOff, s.Bent.ToGo
	out.LeftL, out.DryLoS, out.Switch = s.Water.LeftL, b.DryS(), s.Water.Switch
	if n := len(s.Probes); n > 0 {
		out.SteamC, out.DoorC = s.Probes[0].TempC, s.Probes[n-1].TempC
	}
	if c, ok := b.Call(); ok {
		out.Call, out.Says = &c, words.Call(c)
		out.Boat = cmp.Or(c.Boat, out.Boat)
	}
	out.Alarm, out.More = worst(h.view.Alarms)
	return out
}

// worst returns the most urgent of the alarms, which come in that order, and how many more
// there are: first those whose cause is there, then those that are over, but not done with.
func worst(alarms []alert.Alarm) (first *alert.Alarm, more int) {
	if len(alarms) == 0 {
		return nil, 0
	}
	so := func(a alert.Alarm) bool { return a.State == alert.Raised || a.State == alert.HeardBy }
	return &alarms[max(0, slices.IndexFunc(alarms, so))], len(alarms) - 1
}
