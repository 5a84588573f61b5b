package door

import (
	"context"
	"errors"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

func opened(t *testing.T, data string) *Door {
	t.Helper()
	d, err := Open(data)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func let(t *testing.T, d *Door, name string, role Role) string {
	t.Helper()
	token, err := d.Let(name, role)
	if err != nil {
		t.Fatal(err)
	}
	return token
}

func TestRoles(t *testing.T) {
	for _, c := range []struct {
		is, need Role
		may      bool
	}{
		{Nobody, Nobody, true}, {Nobody, View, false}, {Nobody, Crew, false},
		{View, View, true}, {View, Crew, false}, {Crew, View, true}, {Crew, Crew, true}, {"owner", View, false},
	} {
		if got := c.is.May(c.need); got != c.may {
			t.Errorf("%q where %q is needed: %v", c.is, c.need, got)
		}
	}
}

func TestKeysAreKept(t *testing.T) {
	data := t.TempDir()
	d := opened(t, data)
	phone, tablet := let(t, d, "phone", Crew), let(t, d, "tablet", View)
	for range 2 { // before and after a restart
		if k, ok := d.Knows(phone); !ok || k.Name != "phone" || k.Role != Crew {
			t.Errorf("the phone is %+v, %v", k, ok)
		}
		if k, ok := d.Knows(tablet); !ok || k.Role != View {
			t.Errorf("the tablet is %+v, %v", k, ok)
		}
		for _, none := range []string{"", "x", strings.ToLower(phone), phone + "A", d.Keys()[0].Hash} {
			if k, ok := d.Knows(none); ok {
				t.Errorf("%q is known as %+v", none, k)
			}
		}
		d = opened(t, data)
	}
	text, err := os.ReadFile(filepath.Join(data, keysFile))
	if err != nil || strings.Contains(string(text), phone) || strings.Contains(string(text), tablet) {
		t.Errorf("a token is kept: %s %v", text, err)
	}
	if info, err := os.Stat(filepath.Join(data, keysFile)); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("its mode is %v, %v", info.Mode(), err)
	}
	if phone == tablet || len(phone) < 26 { // 26 letters of base 32 are 130 bits
		t.Errorf("tokens %q and %q", phone, tablet)
	}
}

func TestFileOfAll(t *testing.T) {
	data := t.TempDir()
	let(t, opened(t, data), "phone", Crew)
	name := filepath.Join(data, keysFile)
	if err := os.Chmod(name, 0o644); err != nil {
		t.Fatal(err)
	}
	opened(t, data)
	if info, _ := os.Stat(name); info.Mode().Perm() != 0o600 {
		t.Errorf("a file that anybody could read is %v", info.Mode())
	}
}

func TestDamagedFileLetsNobodyIn(t *testing.T) {
	for _, text := range []string{
		"", "{", "[{}]", `[{"id":"a","name":"x","role":"owner","sha256":"47DEQpj8HBSa-_TImW-5JCeuQeRkm5NMpJWZG3hSuFU"}]`,
		`[{"id":"a","name":"x","role":"crew","sha256":""}]`, `[{"id":"","name":"x","role":"crew","sha256":"47DEQpj8HBSa-_TImW-5JCeuQeRkm5NMpJWZG3hSuFU"}]`,
	} {
		data := t.TempDir()
		name := filepath.Join(data, keysFile)
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		d, err := Open(data)
		if err == nil || len(d.Keys()) != 0 {
			t.Errorf("%q: %v, %v", text, d.Keys(), err)
		}
		if kept, err := os.ReadFile(name + ".damaged"); err != nil || string(kept) != text {
			t.Errorf("%q is not kept aside: %q %v", text, kept, err)
		}
		let(t, d, "phone", Crew)
	}
}

func TestUnkeptKeyLetsNobodyIn(t *testing.T) {
	data := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(data, nil, 0o600); err != nil { // no folder can be made here
		t.Fatal(err)
	}
	d, _ := Open(data)
	if token, err := d.Let("phone", Crew); err == nil || token != "" || len(d.Keys()) != 0 {
		t.Errorf("let in: %q %v", token, err)
	}
}

func TestLetRefuses(t *testing.T) {
	d := opened(t, t.TempDir())
	for _, name := range []string{"", " phone", "pho\nne", strings.Repeat("x", 41), "a\u202eb", "\xff"} {
		if _, err := d.Let(name, Crew); name != "\xff" && !errors.Is(err, ErrName) {
			t.Errorf("%q: %v", name, err)
		}
	}
	for _, role := range []Role{Nobody, "owner"} {
		if _, err := d.Let("phone", role); err == nil {
			t.Errorf("let in as %q", role)
		}
	}
	for len(d.Keys()) < mostKeys {
		let(t, d, "phone", View)
	}
	if _, err := d.Let("phone", View); !errors.Is(err, ErrFull) {
		t.Errorf("one too many: %v", err)
	}
}

// One token is good at two boxes, and after a restart; what no box has made is none.
func TestLetBy(t *testing.T) {
	token, data := let(t, opened(t, t.TempDir()), "scraper", View), t.TempDir()
	d := opened(t, data)
	if err := d.LetBy(token, "scraper", View); err != nil {
		t.Fatal(err)
	}
	if k, ok := opened(t, data).Knows(token); !ok || k.Name != "scraper" || k.Role != View {
		t.Errorf("it is %+v, %v", k, ok)
	}
	for text, want := range map[string]error{token: ErrKnown, "": ErrToken, "secret": ErrToken, strings.ToLower(token): ErrToken, token + "A": ErrToken, token + "\n": ErrToken} {
		if err := d.LetBy(text, "other", Crew); !errors.Is(err, want) {
			t.Errorf("%q: %v, want %v", text, err, want)
		}
	}
	if err := d.LetBy(strings.Repeat("A", 26), "", View); !errors.Is(err, ErrName) || len(d.Keys()) != 1 {
		t.Errorf("without a name: %v, %d keys", err, len(d.Keys()))
	}
}

func TestRevoke(t *testing.T) {
	data := t.TempDir()
	d := opened(t, data)
	phone, tablet := let(t, d, "phone", Crew), let(t, d, "tablet", View)
	key, _ := d.Knows(phone)
	during, leave := d.Stay(t.Context(), key)
	defer leave()
	if during.Err() != nil {
		t.Fatal("it may not stay")
	}
	if err := d.Revoke(key.ID); err != nil {
		t.Fatal(err)
	}
	if during.Err() == nil {
		t.Error("what it is told goes on")
	}
	if late, leave := d.Stay(t.Context(), key); late.Err() == nil {
		t.Error("it comes in once more")
	} else {
		leave()
	}
	if err := d.Revoke(key.ID); !errors.Is(err, ErrUnknown) {
		t.Errorf("again: %v", err)
	}
	d = opened(t, data)
	if _, ok := d.Knows(phone); ok {
		t.Error("a restart lets it in again")
	}
	if _, ok := d.Knows(tablet); !ok {
		t.Error("the other was sent away too")
	}
	if err := d.RevokeAll(); err != nil || len(d.Keys()) != 0 {
		t.Errorf("%v, %v", d.Keys(), err)
	}
	if _, err := os.Stat(filepath.Join(data, keysFile)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the file is still there: %v", err)
	}
}

func TestCode(t *testing.T) {
	d := opened(t, t.TempDir())
	if _, _, err := d.Code("", "phone"); !errors.Is(err, ErrCode) {
		t.Errorf("an empty code, none open: %v", err)
	}
	text, err := d.OpenCode(View)
	if err != nil || len(text) != 6 {
		t.Fatal(text, err)
	}
	token, role, err := d.Code(text, "phone")
	if err != nil || role != View {
		t.Fatal(role, err)
	}
	if k, ok := d.Knows(token); !ok || k.Role != View || k.Name != "phone" {
		t.Errorf("let in as %+v", k)
	}
	if _, _, err := d.Code(text, "other"); !errors.Is(err, ErrCode) {
		t.Errorf("the code is good twice: %v", err)
	}
	if _, err := d.OpenCode(Nobody); err == nil {
		t.Error("a code for no role")
	}
}

// Five wrong codes close the code, so that all that anybody learns by trying is one in
// two hundred thousand for each time that somebody at the board opens one.
func TestGuessing(t *testing.T) {
	d := opened(t, t.TempDir())
	text, _ := d.OpenCode(Crew)
	wrong := "000000"
	if text == wrong {
		wrong = "000001"
	}
	for range tries {
		if _, _, err := d.Code(wrong, "guesser"); !errors.Is(err, ErrCode) {
			t.Fatal(err)
		}
	}
	if _, _, err := d.Code(text, "guesser"); !errors.Is(err, ErrCode) {
		t.Errorf("the code is still open: %v", err)
	}
	before, _ := d.OpenCode(Crew)
	after, _ := d.OpenCode(Crew)
	if _, _, err := d.Code(before, "phone"); before != after && !errors.Is(err, ErrCode) {
		t.Errorf("two are open: %v", err)
	}
}

func TestCodeEnds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := opened(t, t.TempDir())
		text, _ := d.OpenCode(Crew)
		time.Sleep(CodeFor + time.Second)
		if _, _, err := d.Code(text, "phone"); !errors.Is(err, ErrCode) {
			t.Errorf("after two minutes: %v", err)
		}
	})
}

