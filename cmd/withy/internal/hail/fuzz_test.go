package hail

import (
	"bufio"
	"bytes"
	"crypto/x509"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/eclipse/paho.golang/autopaho"
	"github.com/eclipse/paho.golang/packets"
	"github.com/eclipse/paho.golang/paho"
)

// said is a server that answers with one text after another, and with the last from then on.
type said struct {
	texts [][]byte
	got   [][]byte
	asked []*http.Request
}

func (s *said) RoundTrip(r *http.Request) (*http.Response, error) {
	body, err := io.ReadAll(r.Body)
	if err != nil {
		return nil, err
	}
	s.got, s.asked = append(s.got, body), append(s.asked, r)
	text := s.texts[min(len(s.got), len(s.texts))-1]
	return http.ReadResponse(bufio.NewReader(bytes.NewReader(text)), r)
}

// inWords fails unless an error is one that people are told, without the secret.
func inWords(t *testing.T, err error) {
	t.Helper()
	f, ok := errors.AsType[*Failure](err)
	if err != nil && (!ok || f.Says == "" || len(f.Says) > 300 || f.After < 0 || strings.Contains(f.Says, secretText)) {
		t.Errorf("%#v", err)
	}
}

// Whatever a server answers, a notice was taken, or it is said in words why not; and the next
// can be told.
func FuzzAnswers(f *testing.F) {
	good := "HTTP/1.1 200 OK\r\nDate: Fri, 01 May 2026 10:00:00 GMT\r\nContent-Length: 2\r\n\r\n{}"
	for _, text := range []string{
		good, "HTTP/1.1 200 OK\r\nDate: Fri, 31 Dec 9999 23:59:59 GMT\r\n\r\n", "HTTP/1.1 200 OK\r\nDate: Mon Jan  1 00:00:00 0001\r\n\r\n", "HTTP/1.1 200 OK\r\nDate: Wed, 01 Jan 2020 10:00:00 GMT\r\n\r\n",
		"HTTP/1.0 429 Slow\r\nRetry-After: 120\r\n\r\n", "HTTP/1.1 503 No\r\nDate: Friday, 01-May-26 10:00:00 GMT\r\nRetry-After: Sun, 06 Nov 1994 08:49:37 GMT\r\n\r\n",
		"HTTP/1.1 503 No\r\nDate: Mon, 01 Jan 0000 00:00:00 GMT\r\nRetry-After: Fri, 31 Dec 9999 23:59:59 GMT\r\n\r\n", "HTTP/1.1 200 OK\r\nContent-Type: text/html; charset=\"\r\n\r\n<html>",
		"HTTP/1.1 302 Found\r\nLocation: http://elsewhere.example/\r\n\r\n", "HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\nffffffff\r\n", "HTTP/1.1 100 Continue\r\n\r\n", "",
	} {
		f.Add([]byte(good), []byte(text))
	}
	secret := Secret{File: filepath.Join(f.TempDir(), "secret")}
	if err := os.WriteFile(secret.File, []byte(secretText), 0o600); err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, first, then []byte) {
		server := &said{texts: [][]byte{first, then}}
		post := Post{URL: address(t, "http://push.lan/x"), Secret: secret, line: &Line{}}
		if err := post.connect(); err != nil {
			t.Fatal(err)
		}
		post.client.Transport = server
		m, notice := &Manager{Post: post}, oneAlarm()
		for i := range 4 {
			notice.Alarms[0].Over = i == 3
			inWords(t, m.Send(t.Context(), notice))
		}
		if len(server.got) != 4 {
			t.Fatalf("asked %d times", len(server.got))
		}
		for _, told := range server.got {
			var alerts []managed
			if err := json.Unmarshal(told, &alerts); err != nil || len(alerts) != 1 {
				t.Fatalf("%v: %s", err, told)
			}
			if a := alerts[0]; a.StartsAt != nil && !a.EndsAt.After(*a.StartsAt) {
				t.Errorf("ends before it starts: %s", told)
			}
		}
		inWords(t, (&Topic{Post: post, Topic: "box"}).Send(t.Context(), notice))
		inWords(t, (&Heart{Post: post, Method: http.MethodGet}).Send(t.Context(), Notice{}))
	})
}

