package fleet_test

import (
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"

	"withy/alert"
	"withy/steambox/boiler"
)

// Prometheus's and Alertmanager's own checkers, and the worked cases in rules_test.yml.
// It fails where they aren't installed: a check that was skipped is no check.
func TestCheckers(t *testing.T) {
	dir := t.TempDir()
	err := os.CopyFS(dir, os.DirFS("."))
	for _, secret := range []string{"withy.token", "boxes.pem"} { // which each shop has its own of
		err = errors.Join(err, os.WriteFile(filepath.Join(dir, secret), nil, 0o600))
	}
	if err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{
		{"promtool", "check", "config", "prometheus.yml"},
		{"promtool", "check", "config", "shard.yml"},
		{"promtool", "test", "rules", "rules_test.yml"},
		{"amtool", "check-config", "alertmanager.yml"},
	} {
		cmd := exec.Command(args[0], args[1:]...)
		cmd.Dir = dir
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", strings.Join(args, " "), err, out)
		}
	}
}

// rule is an alert rule as it stands in rules.yml.
type rule struct {
	Alert, Expr string
	Labels      map[string]string
	Annotations map[string]string
}

func alertRules(t *testing.T) []rule {
	t.Helper()
	var file struct{ Groups []struct{ Rules []rule } }
	readYAML(t, "rules.yml", &file)
	var out []rule
	for _, r := range file.Groups[0].Rules {
		if r.Alert != "" {
			out = append(out, r)
		}
	}
	return out
}

func readYAML(t *testing.T, name string, to any) {
	t.Helper()
	text, err := os.ReadFile(name)
	if err == nil {
		err = yaml.Unmarshal(text, to)
	}
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

// Every alarm of a box is an alert, in the words that the crew reads: title, consequence
// and each step for each kind of boiler.
func TestWordsOfTheAlarms(t *testing.T) {
	rules := alertRules(t)
	for _, a := range alert.Rules {
		var found *rule
		for i := range rules {
			if strings.Contains(rules[i].Expr, `alarm="`+string(a.ID)+`"`) {
				found = &rules[i]
			}
		}
		if found == nil {
			t.Errorf("%s: no alert", a.ID)
			continue
		}
		said := found.Annotations
		if !strings.HasPrefix(said["summary"], a.Title+": ") || said["description"] != a.Consequence || found.Labels["priority"] != string(a.Priority) {
			t.Errorf("%s: priority %s, %q, %q; the crew reads %s, %q, %q",
				a.ID, found.Labels["priority"], said["summary"], said["description"], a.Priority, a.Title, a.Consequence)
		}
		for _, kind := range []boiler.Kind{boiler.OpenPot, boiler.ClosedTank, boiler.SecondBoiler, boiler.NoRefill} {
			for _, step := range a.Do(kind) {
				if !strings.Contains(said["steps"], step) {
					t.Errorf("%s: the steps lack %q, for %s", a.ID, step, kind)
				}
			}
		}
	}
}

// An alert that says nothing of what to do is no use at night.
func TestEveryAlertSaysWhatToDo(t *testing.T) {
	for _, r := range alertRules(t) {
		for _, key := range []string{"summary", "description", "steps"} {
			if r.Annotations[key] == "" {
				t.Errorf("%s: no %s", r.Alert, key)
			}
		}
		if p := r.Labels["priority"]; p != "high" && p != "medium" && p != "low" && p != "none" {
			t.Errorf("%s: priority %q", r.Alert, p)
		}
	}
}

var metricName = regexp.MustCompile(`\b(?:(?:box|shop):[a-z0-9_:]+|steambox_[a-z_]+)\b`)

// What the rules, the dashboard and the page of notes ask for is in the README's table of
// metrics, which a test of the metrics keeps true, or is recorded by the rules.
func TestMetricsExist(t *testing.T) {
	table, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	rules, err := os.ReadFile("rules.yml")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"rules.yml", "rules_test.yml", "dashboard-untried.json", "shard.yml", "README.md"} {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, metric := range metricName.FindAllString(string(text), -1) {
			known := strings.Contains(string(table), "| `"+metric+"` |") || strings.Contains(string(rules), "record: "+metric+"\n")
			if !known {
				t.Errorf("%s asks for %s, which nobody makes", name, metric)
			}
		}
	}
}

// dashboard is what the tests read of it.
type dashboard struct {
	Title  string
	Panels []struct {
		Title   string
		GridPos struct{ X, Y, W, H int }
		Targets []struct{ Expr string }
	}
}

func readDashboard(t *testing.T) dashboard {
	t.Helper()
	var d dashboard
	text, err := os.ReadFile("dashboard-untried.json")
	if err == nil {
		err = json.Unmarshal(text, &d)
	}
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// The dashboard says that it is untried, and no panel lies on another or beyond the 24
// columns that there are.
func TestDashboard(t *testing.T) {
	d := readDashboard(t)
	if !strings.Contains(d.Title, "untried") {
		t.Errorf("title %q", d.Title)
	}
	taken := map[[2]int]string{}
	for _, p := range d.Panels {
		for x := p.GridPos.X; x < p.GridPos.X+p.GridPos.W; x++ {
			for y := p.GridPos.Y; y < p.GridPos.Y+p.GridPos.H; y++ {
				if other := taken[[2]int{x, y}]; other != "" || x > 23 {
					t.Fatalf("%s lies on %q, or beyond the page, at %d, %d", p.Title, other, x, y)
				}
				taken[[2]int{x, y}] = p.Title
			}
		}
	}
}
