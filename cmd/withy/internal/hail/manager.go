package hail

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"time"
)

// Manager tells an alert manager by version 2 of Prometheus Alertmanager's API, which takes an
// alert for over once it isn't told again. It wants to be sent to each ManagerAgain.
//
// Times go by the manager's own clock, learnt from the dates of its answers, since the board's
// may be wrong: the first time none is sent, and the manager sets them.
type Manager struct {
	Post
	theirs time.Time            // the manager's time at ours
	ours   time.Time            // with a monotonic reading
	began  map[string]time.Time // by the manager's clock, by the key of the raise
}

// ManagerAgain is how often what is up is told again, and managerEnds how long the manager is to
// take it for so after that: well past the gap, so that three lost tellings end nothing.
const (
	ManagerAgain = time.Minute
	managerEnds  = 5 * time.Minute
)

// managed is one alert as the API has it.
type managed struct {
	Labels      map[string]string `json:"labels"`
	Annotations map[string]string `json:"annotations,omitempty"`
	StartsAt    *time.Time        `json:"startsAt,omitempty"`
	EndsAt      *time.Time        `json:"endsAt,omitempty"`
}

// Send tells all that is up and what is over.
func (m *Manager) Send(ctx context.Context, n Notice) error {
	began := map[string]time.Time{}
	alerts := []managed{}
	for _, a := range n.Alarms {
		one := managed{
			Labels: map[string]string{"alertname": string(a.ID), "box": n.Box, "severity": string(a.Priority)},
			Annotations: map[string]string{
				"summary": a.Title, "description": a.Consequence, "do": strings.Join(a.Do, "\n"),
			},
		}
		if a.On != "" {
			one.Labels["on"] = a.On
		}
		if now, known := m.now(); known {
			start, ok := m.began[a.Key]
			if !ok || start.After(now) { // its clock may have been put back
				start = now
			}
			end := now.Add(managerEnds)
			if a.Over {
				end = now
				if !end.After(start) { // dates have whole seconds, so the clock that is learnt steps back a little
					end = start.Add(time.Millisecond)
				}
			} else {
				began[a.Key] = start
			}
			one.StartsAt, one.EndsAt = &start, &end
		}
		alerts = append(alerts, one)
	}
	if n.Test {
		alerts = append(alerts, m.test(n.Box))
	}
	text, err := json.Marshal(alerts)
	if err != nil {
		return fmt.Errorf("alerts: %w", err)
	}
	headers, err := m.send(ctx, "api/v2/alerts", text, map[string]string{"Content-Type": "application/json"}, true)
	if err != nil {
		return err
	}
	m.learn(headers)
	if n.Test {
		return nil
	}
	m.began = began
	return nil
}

// test is an alert that ends by itself.
func (m *Manager) test(box string) managed {
	a := managed{
		Labels:      map[string]string{"alertname": "test", "box": box, "severity": "low"},
		Annotations: map[string]string{"summary": "A test: nothing is wrong"},
	}
	if now, known := m.now(); known {
		end := now.Add(time.Minute)
		a.StartsAt, a.EndsAt = &now, &end
	}
	return a
}

// now is the manager's time.
func (m *Manager) now() (now time.Time, known bool) {
	return m.theirs.Add(time.Since(m.ours)), !m.theirs.IsZero()
}

func (m *Manager) learn(h http.Header) {
	if date, err := http.ParseTime(h.Get("Date")); err == nil && date.Year() < 9999 { // later ones can't be told
		m.theirs, m.ours = date.UTC(), time.Now()
	}
}
