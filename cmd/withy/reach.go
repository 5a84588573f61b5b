package main

import (
	"cmp"
	"context"
	"errors"
	"log/slog"
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/hail"
	"withy/cmd/withy/internal/view"
)

// reach is one way to reach somebody, checked. It names where its secret stands, and never holds
// it.
type reach struct {
	Name       string            `json:"name"`
	Kind       string            `json:"kind"`
	URL        string            `json:"url"`
	Topic      string            `json:"topic,omitempty"`
	CAFile     string            `json:"ca_file,omitempty"`
	Secret     hail.Secret       `json:"secret"`
	User       string            `json:"user,omitempty"`
	key        string            // of the whole, in the configuration
	Least      alert.Priority    `json:"least"`
	Headers    map[string]string `json:"headers,omitempty"`
	Priorities map[string]string `json:"priorities,omitempty"`
	Method     string            `json:"method,omitempty"`
	EachS      float64           `json:"each_s,omitempty"`
	Hidden     bool              `json:"hidden,omitempty"` // the secret is part of the address
}

// The kinds of output.
const (
	byTopic   = "topic"
	byWebhook = "webhook"
	byManager = "alertmanager"
	byBroker  = "mqtt"
	byBeat    = view.Heartbeat
)

// usualBeatS is how often a heartbeat is told, and what the range of that is, s.
const usualBeatS, leastBeatS, mostBeatS = 60, 10, 3600

// mostOutputs is how many ways there may be: each is a goroutine with a client of its own.
const mostOutputs = 8

// headerNames are what a topic's messages carry, with the usual names of the headers.
var headerNames = map[string]string{"title": "Title", "priority": "Priority", "tags": "Tags"}

// outputs returns the outputs that can be used, and what is wrong with the others: a mistake in
// one must not keep anybody from watching the box.
func (r *settler) outputs() ([]reach, error) {
	rest := r.mistakes
	r.mistakes = nil
	defer func() { r.mistakes = rest }()
	var out []reach
	names := map[string]int{}
	if n := len(r.c.Outputs); n > mostOutputs {
		r.wrong("outputs", "%d outputs; at most %d", n, mostOutputs)
		return nil, errors.Join(r.mistakes...)
	}
	for i, c := range r.c.Outputs {
		before := len(r.mistakes)
		key := "outputs[" + strconv.Itoa(i) + "]"
		r.twice(names, key+".name", c.Name, i)
		one := r.output(key, c)
		if len(r.mistakes) == before {
			out = append(out, one)
		}
	}
	return out, errors.Join(r.mistakes...)
}

func (r *settler) output(key string, c reachConfig) reach {
	least := cmp.Or(c.Least, string(alert.Low))
	r.word(key+".kind", c.Kind, []string{byTopic, byWebhook, byManager, byBroker, byBeat})
	r.word(key+".least", least, []string{string(alert.High), string(alert.Medium), string(alert.Low)})
	r.address(key+".url", c)
	r.topic(key, c)
	r.secret(key, c)
	r.beat(key, c)
	one := reach{
		key: key, Name: c.Name, Kind: c.Kind, URL: c.URL, Topic: c.Topic, User: c.User, Least: alert.Priority(least),
		Secret: hail.Secret{Credential: c.Credential}, Headers: maps.Clone(headerNames),
		Priorities: map[string]string{"high": "high", "medium": "medium", "low": "low"},
	}
	if c.Kind == byBeat {
		one.Method, one.EachS, one.Hidden = strings.ToUpper(cmp.Or(c.Method, "get")), cmp.Or(c.Each.seconds(), usualBeatS), c.SecretIn == "address"
	}
	if c.CAFile != "" {
		one.CAFile = r.at.beside(c.CAFile)
	}
	if c.SecretFile != "" {
		one.Secret.File = r.at.beside(c.SecretFile)
	}
	r.words(key+".headers", c.Headers, one.Headers, headerName)
	r.words(key+".priorities", c.Priorities, one.Priorities, headerText)
	return one
}

// What may stand in a URL's path as a topic, as a header's name, and as its text.
var (
	topicName   = regexp.MustCompile(`^[A-Za-z0-9_.~-]{1,100}$`)
	brokerTopic = regexp.MustCompile(`^[A-Za-z0-9_.~-]+(/[A-Za-z0-9_.~-]+)*$`)
	headerName  = regexp.MustCompile("^[A-Za-z0-9!#$%&'*+.^_`|~-]{0,60}$") // RFC 9110, 5.6.2: a token
	headerText  = regexp.MustCompile(`^[ -~]{0,60}$`)
	credential  = regexp.MustCompile(`^[A-Za-z0-9_.-]{1,100}$`)
)

