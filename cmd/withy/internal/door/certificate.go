package door

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"withy/cmd/withy/internal/onefile"
)

// The board's own certificate. Phones refuse those that are good for more than 825 days.
const (
	goodFor    = 800 * 24 * time.Hour
	renewAhead = 60 * 24 * time.Hour
)

// clockFloor is before any board runs this: a clock that shows less was never set.
var clockFloor = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// ownFile is where the data folder keeps the board's own key and certificate: in one
// file, so that a power cut can't part them.
const ownFile = "page.pem"

// Certificate is what the page is served with. Its methods may be called by any
// goroutine.
type Certificate struct {
	read   func(now time.Time) (*tls.Certificate, error)
	stale  func(c *tls.Certificate, now time.Time) bool
	mu     sync.Mutex
	now    *tls.Certificate
	looked time.Time
}

// Own returns the board's own certificate for the hosts, by the names that they are
// asked for by. It and its key are made when the data folder has none that will do, and
// again sixty days before it ends. An error says that it could not be kept: then it
// serves until the next start.
func Own(data string, hosts []string) (*Certificate, error) {
	names := names(hosts)
	file := filepath.Join(data, ownFile)
	var unkept error
	c := &Certificate{
		stale: func(c *tls.Certificate, now time.Time) bool { return now.After(c.Leaf.NotAfter.Add(-renewAhead)) },
		read: func(now time.Time) (*tls.Certificate, error) {
			if pair, err := loadOwn(file, names, now); err == nil {
				return pair, nil
			}
			text, err := makeOwn(names, now)
			if err != nil {
				return nil, err
			}
			unkept = onefile.Write(file, text, 0o600)
			return parsePair(text, text)
		},
	}
	_, err := c.at(time.Now())
	return c, errors.Join(err, unkept)
}

// Kept returns the board's own certificate as it lies in the data folder, to be looked
// at; nil where there is none yet.
func Kept(data string) (*Certificate, error) {
	file := filepath.Join(data, ownFile)
	text, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	pair, err := parsePair(text, text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return &Certificate{now: pair}, nil
}

// Given returns the certificate of two files in PEM. They are read again when the
// certificate's file has changed; one that can't be read then leaves the one before.
func Given(certificate, key string) (*Certificate, error) {
	var from fs.FileInfo
	c := &Certificate{
		stale: func(*tls.Certificate, time.Time) bool {
			info, err := os.Stat(certificate)
			return err == nil && (from == nil || !info.ModTime().Equal(from.ModTime()) || info.Size() != from.Size())
		},
		read: func(time.Time) (*tls.Certificate, error) {
			info, err := os.Stat(certificate)
			if err != nil {
				return nil, err
			}
			pair, err := loadGiven(certificate, key)
			if err == nil { // else the other file may follow
				from = info
			}
			return pair, err
		},
	}
	_, err := c.at(time.Now())
	return c, err
}

// loadGiven reads two files in PEM.
func loadGiven(certificate, key string) (*tls.Certificate, error) {
	if info, err := os.Stat(key); err != nil {
		return nil, err
	} else if info.Mode().Perm()&0o007 != 0 {
		return nil, fmt.Errorf("%s: anybody on the board can read the key; chmod 600 %s", key, key)
	}
	cert, err := os.ReadFile(certificate)
	if err != nil {
		return nil, err
	}
	secret, err := os.ReadFile(key)
	if err != nil {
		return nil, err
	}
	pair, err := parsePair(cert, secret)
	if err != nil {
		return nil, fmt.Errorf("%s, %s: %w", certificate, key, err)
	}
	return pair, nil
}

// lookEvery is how far apart two looks at whether the certificate will do are.
const lookEvery = time.Minute

// at returns the certificate for a handshake now.
func (c *Certificate) at(now time.Time) (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.now != nil && (now.Sub(c.looked).Abs() < lookEvery || !c.stale(c.now, now)) {
		return c.now, nil
	}
	c.looked = now
	pair, err := c.read(now)
	if err != nil && c.now != nil {
		return c.now, nil
	}
	c.now = pair
	return pair, err
}

// Config serves with the certificate: TLS 1.2 or later, HTTP/1.1.
func (c *Certificate) Config() *tls.Config {
	return &tls.Config{
		MinVersion:     tls.VersionTLS12,
		NextProtos:     []string{"http/1.1"},
		GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return c.at(time.Now()) },
	}
}

// Fingerprint is the SHA-256 of the certificate as browsers show it, and Until when it
// ends.
func (c *Certificate) Fingerprint() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	sum := sha256.Sum256(c.now.Leaf.Raw)
	return strings.ReplaceAll(strings.TrimSpace(fmt.Sprintf("% X", sum[:])), " ", ":")
}

// Until is when the certificate ends.
func (c *Certificate) Until() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now.Leaf.NotAfter
}

// loadOwn returns what is kept if it will do: for these names, and not about to end.
func loadOwn(file string, names []string, now time.Time) (*tls.Certificate, error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	pair, err := parsePair(text, text)
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		if err := pair.Leaf.VerifyHostname(name); err != nil {
			return nil, err
		}
	}
	if now.After(pair.Leaf.NotAfter.Add(-renewAhead)) {
		return nil, errors.New("it is about to end")
	}
	return pair, os.Chmod(file, 0o600) // somebody may have copied it
}

func parsePair(certificate, key []byte) (*tls.Certificate, error) {
	pair, err := tls.X509KeyPair(certificate, key)
	if err != nil {
		return nil, err
	}
	return &pair, nil
}

// makeOwn makes a key and a certificate for it, in PEM.
func makeOwn(names []string, now time.Time) ([]byte, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
	if err != nil {
		return nil, err
	}
	from := now
	if from.Before(clockFloor) {
		from = clockFloor
	}
	wanted := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: "steam box"},
		NotBefore: from.Add(-24 * time.Hour), NotAfter: from.Add(goodFor),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true,
	}
	for _, name := range names {
		if ip := net.ParseIP(name); ip != nil {
			wanted.IPAddresses = append(wanted.IPAddresses, ip)
		} else {
			wanted.DNSNames = append(wanted.DNSNames, name)
		}
	}
	made, err := x509.CreateCertificate(rand.Reader, wanted, wanted, &key.PublicKey, key)
	if err != nil {
		return nil, err
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	for _, block := range []pem.Block{{Type: "PRIVATE KEY", Bytes: secret}, {Type: "CERTIFICATE", Bytes: made}} {
		if err := pem.Encode(&out, &block); err != nil {
			return nil, err
		}
	}
	return out.Bytes(), nil
}

// names returns the hosts without their ports, each once, and this machine's own names.
func names(hosts []string) []string {
	out := []string{"localhost", "127.0.0.1", "::1"}
	for _, h := range hosts {
		if name := Bare(h); !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	return out
}

// Bare returns a host without its port, an IPv6 address without its brackets, in small
// letters.
func Bare(host string) string {
	host = strings.ToLower(host)
	if name, _, err := net.SplitHostPort(host); err == nil {
		return name
	}
	return strings.TrimSuffix(strings.TrimPrefix(host, "["), "]")
}

// RemoveOwn removes the board's own key and certificate from a data folder.
func RemoveOwn(data string) error { return onefile.Remove(filepath.Join(data, ownFile)) }
