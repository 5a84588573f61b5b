package door

import (
	"context"
	"errors"
	"io/fs"
	"net"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Visitor is who sent a request.
type Visitor struct {
	Role Role
	Key  Key  // the zero one on the board itself
	Here bool // on the board itself
}

// Who returns who sent a request: somebody on the board, the bearer of a token, or a
// browser with the cookie that it was given.
func (d *Door) Who(r *http.Request) Visitor {
	if here(r) {
		return Visitor{Role: Crew, Here: true}
	}
	if key, ok := d.Knows(shown(r)); ok {
		return Visitor{Role: key.Role, Key: key}
	}
	return Visitor{}
}

// here reports whether a request comes from the board itself. What a proxy on the board
// hands on comes from elsewhere.
func here(r *http.Request) bool {
	if Inside(r) {
		return true
	}
	for _, name := range []string{"Forwarded", "X-Forwarded-For", "X-Real-Ip", "Via"} {
		if r.Header.Get(name) != "" {
			return false
		}
	}
	from, err := netip.ParseAddrPort(r.RemoteAddr)
	return err == nil && from.Addr().Unmap().IsLoopback()
}

// shown returns the token that a request shows, "" for none.
func shown(r *http.Request) string {
	if token, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer "); ok {
		return token
	}
	if c, err := r.Cookie(cookieName(r)); err == nil {
		return c.Value
	}
	return ""
}

// cookieName is one that only this host can have set, and only over TLS, where there is
// TLS.
func cookieName(r *http.Request) string {
	if r.TLS != nil {
		return "__Host-withy"
	}
	return "withy"
}

// cookieFor is how long a browser keeps its token: the longest that browsers allow.
const cookieFor = 400 * 24 * time.Hour

// Cookie is what a browser keeps its token in; an empty token has it forget.
func Cookie(r *http.Request, token string) *http.Cookie {
	c := &http.Cookie{
		Name: cookieName(r), Value: token, Path: "/", MaxAge: int(cookieFor.Seconds()),
		Secure: r.TLS != nil, HttpOnly: true, SameSite: http.SameSiteStrictMode,
	}
	if token == "" {
		c.MaxAge = -1
	}
	return c
}

// inside marks requests that came by the socket in the data folder.
type inside struct{}

// Inside reports whether a request came by the socket in the data folder: from somebody
// who may read what is in there.
func Inside(r *http.Request) bool { return r.Context().Value(inside{}) != nil }

// ByTheSocket is h for requests that come by the socket.
func ByTheSocket(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), inside{}, true)))
	})
}

const socket = "door.sock"

// ErrTaken says that another daemon has the data folder.
var ErrTaken = errors.New("another daemon has the data folder")

// Listen makes the socket of a data folder, by which the verbs on the board reach its
// daemon, and the folder where there is none. Nobody else than its owner may use it.
func Listen(data string) (net.Listener, error) {
	if err := os.MkdirAll(data, 0o700); err != nil {
		return nil, err
	}
	name := filepath.Join(data, socket)
	if c, err := net.Dial("unix", name); err == nil {
		return nil, errors.Join(ErrTaken, c.Close())
	}
	if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	l, err := net.Listen("unix", name)
	if err != nil {
		return nil, err
	}
	if err := os.Chmod(name, 0o600); err != nil {
		return nil, errors.Join(err, l.Close())
	}
	return l, nil
}

// Client talks to the daemon of a data folder by its socket. Any host will do.
func Client(data string) *http.Client {
	dial := func(ctx context.Context, _, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, "unix", filepath.Join(data, socket))
	}
	return &http.Client{Transport: &http.Transport{DialContext: dial}}
}