const (
	secret = "0123456789abcdef"
	other  = "fedcba9876543210"
)

func asks(t *testing.T, d *Door, secret, name string) string {
	t.Helper()
	token, err := d.Ask(secret, name)
	if err != nil {
		t.Fatal(err)
	}
	return token
}

func TestButton(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := opened(t, t.TempDir())
		if _, err := d.Press(); !errors.Is(err, ErrNobody) || d.Asked() {
			t.Errorf("nobody asks: %v", err)
		}
		for range 2 {
			if asks(t, d, secret, "phone") != "" || !d.Asked() {
				t.Error("let in without the button")
			}
		}
		if name, err := d.Press(); name != "phone" || err != nil {
			t.Errorf("pressed: %q %v", name, err)
		}
		if asks(t, d, other, "other") != "" {
			t.Error("the other was let in")
		}
		token := asks(t, d, secret, "phone")
		if k, ok := d.Knows(token); !ok || k.Role != Crew {
			t.Errorf("let in as %+v", k)
		}
		if asks(t, d, secret, "phone") != "" {
			t.Error("one press lets in twice")
		}
	})
}

// Whoever asks without end is not let in by a press that was meant for another.
func TestSeveralAsk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := opened(t, t.TempDir())
		asks(t, d, secret, "phone")
		asks(t, d, other, "other")
		if _, err := d.Press(); !errors.Is(err, ErrSeveral) {
			t.Errorf("pressed: %v", err)
		}
		if asks(t, d, secret, "phone")+asks(t, d, other, "other") != "" {
			t.Error("let in all the same")
		}
		time.Sleep(askFor - time.Second)
		asks(t, d, secret, "phone")
		time.Sleep(2 * time.Second) // the other has gone
		if name, err := d.Press(); name != "phone" || err != nil {
			t.Errorf("pressed: %q %v", name, err)
		}
		time.Sleep(grantFor + time.Second)
		if asks(t, d, secret, "phone") != "" {
			t.Error("let in by a press that is long past")
		}
	})
}