// Of whatever a broker says only whole packets are let through, none too long, that the library
// reads to their end or refuses.
func FuzzPackets(f *testing.F) {
	for _, text := range sayings {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		for left := bytes.NewReader(text); ; {
			packet, err := readPacket(left)
			if err != nil {
				return
			}
			if len(packet) > mostAnswer+5 {
				t.Fatalf("%d bytes", len(packet))
			}
			r := bytes.NewReader(packet)
			read, err := packets.ReadPacket(r)
			if r.Len() != 0 || err == nil && read.Type != packet[0]>>4 {
				t.Errorf("%d of %d bytes are left: %v", r.Len(), len(packet), err)
			}
			if read == nil {
				continue
			}
			m := &MQTT{URL: address(t, "mqtt://broker.lan")}
			switch p := read.Content.(type) {
			case *packets.Connack:
				inWords(t, m.unconnected(autopaho.NewConnackError(io.EOF, paho.ConnackFromPacketConnack(p))))
			case *packets.Puback:
				inWords(t, m.unpublished(paho.PublishResponseFromPuback(p), io.EOF))
			}
		}
	})
}

// Any text is a secret that a request can carry as it stands, or it is said what is wrong, and
// nothing of the text.
func FuzzSecret(f *testing.F) {
	for _, text := range []string{secretText + "\r\n", "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "whsec_x", "a\nb", "../../x?y#%zz", "\x00", "\xff é", ""} {
		f.Add([]byte(text))
	}
	secret := Secret{File: filepath.Join(f.TempDir(), "s")}
	f.Fuzz(func(t *testing.T, text []byte) {
		if err := os.WriteFile(secret.File, text, 0o600); err != nil {
			t.Fatal(err)
		}
		told := func(err error) {
			inWords(t, err)
			if line := strings.TrimRight(string(text), "\r\n"); err != nil && len(line) > 12 && strings.Contains(err.Error(), line) {
				t.Errorf("%q tells the secret", err)
			}
		}
		server := &said{texts: [][]byte{[]byte("HTTP/1.1 204 Taken\r\n\r\n")}}
		post := Post{URL: address(t, "http://push.lan/x"), Secret: secret, line: &Line{}}
		if err := post.connect(); err != nil {
			t.Fatal(err)
		}
		post.client.Transport = server
		read, err := secret.Read()
		told(err)
		_, err = sign(read, "id", "0", nil)
		told(err)
		told((&Topic{Post: post, Topic: "box"}).Send(t.Context(), oneAlarm()))
		told((&Heart{Post: post, Method: http.MethodGet, Hidden: true}).Send(t.Context(), Notice{}))
		told((&Webhook{Post: post}).Send(t.Context(), oneAlarm()))
		for _, r := range server.asked {
			if h := r.Header.Get("Authorization"); h != "" && h != "Bearer "+read || r.URL.Host != post.URL.Host {
				t.Errorf("%q to %s with %q", read, r.URL, h)
			}
		}
	})
}

// Any file vouches for servers, or is none that does.
func FuzzAuthorities(f *testing.F) {
	f.Add([]byte("-----BEGIN CERTIFICATE-----\nMIIB\n-----END CERTIFICATE-----\n"))
	f.Add([]byte("-----BEGIN CERTIFICATE-----\n-----END CERTIFICATE-----\n"))
	file := filepath.Join(f.TempDir(), "ca.pem")
	f.Fuzz(func(t *testing.T, text []byte) {
		if err := os.WriteFile(file, text, 0o600); err != nil {
			t.Fatal(err)
		}
		roots, err := authorities(file)
		inWords(t, err)
		if err == nil && roots.Equal(x509.NewCertPool()) {
			t.Error("vouches for nobody")
		}
	})
}
