package hail

import (
	"bytes"
	"cmp"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime"
	"net"
	"net/http"
	"net/url"
	"os"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// Post is the way to one address by HTTP. It follows no redirect, uses no proxy, and believes
// no certificate that it can't verify.
type Post struct {
	URL       *url.URL
	Authority string // file with the certificates of those who vouch for the server; "": the system's
	Secret    Secret
	User      string // with Secret as its password; "": Secret is a bearer token
	client    *http.Client
	line      *Line
}

const (
	mostAnswer = 16 << 10 // bytes that are read of an answer, and of its headers
	toAnswer   = 8 * time.Second
)

// connect makes the client at the first use, so that an authority's file that is put right is
// used without a restart.
func (p *Post) connect() error {
	if p.client != nil {
		return nil
	}
	roots, err := authorities(p.Authority)
	if err != nil {
		return err
	}
	if p.line == nil {
		p.line = &Line{}
	}
	p.client = &http.Client{
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport: &http.Transport{
			DialContext:           p.line.Dial,
			TLSClientConfig:       &tls.Config{RootCAs: roots, MinVersion: tls.VersionTLS12},
			TLSHandshakeTimeout:   toAnswer,
			ResponseHeaderTimeout: toAnswer, MaxResponseHeaderBytes: mostAnswer,
			MaxIdleConns: 1, IdleConnTimeout: 90 * time.Second, DisableCompression: true,
		},
	}
	return nil
}

// send posts a body to a path below the address and returns the answer's headers once it was
// taken. authorize says that Secret goes with it.
func (p *Post) send(ctx context.Context, path string, body []byte, headers map[string]string, authorize bool) (http.Header, error) {
	r, err := p.request(ctx, http.MethodPost, path, body)
	if err != nil {
		return nil, err
	}
	for name, value := range headers {
		r.Header.Set(name, value)
	}
	return p.do(r, authorize)
}

func (p *Post) request(ctx context.Context, method, path string, body []byte) (*http.Request, error) {
	to := p.URL
	if path != "" { // else a slash at its end would be lost
		to = to.JoinPath(path)
	}
	r, err := http.NewRequestWithContext(ctx, method, to.String(), bytes.NewReader(body))
	if err != nil {
		return nil, &Failure{Says: "its address can't be used"}
	}
	return r, nil
}

func (p *Post) do(r *http.Request, authorize bool) (http.Header, error) {
	if err := p.connect(); err != nil {
		return nil, err
	}
	if authorize && p.Secret.Given() {
		secret, err := p.Secret.Read()
		if err != nil {
			return nil, err
		}
		p.authorize(r, secret)
	}
	answer, err := p.client.Do(r)
	if err != nil {
		return nil, unreached(p.URL.Host, err)
	}
	defer answer.Body.Close()
	// Read to its end, so that the connection can be used again.
	_, _ = io.Copy(io.Discard, io.LimitReader(answer.Body, mostAnswer))
	if err := p.refused(answer); err != nil {
		return nil, err
	}
	p.line.Took()
	return answer.Header, nil
}

func (p *Post) authorize(r *http.Request, secret string) {
	if p.User != "" {
		r.SetBasicAuth(p.User, secret)
		return
	}
	r.Header.Set("Authorization", "Bearer "+secret)
}

// refused returns why an answer is no success. A page in HTML is a gateway's or a login's, and
// not what a server that took a notice says.
func (p *Post) refused(a *http.Response) error {
	f := &Failure{After: retryAfter(a.Header)}
	kind, _, _ := mime.ParseMediaType(a.Header.Get("Content-Type"))
	code := a.StatusCode
	switch {
	case code/100 == 2 && kind == "text/html":
		f.Key, f.Says = "url", "it answers with a web page: is a login or another server in between?"
	case code/100 == 2:
		return nil
	case code/100 == 3:
		f.Key, f.Says = "url", fmt.Sprintf("it sends elsewhere (%d); redirects aren't followed: put the right address into url", code)
	case code == http.StatusUnauthorized || code == http.StatusForbidden:
		f.Key, f.Says = "secret_file", fmt.Sprintf("it refuses the user or the secret (%d)", code)
	case code == http.StatusNotFound:
		f.Key, f.Says = "url", "it knows no such place (404): check url and topic"
	case code == http.StatusTooManyRequests:
		f.Says = "it asks to be left alone for a while (429)"
	default:
		f.Says = fmt.Sprintf("it refuses with status %d", code)
	}
	return f
}

// retryAfter reads how long a server wants to be left alone (RFC 9110, 10.2.3). A date is
// taken against the server's own, since the board's clock may be wrong.
func retryAfter(h http.Header) time.Duration {
	text := h.Get("Retry-After")
	if s, err := strconv.ParseUint(text, 10, 31); err == nil {
		return time.Duration(s) * time.Second
	}
	until, err := http.ParseTime(text)
	if err != nil {
		return 0
	}
	now, err := http.ParseTime(h.Get("Date"))
	if err != nil {
		return 0
	}
	return max(0, until.Sub(now))
}

// unreached says why a host gave no answer. Nothing of a path is in it: it may be a secret.
func unreached(host string, err error) error {
	var name *net.DNSError
	var authority x509.UnknownAuthorityError
	var wrongName x509.HostnameError
	var invalid x509.CertificateInvalidError
	var verify *tls.CertificateVerificationError
	var plain tls.RecordHeaderError
	if f, ok := errors.AsType[*Failure](err); ok {
		return &Failure{Key: cmp.Or(f.Key, "url"), Says: host + ": " + f.Says}
	}
	switch {
	case errors.As(err, &name):
		return &Failure{Key: "url", Says: host + ": this name is not known here: check url and the network"}
	case errors.As(err, &wrongName):
		return &Failure{Key: "url", Says: host + ": its certificate is for another name"}
	case errors.As(err, &authority):
		return &Failure{Key: "ca_file", Says: host + ": nobody known here vouches for its certificate: name its authority in ca_file"}
	case errors.As(err, &invalid), errors.As(err, &verify):
		return &Failure{Key: "url", Says: host + ": its certificate is not valid now: has it run out, or is the board's clock wrong?"}
	case errors.As(err, &plain), strings.Contains(err.Error(), "HTTP response to HTTPS client"):
		return &Failure{Key: "url", Says: host + ": it doesn't speak TLS there: is it http, or another port?"}
	case errors.Is(err, syscall.ECONNREFUSED):
		return &Failure{Key: "url", Says: host + ": no server listens there"}
	case errors.Is(err, syscall.ENETUNREACH), errors.Is(err, syscall.EHOSTUNREACH):
		return &Failure{Key: "url", Says: host + ": there is no way to it from here: is the network up?"}
	case errors.Is(err, context.DeadlineExceeded), isTimeout(err):
		return &Failure{Key: "url", Says: host + ": no answer in time"}
	}
	return &Failure{Key: "url", Says: host + ": the connection broke off"}
}

func isTimeout(err error) bool {
	var t net.Error
	return errors.As(err, &t) && t.Timeout()
}

// Secret names where a secret stands. It is read anew for each use, and stands nowhere else.
type Secret struct {
	File       string // readable by its owner alone
	Credential string // as systemd hands it to the service, by its name
}

// Given reports whether there is a secret.
func (s Secret) Given() bool { return s.File != "" || s.Credential != "" }

// mostSecret is the longest secret that is read, in bytes.
const mostSecret = 4096

// Read returns the secret without the line's end. Its errors say what to do and nothing of it.
func (s Secret) Read() (string, error) {
	secret, err := s.read()
	if f, ok := errors.AsType[*Failure](err); ok {
		f.Key = "secret_file"
		if s.Credential != "" {
			f.Key = "credential"
		}
	}
	return secret, err
}

func (s Secret) read() (string, error) {
	name := s.File
	if s.Credential != "" {
		folder := os.Getenv("CREDENTIALS_DIRECTORY")
		if folder == "" {
			return "", &Failure{Says: "there are no systemd credentials here: credential works only in a unit with LoadCredential=" + s.Credential}
		}
		name = folder + "/" + s.Credential
	}
	f, err := os.OpenFile(name, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return "", secretless(name, err)
	}
	defer f.Close()
	info, err := f.Stat()
	switch {
	case err != nil:
		return "", secretless(name, err)
	case !info.Mode().IsRegular():
		return "", &Failure{Says: name + ": not a file"}
	case s.Credential == "" && info.Mode().Perm()&0o077 != 0:
		return "", &Failure{Says: fmt.Sprintf("%s: others may read it (mode %04o): chmod 600 %s", name, info.Mode().Perm(), name)}
	}
	text, err := io.ReadAll(io.LimitReader(f, mostSecret+1))
	secret := strings.TrimRight(string(text), "\r\n")
	switch {
	case err != nil:
		return "", secretless(name, err)
	case secret == "" || len(text) > mostSecret || strings.ContainsFunc(secret, func(r rune) bool { return r < ' ' || r == 0x7f }):
		return "", &Failure{Says: fmt.Sprintf("%s: a secret is one line of at most %d bytes", name, mostSecret)}
	}
	return secret, nil
}

func secretless(name string, err error) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return &Failure{Says: name + ": there is no such file"}
	case errors.Is(err, fs.ErrPermission):
		return &Failure{Says: name + ": this user may not read it"}
	}
	return &Failure{Says: name + ": can't be read"}
}
