package door

import (
	"crypto/x509"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// What lies there as the keys of devices lets in exactly those that it names, or nobody.
func FuzzKeys(f *testing.F) {
	f.Add([]byte(`[{"id":"abcd","name":"phone","role":"crew","made":"2026-05-01T10:00:00Z","sha256":"47DEQpj8HBSa-_TImW-5JCeuQeRkm5NMpJWZG3hSuFU"}]`))
	f.Add([]byte(`[{"id":"abcd","name":"phone","role":"owner","sha256":""}]`))
	f.Add([]byte(`{}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		keys, err := readKeys(text)
		if err != nil {
			return
		}
		for _, k := range keys {
			if k.Role != View && k.Role != Crew || CheckName(k.Name) != nil || k.Hash == hashed("") && k.Role == Nobody {
				t.Errorf("let through: %+v", k)
			}
		}
		again, err := json.Marshal(keys)
		if err != nil {
			t.Fatal(err)
		}
		if back, err := readKeys(again); err != nil || len(back) != len(keys) {
			t.Errorf("%s: %v", again, err)
		}
	})
}

// A file that is no key and certificate is taken for none.
func FuzzOwn(f *testing.F) {
	text, err := makeOwn([]string{"box.lan"}, time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add(text[:len(text)/2])
	f.Add([]byte("-----BEGIN CERTIFICATE-----\n-----END CERTIFICATE-----\n"))
	file := filepath.Join(f.TempDir(), ownFile)
	f.Fuzz(func(t *testing.T, text []byte) {
		if err := os.WriteFile(file, text, 0o600); err != nil {
			t.Fatal(err)
		}
		pair, err := loadOwn(file, []string{"box.lan"}, time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC))
		if err == nil && (pair.Leaf.VerifyHostname("box.lan") != nil || pair.Leaf.PublicKeyAlgorithm == x509.UnknownPublicKeyAlgorithm) {
			t.Error("let through")
		}
	})
}

// Whatever a request shows, nobody is let in by it who was not given it.
func FuzzShown(f *testing.F) {
	for _, text := range []string{"Bearer x", "Bearer ", "Basic eDp5", "Bearer\x00x", "bearer X"} {
		f.Add(text, "withy=x", "127.0.0.1")
	}
	d, err := Open(f.TempDir())
	if err != nil {
		f.Fatal(err)
	}
	token, err := d.Let("phone", Crew)
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, authorization, cookie, forwarded string) {
		r := httptest.NewRequest(http.MethodGet, "https://box.lan/", nil)
		r.RemoteAddr = "192.168.4.7:50000"
		r.Header = http.Header{"Authorization": {authorization}, "Cookie": {cookie}, "X-Forwarded-For": {forwarded}}
		if who := d.Who(r); who.Role != Nobody && authorization != "Bearer "+token {
			t.Errorf("%q, %q: %+v", authorization, cookie, who)
		}
	})
}
