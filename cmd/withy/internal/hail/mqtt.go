package hail

import (
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"strconv"
	"sync"
	"time"

	"github.com/eclipse/paho.golang/autopaho"
	"github.com/eclipse/paho.golang/packets"
	"github.com/eclipse/paho.golang/paho"
)

// MQTT tells by a broker, in MQTT 5 and with quality of service 1. Below Topic it writes
//
//	online  true while it is connected, and by its last will false once it isn't; retained
//	alarms  the body that a webhook would post; retained, so that whoever comes later knows too
//	test    the same for a test message, not retained
//
// While Keep runs there is one connection. Without it, as in check, each Send has its own, which
// leaves nothing retained and no will.
type MQTT struct {
	URL       *url.URL // mqtt://host:1883 or mqtts://host:8883
	Authority string   // as in Post
	Secret    Secret   // the password
	User      string
	Topic     string
	line      Line

	mu   sync.Mutex
	kept *broker // nil: Keep doesn't run
}

const (
	keepAliveS    = 20               // a broker takes a board that says nothing for one and a half of it for gone
	mostReconnect = 10 * time.Second // between attempts at a broker that can't be reached
)

// broker is a connection to one, made anew whenever it is lost.
type broker struct {
	*autopaho.ConnectionManager
	mu      sync.Mutex
	why     error         // there is no connection
	failed  chan struct{} // closed when the next attempt fails
	refused bool          // it can be reached and doesn't want us
	up      time.Time     // when the connection was made that is there, or was
	brief   int           // connections in a row that were lost soon after
}

// Keep connects and stays connected until ctx is done; then the broker sends the last will. It
// calls changed when a connection is there, before which everything told earlier may have been
// forgotten, and with the reason when one is lost or can't be made. It returns at once; ended
// waits for its end.
func (m *MQTT) Keep(ctx context.Context, changed func(error)) (ended func()) {
	c := m.config()
	c.ClientID = m.clientID()
	c.WillMessage = &paho.WillMessage{Retain: true, QoS: 1, Topic: m.at("online"), Payload: []byte("false")}
	c.DisconnectPacketBuilder = func() *paho.Disconnect {
		return &paho.Disconnect{ReasonCode: packets.DisconnectDisconnectWithWillMessage}
	}
	c.OnConnectionUp = func(up *autopaho.ConnectionManager, _ *paho.Connack) {
		go func() {
			_, err := up.Publish(ctx, &paho.Publish{QoS: 1, Retain: true, Topic: m.at("online"), Payload: []byte("true")})
			if err != nil {
				err = m.unpublished(nil, err)
			} else {
				m.line.Took()
			}
			changed(err)
		}()
	}
	b, err := m.connect(ctx, c, changed)
	if err != nil {
		changed(err)
		return func() {}
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.kept = b
	return func() { <-b.Done() }
}

// clientID is the same after each start, so that a connection which a killed daemon left behind
// is taken over, and its last will can't come after the new one's greeting. It is made of what
// every server must take (MQTT 5.0, 3.1.3.1).
func (m *MQTT) clientID() string {
	sum := sha256.Sum256([]byte(m.Topic))
	return "withy" + hex.EncodeToString(sum[:8])
}

func (m *MQTT) at(below string) string { return m.Topic + "/" + below }

// config is what every connection has in common. Each begins with nothing left of the one before:
// what was on the way and not taken is told again from the book, the newest state first.
func (m *MQTT) config() autopaho.ClientConfig {
	return autopaho.ClientConfig{
		ServerUrls: []*url.URL{m.URL}, KeepAlive: keepAliveS, ConnectTimeout: toAnswer, AttemptConnection: m.dial,
		ConnectPacketBuilder: func(c *paho.Connect, _ *url.URL) (*paho.Connect, error) {
			c.CleanStart = true
			if m.User != "" {
				c.UsernameFlag, c.Username = true, m.User
			}
			if m.Secret.Given() {
				secret, err := m.Secret.Read()
				if err != nil {
					return nil, err
				}
				c.PasswordFlag, c.Password = true, []byte(secret)
			}
			return c, nil
		},
		ClientConfig: paho.ClientConfig{PacketTimeout: toAnswer},
	}
}

// connect begins to connect and goes on until ctx is done.
func (m *MQTT) connect(ctx context.Context, c autopaho.ClientConfig, failed func(error)) (*broker, error) {
	b := &broker{why: unreached(m.URL.Host, context.DeadlineExceeded), failed: make(chan struct{})}
	fail := func(err error) {
		b.fail(err)
		failed(err)
	}
	c.ReconnectBackoff = b.backOff
	connected := c.OnConnectionUp
	c.OnConnectionUp = func(up *autopaho.ConnectionManager, a *paho.Connack) {
		b.connected()
		if connected != nil {
			connected(up, a)
		}
	}
	c.OnConnectError = func(err error) { fail(m.unconnected(err)) }
	c.OnConnectionDown = func() bool {
		b.lost()
		fail(unreached(m.URL.Host, io.EOF))
		return true
	}
	manager, err := autopaho.NewConnection(ctx, c)
	if err != nil {
		return nil, &Failure{Says: "its address can't be used"}
	}
	b.ConnectionManager = manager
	return b, nil
}

// backOff is how long to wait before the n-th attempt since the connection was lost. One that
// only can't be reached may be back at any moment; one that refuses is left alone for longer. So
// is one that takes us and drops us: another board of the same name may take our place each time.
func (b *broker) backOff(n int) time.Duration {
	b.mu.Lock()
	defer b.mu.Unlock()
	n += b.brief
	switch {
	case n == 0:
		return 0
	case b.refused:
		return backOff(n - 1)
	}
	return min(backOff(n-1), mostReconnect)
}

func (b *broker) connected() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.up = time.Now()
}