func TestAskRefuses(t *testing.T) {
	d := opened(t, t.TempDir())
	for _, bad := range []string{"", "short", strings.Repeat("x", 65)} {
		if _, err := d.Ask(bad, "phone"); !errors.Is(err, ErrAsk) {
			t.Errorf("%q: %v", bad, err)
		}
	}
	if _, err := d.Ask(secret, ""); !errors.Is(err, ErrName) {
		t.Error(err)
	}
	for i := range mostAsking {
		asks(t, d, secret+string(rune('a'+i)), "phone")
	}
	if _, err := d.Ask(secret, "phone"); !errors.Is(err, ErrBusy) {
		t.Errorf("one too many: %v", err)
	}
}

func TestWho(t *testing.T) {
	d := opened(t, t.TempDir())
	token := let(t, d, "phone", View)
	request := func(from string, change func(*http.Request)) *http.Request {
		r := httptest.NewRequest(http.MethodGet, "http://box.lan/", nil)
		r.RemoteAddr = from
		if change != nil {
			change(r)
		}
		return r
	}
	header := func(name, value string) func(*http.Request) {
		return func(r *http.Request) { r.Header.Set(name, value) }
	}
	secure := func(r *http.Request) {
		*r = *httptest.NewRequest(http.MethodGet, "https://box.lan/", nil)
		r.RemoteAddr = "10.0.0.9:4"
	}
	for name, c := range map[string]struct {
		r    *http.Request
		role Role
	}{
		"this machine":               {request("127.0.0.1:4", nil), Crew},
		"this machine by IPv6":       {request("[::1]:4", nil), Crew},
		"as IPv4 in IPv6":            {request("[::ffff:127.0.0.1]:4", nil), Crew},
		"a proxy on it":              {request("127.0.0.1:4", header("X-Forwarded-For", "10.0.0.9")), Nobody},
		"another proxy on it":        {request("127.0.0.1:4", header("Forwarded", "for=127.0.0.1")), Nobody},
		"elsewhere":                  {request("10.0.0.9:4", nil), Nobody},
		"elsewhere, says otherwise":  {request("10.0.0.9:4", header("X-Forwarded-For", "127.0.0.1")), Nobody},
		"no address":                 {request("", nil), Nobody},
		"token":                      {request("10.0.0.9:4", header("Authorization", "Bearer "+token)), View},
		"wrong token":                {request("10.0.0.9:4", header("Authorization", "Bearer "+token[1:])), Nobody},
		"password":                   {request("10.0.0.9:4", header("Authorization", "Basic "+token)), Nobody},
		"cookie":                     {request("10.0.0.9:4", header("Cookie", "withy="+token)), View},
		"cookie of TLS, in the open": {request("10.0.0.9:4", header("Cookie", "__Host-withy="+token)), Nobody},
		"cookie set in the open, over TLS": {request("", func(r *http.Request) {
			secure(r)
			r.Header.Set("Cookie", "withy="+token)
		}), Nobody},
		"cookie over TLS": {request("", func(r *http.Request) {
			secure(r)
			r.Header.Set("Cookie", "__Host-withy="+token)
		}), View},
	} {
		if got := d.Who(c.r); got.Role != c.role || got.Here && c.r.RemoteAddr[:3] == "10." {
			t.Errorf("%s: %+v, want %q", name, got, c.role)
		}
	}
}

