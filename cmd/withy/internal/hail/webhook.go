package hail

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Webhook posts notices as JSON, signed as the Standard Webhooks specification has it
// (version 1, symmetric: HMAC-SHA-256 over id, timestamp and body).
type Webhook struct{ Post }

// Body is a notice as programs read it, by a webhook or a broker.
type Body struct {
	Type      string    `json:"type"` // alarms, or test
	Timestamp time.Time `json:"timestamp"`
	Data      Data      `json:"data"`
}

// Data is what the body tells.
type Data struct {
	Box     string  `json:"box"`
	Session string  `json:"session"`
	Alarms  []Alarm `json:"alarms"`   // up now, the most urgent first, then over
	LeftOut int     `json:"left_out"` // so many more came and went
}

// Send posts a notice.
func (w *Webhook) Send(ctx context.Context, n Notice) error {
	now := time.Now().UTC()
	text, err := json.Marshal(bodyOf(n, now))
	if err != nil {
		return fmt.Errorf("notice: %w", err)
	}
	secret, err := w.Secret.Read()
	if err != nil {
		return err
	}
	id, at := noticeID(n, now), strconv.FormatInt(now.Unix(), 10)
	signature, err := sign(secret, id, at, text)
	if err != nil {
		return err
	}
	_, err = w.send(ctx, "", text, map[string]string{
		"Content-Type": "application/json", "webhook-id": id, "webhook-timestamp": at, "webhook-signature": signature,
	}, false)
	return err
}

func bodyOf(n Notice, now time.Time) Body {
	b := Body{Type: "alarms", Timestamp: now, Data: Data{n.Box, n.Session, append([]Alarm{}, n.Alarms...), n.LeftOut}}
	if n.Test {
		b.Type = "test"
	}
	return b
}

// noticeID is the same for a notice that is told again with nothing changed in it.
func noticeID(n Notice, now time.Time) string {
	if n.Test {
		return "test-" + strconv.FormatInt(now.UnixNano(), 36)
	}
	h := sha256.New()
	for _, a := range n.Alarms {
		fmt.Fprintf(h, "%q %t %t %s\n", a.Key, a.Over, a.New, a.State)
	}
	return "alarms-" + hex.EncodeToString(h.Sum(nil)[:12])
}

// secretMark begins a secret that is written in base64.
const secretMark = "whsec_"

func sign(secret, id, at string, body []byte) (string, error) {
	text, marked := strings.CutPrefix(secret, secretMark)
	key, err := base64.StdEncoding.DecodeString(text)
	if !marked || err != nil || len(key) < 24 || len(key) > 64 {
		return "", &Failure{Key: "secret_file", Says: "its secret is not " + secretMark + " followed by 24 to 64 bytes in base64"}
	}
	h := hmac.New(sha256.New, key)
	fmt.Fprintf(h, "%s.%s.%s", id, at, body)
	return "v1," + base64.StdEncoding.EncodeToString(h.Sum(nil)), nil
}
