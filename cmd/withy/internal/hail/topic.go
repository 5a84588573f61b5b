package hail

import (
	"context"
	"mime"

	"withy/alert"
	"withy/steambox/words"
)

// Topic publishes to a topic of a server by plain HTTP: a POST of the text to the server's
// address and the topic, with title, priority and tags as headers.
type Topic struct {
	Post
	Topic string
	// The names of the headers; "" leaves one out.
	Title, Priority, Tags string
	// Priorities is what the server calls each priority.
	Priorities map[alert.Priority]string
}

// Send publishes a notice.
func (t *Topic) Send(ctx context.Context, n Notice) error {
	title, text := sentences(n)
	headers := map[string]string{"Content-Type": "text/plain; charset=utf-8"}
	add := func(name, value string) {
		if name != "" && value != "" {
			headers[name] = mime.QEncoding.Encode("utf-8", value) // as it is where it is ASCII
		}
	}
	add(t.Title, title)
	add(t.Priority, t.Priorities[urgency(n)])
	add(t.Tags, tag(n))
	_, err := t.send(ctx, t.Topic, []byte(text), headers, true)
	return err
}

// urgency is the priority of what is new in a notice and is so still; low where nothing is.
func urgency(n Notice) alert.Priority {
	for _, a := range n.Alarms { // the most urgent first
		if a.New && !a.Over {
			return a.Priority
		}
	}
	return alert.Low
}

// tag names the kind of a notice: the alarm that is new and most urgent, "over" or "test".
func tag(n Notice) string {
	if n.Test {
		return "test"
	}
	for _, a := range n.Alarms {
		if a.New && !a.Over {
			return string(a.ID)
		}
	}
	return "over"
}

// sentences puts a notice into words: a title, and the text below it.
func sentences(n Notice) (title, text string) {
	if n.Test {
		return words.TestTold(n.Box)
	}
	told := words.Told{Box: n.Box, LeftOut: n.LeftOut}
	for _, a := range n.Alarms {
		one := words.ToldAlarm{Title: a.Title, On: a.On, Consequence: a.Consequence, Do: a.Do}
		switch {
		case a.Over:
			told.Over = append(told.Over, one)
		case a.New:
			told.New = append(told.New, one)
		default:
			told.Still = append(told.Still, one)
		}
	}
	return told.Title(), told.Text()
}