// addresses are the schemes that a kind's address may have, and an example of one.
func addresses(kind string) (schemes []string, example string) {
	if kind == byBroker {
		return []string{"mqtt", "mqtts"}, "mqtts://broker.lan:8883"
	}
	return []string{"http", "https"}, "https://push.lan:8080"
}

func (r *settler) address(key string, c reachConfig) {
	u, err := url.Parse(c.URL)
	schemes, example := addresses(c.Kind)
	switch {
	case err != nil || !slices.Contains(schemes, u.Scheme) || u.Hostname() == "":
		r.wrong(key, "not an address such as %s", example) // without the text: it may hold a secret
	case c.Kind == byBroker && strings.Trim(u.Path, "/") != "":
		r.wrong(key, "a broker has no path: what is written to goes into topic")
	case u.User != nil || u.RawQuery != "" || u.Fragment != "":
		r.wrong(key, "a user, a password or anything after ? or # doesn't belong in it: secrets go into secret_file")
	}
}

func (r *settler) topic(key string, c reachConfig) {
	if c.Kind != byTopic && (len(c.Headers) > 0 || len(c.Priorities) > 0) {
		r.wrong(key, "headers and priorities belong to kind topic only")
	}
	may, says := topicName, "1 to 100 of a to z, A to Z, 0 to 9 and - _ . ~"
	if c.Kind == byBroker {
		may, says = brokerTopic, "1 to 200 of a to z, A to Z, 0 to 9 and - _ . ~, with / between them"
	}
	switch {
	case c.Kind != byTopic && c.Kind != byBroker:
		if c.Topic != "" {
			r.wrong(key+".topic", "belongs to kinds topic and mqtt only")
		}
	case strings.ContainsAny(c.Topic, " \t"):
		r.wrong(key+".topic", "%q has a space in it; write steam-box instead of steam box", c.Topic)
	case !may.MatchString(c.Topic) || strings.Trim(c.Topic, ".") == "" || len(c.Topic) > 200:
		r.wrong(key+".topic", "%q is not %s", c.Topic, says)
	}
}

// secretPlace checks where a secret stands.
func (r *settler) secretPlace(key, file, name string) {
	switch {
	case file != "" && name != "":
		r.wrong(key+".credential", "secret_file is given too; take one away")
	case name != "" && (!credential.MatchString(name) || strings.Trim(name, ".") == ""):
		r.wrong(key+".credential", "not a credential's name as LoadCredential= has it")
	}
}

func (r *settler) secret(key string, c reachConfig) {
	r.secretPlace(key, c.SecretFile, c.Credential)
	given := c.SecretFile != "" || c.Credential != ""
	switch {
	case c.Kind == byWebhook && !given:
		r.wrong(key+".secret_file", "missing: a webhook is signed, with whsec_ and 24 to 64 bytes in base64")
	case c.User != "" && (!given || c.Kind == byWebhook):
		r.wrong(key+".user", "a user goes with a secret, and not with a webhook")
	case strings.ContainsFunc(c.User, func(x rune) bool { return x < ' ' || x == ':' || x == 0x7f }):
		r.wrong(key+".user", "no colon or control character may be in it")
	}
}

// beat checks what only a heartbeat has.
func (r *settler) beat(key string, c reachConfig) {
	if c.Kind != byBeat {
		if c.Method != "" || c.Each != 0 || c.SecretIn != "" {
			r.wrong(key, "method, each and secret_in belong to kind heartbeat only")
		}
		return
	}
	r.word(key+".method", cmp.Or(c.Method, "get"), []string{"get", "post"})
	r.word(key+".secret_in", cmp.Or(c.SecretIn, "header"), []string{"header", "address"})
	if c.Each != 0 {
		r.lasts(key+".each", c.Each, leastBeatS, mostBeatS)
	}
	if c.SecretIn == "address" && (c.SecretFile == "" && c.Credential == "" || c.User != "") {
		r.wrong(key+".secret_in", "address wants secret_file or credential, and no user")
	}
	if c.Least != "" {
		r.wrong(key+".least", "a heartbeat tells of no alarm")
	}
}

