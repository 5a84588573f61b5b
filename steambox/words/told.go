package words

import (
	"fmt"
	"strings"
)

// ToldAlarm is an alarm as somebody away from the box reads of it.
type ToldAlarm struct {
	Title, On, Consequence string
	Do                     []string
}

// Told is a message about alarms to somebody away from the box.
type Told struct {
	Box     string
	New     []ToldAlarm // the most urgent first
	Still   []ToldAlarm // told before, and so still
	Over    []ToldAlarm // so no more
	LeftOut int         // more that came and went
}

// mostSteps is how many alarms are told with what to do about them, and mostNamed how many of a
// kind, or things of one alarm, by name: a message is read at a glance.
const mostSteps, mostNamed = 3, 8

// Title is the message's first line.
func (t Told) Title() string {
	t = t.gathered()
	switch {
	case len(t.New) > 1:
		return fmt.Sprintf("%s, and %d more", t.New[0].name(), len(t.New)-1)
	case len(t.New) == 1:
		return t.New[0].name()
	case len(t.Over) > 1:
		return fmt.Sprintf("Over: %s, and %d more", t.Over[0].name(), len(t.Over)-1)
	case len(t.Over) == 1:
		return "Over: " + t.Over[0].name()
	}
	return t.Box
}

// Text is the rest.
func (t Told) Text() string {
	t = t.gathered()
	lines := []string{t.Box + "."}
	for i, a := range t.New {
		if i < mostSteps {
			lines = append(lines, a.name()+": "+a.Consequence+" "+strings.Join(a.Do, " "))
		}
	}
	lines = append(lines, named("Also: ", t.New[min(mostSteps, len(t.New)):])...)
	lines = append(lines, named("Still so: ", t.Still)...)
	lines = append(lines, named("Over: ", t.Over)...)
	if t.LeftOut > 0 {
		lines = append(lines, fmt.Sprintf("%d more came and went.", t.LeftOut))
	}
	return strings.Join(lines, "\n")
}

// gathered is the message with alarms of one kind, on several things, told once.
func (t Told) gathered() Told {
	t.New, t.Still, t.Over = gather(t.New), gather(t.Still), gather(t.Over)
	return t
}

// gather puts alarms of one kind together where the first of them stands.
func gather(alarms []ToldAlarm) []ToldAlarm {
	var out []ToldAlarm
	on := map[string][]string{}
	for _, a := range alarms {
		if a.On == "" || len(on[a.Title]) == 0 {
			out = append(out, a)
		}
		if a.On != "" {
			on[a.Title] = append(on[a.Title], a.On)
		}
	}
	for i, a := range out {
		if names := on[a.Title]; a.On != "" && len(names) > mostNamed {
			out[i].On = fmt.Sprintf("%s and %d more", strings.Join(names[:mostNamed], ", "), len(names)-mostNamed)
		} else if a.On != "" {
			out[i].On = strings.Join(names, ", ")
		}
	}
	return out
}

// named lists alarms by name on a line.
func named(begin string, alarms []ToldAlarm) []string {
	if len(alarms) == 0 {
		return nil
	}
	var names []string
	for _, a := range alarms[:min(mostNamed, len(alarms))] {
		names = append(names, a.name())
	}
	if more := len(alarms) - mostNamed; more > 0 {
		names = append(names, fmt.Sprintf("%d more", more))
	}
	return []string{begin + strings.Join(names, "; ") + "."}
}

func (a ToldAlarm) name() string {
	if a.On == "" {
		return a.Title
	}
	return a.Title + " (" + a.On + ")"
}

// TestTold is the message by which somebody sees that messages arrive.
func TestTold(box string) (title, text string) {
	return "A test from " + box, "Nothing is wrong. If you read this away from the box, alarms reach you."
}

// NoOutput says that alarms go nowhere by what is set wrongly.
func NoOutput(err error) string {
	return "Some outputs can't be used, and nobody is told by them. " + err.Error()
}
