package hail

import (
	"context"
	"errors"
	"io"
	"net"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// took is what a broker says of the first message that it takes.
const took = "\x40\x02\x00\x01"

// sayings are what a broker, or something in its place, may say.
var sayings = []string{
	"\x20\x03\x00\x00\x00",                         // it takes the connection
	"\x20\x03\x00\x00\x00" + took,                  // and a message, before it has it or after
	"\x20\x03\x00\x00\x00\x40\x04\x00\x01\x87\x00", // and not the message
	"\x20\x03\x00\x86\x00",                         // it doesn't take the connection
	"\x20\x03\x00\x00\x00\xe0\x00",                 // it takes and drops it
	"\x20\x05\x00\x00\x02\x24\x00",                 // it takes no more than quality 0
	"\x20\x03\x00\x00\x00\xd0\x00\xd0\x00",
	"\x20\x03\x00\x00\x00\x40\x02\x00\x00\x40\x02\xff\xff",
	"\x20\x03\x00\x00\x00\x30\x05\x00\x01a\x00b", // a message to us
	"\x20\xff\xff\xff\x7f",                       // 256 MB
	"\x20\xff\xff\xff\xff\xff\xff\xff",
	"\x20\x00", "\x40\x00", "\x20\x03\x00\x00\xff", "\x00\x00", "HTTP/1.1 400 Bad Request\r\n\r\n", "",
}

// speaker is a broker that says a text to everybody, and then no more.
func speaker(t *testing.T, text string) (way *MQTT, asked *atomic.Int32) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	asked = new(atomic.Int32)
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			asked.Add(1)
			go func() {
				defer c.Close()
				_, _ = c.Read(make([]byte, 1000))
				_, _ = c.Write([]byte(text))
				_ = c.(*net.TCPConn).CloseWrite()
				_, _ = io.Copy(io.Discard, c)
			}()
		}
	}()
	return &MQTT{URL: address(t, "mqtt://"+l.Addr().String()), Topic: "box"}, asked
}

// Whatever a broker says and however it breaks off, why the notice was not taken is said in words.
func TestBrokerThatSaysAnything(t *testing.T) {
	for _, text := range sayings {
		way, _ := speaker(t, text)
		ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
		err := way.Send(ctx, oneAlarm())
		cancel()
		if err == nil && !strings.HasSuffix(text, took) {
			t.Errorf("%q: taken", text)
		}
		inWords(t, err)
	}
}

// A broker that takes the connection and drops it, as one does where another board has the same
// name, is not asked without a pause.
func TestBrokerThatDrops(t *testing.T) {
	way, asked := speaker(t, sayings[0])
	ctx, cancel := context.WithTimeout(t.Context(), 2500*time.Millisecond)
	defer cancel()
	way.Keep(ctx, func(error) {})()
	if n := asked.Load(); n < 2 || n > 3 { // half a second to one, one to two, then two to four
		t.Errorf("asked %d times in 2.5 s", n)
	}
}

// Packets are read by their lengths (MQTT 5.0, 1.5.5: table 1-1), and one that would be too long
// before anything of it is.
func TestReadPacket(t *testing.T) {
	for _, c := range []struct {
		says, packet string
		err          error
	}{
		{"\x20\x03\x00\x00\x00\x40", "\x20\x03\x00\x00\x00", nil},
		{"\xd0\x00\xd0\x00", "\xd0\x00", nil},
		{"\xe0\x7f" + strings.Repeat("a", 200), "\xe0\x7f" + strings.Repeat("a", 127), nil},
		{"\xe0\x80\x01" + strings.Repeat("a", 200), "\xe0\x80\x01" + strings.Repeat("a", 128), nil},
		{"\xe0\x80\x80\x01" + strings.Repeat("a", 1<<15), "\xe0\x80\x80\x01" + strings.Repeat("a", 1<<14), nil},
		{"\xe0\x81\x80\x01", "", errNoBroker},
		{"\xe0\x80\x80\x80\x01", "", errNoBroker},
		{"\xe0\x80\x80\x80\x80", "", errNoBroker},
		{"\x30\x00", "", errNoBroker}, // a message, and nothing was subscribed to
		{"\xf0\x00", "", errNoBroker}, // an exchange of credentials that was not asked for
		{"\x20\x03\x00", "", io.ErrUnexpectedEOF},
		{"\x20", "", io.EOF},
		{"", "", io.EOF},
	} {
		got, err := readPacket(strings.NewReader(c.says))
		if !errors.Is(err, c.err) || err == nil && string(got) != c.packet {
			t.Errorf("%q: %q, %v", c.says, got, err)
		}
	}
}