// words takes over what is given for some of the words of usual.
func (r *settler) words(key string, given, usual map[string]string, may *regexp.Regexp) {
	for _, name := range slices.Sorted(maps.Keys(given)) {
		_, known := usual[name]
		switch {
		case !known:
			r.wrong(key, "%q is not one of %s", name, strings.Join(slices.Sorted(maps.Keys(usual)), ", "))
		case !may.MatchString(given[name]):
			r.wrong(key, "%s: %q can't stand in a header", name, given[name])
		default:
			usual[name] = given[name]
		}
	}
}

// outputsOf makes the outputs that were set.
func outputsOf(all []reach) []hail.Output {
	var out []hail.Output
	for _, o := range all {
		u, err := url.Parse(o.URL)
		if err != nil {
			continue // it was parsed when it was checked
		}
		post := hail.Post{URL: u, Authority: o.CAFile, Secret: o.Secret, User: o.User}
		one := hail.Output{Name: o.Name, Kind: o.Kind, Least: o.Least}
		switch o.Kind {
		case byTopic:
			one.Way = &hail.Topic{
				Post: post, Topic: o.Topic, Title: o.Headers["title"], Priority: o.Headers["priority"], Tags: o.Headers["tags"],
				Priorities: map[alert.Priority]string{
					alert.High: o.Priorities["high"], alert.Medium: o.Priorities["medium"], alert.Low: o.Priorities["low"],
				},
			}
		case byWebhook:
			one.Way = &hail.Webhook{Post: post}
		case byManager:
			one.Way, one.Again = &hail.Manager{Post: post}, hail.ManagerAgain
		case byBeat:
			one.Way = &hail.Heart{Post: post, Method: o.Method, Each: time.Duration(o.EachS * float64(time.Second)), Hidden: o.Hidden}
		case byBroker:
			one.Way = &hail.MQTT{URL: u, Authority: o.CAFile, Secret: o.Secret, User: o.User, Topic: o.Topic}
		}
		out = append(out, one)
	}
	return out
}

// tryOutputs sends a test message by each output, and says when a daemon that runs here last got
// through by it.
func tryOutputs(ctx context.Context, s settings, log *slog.Logger) []found {
	if len(s.Outputs) == 0 {
		return nil
	}
	running := runningOutputs(ctx, s.Data)
	var out []found
	for _, r := range hail.New(outputsOf(s.Outputs), log).Try(ctx, s.Box.Name) {
		f := found{What: "output", Name: r.Name, OK: r.OK, Says: cmp.Or(r.Says, "a test message was taken: did it arrive?")}
		i := slices.IndexFunc(s.Outputs, func(o reach) bool { return o.Name == r.Name })
		if !r.OK {
			f.Says = s.at.mistake(strings.TrimRight(s.Outputs[i].key+"."+r.Key, "."), "%s", r.Says).Error()
		}
		if s.Outputs[i].Kind == byBeat && r.OK {
			f.Says = "a heartbeat was taken"
		}
		if o := s.Outputs[i]; o.Kind != byWebhook { // which is signed with it, and does not show it
			f.Says += inTheClear(o.URL, o.Secret)
		}
		if j := slices.IndexFunc(running, func(o view.Output) bool { return o.Name == r.Name }); j >= 0 {
			f.Says += "; " + lately(running[j])
		}
		out = append(out, f)
	}
	return out
}

// inTheClear says so where a secret can be read on its way to an address. That is no mistake:
// the network may be the board's own, as with tls: off.
func inTheClear(address string, secret hail.Secret) string {
	u, err := url.Parse(address)
	if err != nil || !secret.Given() || thisMachine(u.Hostname()) || u.Scheme != "http" && u.Scheme != "mqtt" {
		return ""
	}
	return "; its secret goes over the network in the clear: use " + u.Scheme + "s"
}

// lately says how an output has done in the daemon that runs.
func lately(o view.Output) string {
	says := "the daemon has told nothing by it yet"
	if o.GoodS != nil {
		says = "the daemon last got through " + ago(*o.GoodS)
	}
	if o.BadS != nil {
		says += ", last failed " + ago(*o.BadS)
	}
	return says
}

func ago(s float64) string {
	return (time.Duration(s) * time.Second).String() + " ago"
}

// runningOutputs asks the daemon that runs on the data folder; none where there is none.
func runningOutputs(ctx context.Context, data string) []view.Output {
	ctx, cancel := context.WithTimeout(ctx, 2*time.Second)
	defer cancel()
	var v struct {
		Outputs []view.Output `json:"outputs"`
	}
	if askDaemon(ctx, data, http.MethodGet, "/api/status", nil, &v) != nil {
		return nil
	}
	return v.Outputs
}