func TestCookie(t *testing.T) {
	open, safe := httptest.NewRequest(http.MethodGet, "http://box.lan/", nil), httptest.NewRequest(http.MethodGet, "https://box.lan/", nil)
	if got := Cookie(safe, "T").String(); got != "__Host-withy=T; Path=/; Max-Age=34560000; HttpOnly; Secure; SameSite=Strict" {
		t.Error(got)
	}
	if got := Cookie(open, "T").String(); got != "withy=T; Path=/; Max-Age=34560000; HttpOnly; SameSite=Strict" {
		t.Error(got)
	}
	if got := Cookie(open, "").String(); got != "withy=; Path=/; Max-Age=0; HttpOnly; SameSite=Strict" {
		t.Error(got)
	}
}

func TestSocket(t *testing.T) {
	data := filepath.Join(t.TempDir(), "none yet")
	for range 2 { // a killed daemon leaves its socket behind
		l, err := Listen(data)
		if err != nil {
			t.Fatal(err)
		}
		if info, err := os.Stat(filepath.Join(data, socket)); err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("anybody may use it: %v %v", info.Mode(), err)
		}
		d := opened(t, data)
		server := &http.Server{Handler: ByTheSocket(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
			if who := d.Who(r); who.Role != Crew || !who.Here || !Inside(r) {
				t.Errorf("by the socket comes %+v", who)
			}
		}))}
		served := make(chan error, 1)
		go func() { served <- server.Serve(l) }()
		r, _ := http.NewRequestWithContext(context.Background(), http.MethodGet, "http://box/", nil)
		r.Header.Set("X-Forwarded-For", "10.0.0.9")
		if answer, err := Client(data).Do(r); err != nil || answer.Body.Close() != nil {
			t.Fatal(err)
		}
		if _, err := Listen(data); !errors.Is(err, ErrTaken) {
			t.Errorf("two have it: %v", err)
		}
		server.Close()
		<-served
		if err := os.WriteFile(filepath.Join(data, socket), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}