func (b *broker) lost() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.brief++
	if time.Since(b.up) > mostReconnect {
		b.brief = 0
	}
}

func (b *broker) fail(err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.why = err
	_, b.refused = errors.AsType[*refusal](err)
	close(b.failed)
	b.failed = make(chan struct{})
}

// await waits until there is a connection, the next attempt fails, or ctx is done.
func (b *broker) await(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	b.mu.Lock()
	failed := b.failed
	b.mu.Unlock()
	up := make(chan error, 1)
	go func() { up <- b.AwaitConnection(ctx) }()
	select {
	case err := <-up:
		if err == nil {
			return nil
		}
	case <-failed:
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.why
}

// dial makes a connection, with TLS where the address asks for it.
func (m *MQTT) dial(ctx context.Context, _ autopaho.ClientConfig, u *url.URL) (net.Conn, error) {
	ctx, cancel := context.WithTimeout(ctx, toAnswer)
	defer cancel()
	port, secure := "1883", u.Scheme == "mqtts"
	if secure {
		port = "8883"
	}
	if p := u.Port(); p != "" {
		port = p
	}
	roots, err := authorities(m.Authority)
	if err != nil {
		return nil, err
	}
	c, err := m.line.Dial(ctx, "tcp", net.JoinHostPort(u.Hostname(), port))
	if err != nil {
		return nil, err
	}
	if secure {
		t := tls.Client(c, &tls.Config{RootCAs: roots, MinVersion: tls.VersionTLS12, ServerName: u.Hostname()})
		if err := t.HandshakeContext(ctx); err != nil {
			c.Close()
			return nil, err
		}
		c = t
	}
	return packets.NewThreadSafeConn(&answers{Conn: c}), nil
}

// Send publishes a notice.
func (m *MQTT) Send(ctx context.Context, n Notice) error {
	text, err := json.Marshal(bodyOf(n, time.Now().UTC()))
	if err != nil {
		return fmt.Errorf("notice: %w", err)
	}
	m.mu.Lock()
	b := m.kept
	m.mu.Unlock()
	kept := b != nil
	if !kept {
		var cancel context.CancelFunc
		ctx, cancel = context.WithCancel(ctx)
		if b, err = m.connect(ctx, m.config(), func(error) {}); err != nil {
			cancel()
			return err
		}
		defer func() { cancel(); <-b.Done() }()
	}
	if err := b.await(ctx); err != nil {
		return err
	}
	p := &paho.Publish{
		QoS: 1, Retain: kept && !n.Test, Topic: m.at("alarms"), Payload: text,
		Properties: &paho.PublishProperties{ContentType: "application/json", PayloadFormat: new(byte(1))},
	}
	if n.Test {
		p.Topic = m.at("test")
	}
	taken, err := b.Publish(ctx, p)
	if err != nil {
		return m.unpublished(taken, err)
	}
	m.line.Took()
	return nil
}

// refusal is a failure of a broker that can be reached and doesn't want us.
type refusal struct{ Failure }

func (r *refusal) Unwrap() error { return &r.Failure }

// unconnected says why there is no connection.
func (m *MQTT) unconnected(err error) error {
	c, ok := errors.AsType[*autopaho.ConnackError](err)
	if !ok {
		return unreached(m.URL.Host, err)
	}
	key, says := "", "it refuses the connection with reason "+strconv.Itoa(int(c.ReasonCode))
	switch c.ReasonCode {
	case packets.ConnackBadUsernameOrPassword, packets.ConnackNotAuthorized, packets.ConnackBanned:
		key, says = "secret_file", "it refuses the user or the secret"
	case packets.ConnackUnsupportedProtocolVersion, 1: // 1: as brokers before MQTT 5 have it
		key, says = "url", "it doesn't speak MQTT 5"
	}
	return &refusal{Failure{Key: key, Says: m.URL.Host + ": " + says}}
}

// unpublished says why a message was not taken.
func (m *MQTT) unpublished(answer *paho.PublishResponse, err error) error {
	switch {
	case answer != nil && answer.ReasonCode == packets.PubackNotAuthorized:
		return &Failure{Key: "topic", Says: m.URL.Host + ": it doesn't let this user write to the topic"}
	case answer != nil:
		return &Failure{Says: m.URL.Host + ": it refuses the message with reason " + strconv.Itoa(int(answer.ReasonCode))}
	case errors.Is(err, paho.ErrInvalidArguments):
		return &Failure{Says: m.URL.Host + ": it takes no retained messages, or none of quality 1"}
	}
	return unreached(m.URL.Host, err)
}
