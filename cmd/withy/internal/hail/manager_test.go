package hail

import (
	"encoding/json"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"withy/alert"
	"withy/deploy/freeport"
)

// manager starts Debian's prometheus-alertmanager and returns its address.
func manager(t *testing.T) string {
	t.Helper()
	if testing.Short() {
		t.Skip("starts an alert manager")
	}
	program, err := exec.LookPath("prometheus-alertmanager")
	if err != nil {
		t.Fatal("prometheus-alertmanager is not installed: deploy/test installs it")
	}
	folder := t.TempDir()
	file := filepath.Join(folder, "alertmanager.yml")
	if err := os.WriteFile(file, []byte("route: {receiver: nobody}\nreceivers: [{name: nobody}]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	at := freeport.Find(t)
	cmd := exec.CommandContext(t.Context(), program, "--config.file="+file, "--storage.path="+folder,
		"--web.listen-address="+at, "--cluster.listen-address=")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	for range 100 {
		r, err := http.Get("http://" + at + "/-/ready")
		if err == nil {
			r.Body.Close()
			if r.StatusCode == http.StatusOK {
				return "http://" + at
			}
		}
		time.Sleep(100 * time.Millisecond)
	}
	t.Fatal("the alert manager does not start")
	return ""
}

// listed is an alert as amtool prints it.
type listed struct {
	Labels           map[string]string
	Annotations      map[string]string
	StartsAt, EndsAt time.Time
}

// active asks the manager for what is up, by its own tool.
func active(t *testing.T, url string) []listed {
	t.Helper()
	text, err := exec.CommandContext(t.Context(), "amtool", "--alertmanager.url="+url, "--output=json", "alert", "query").Output()
	if err != nil {
		t.Fatalf("amtool: %v", err)
	}
	var out []listed
	if err := json.Unmarshal(text, &out); err != nil {
		t.Fatalf("amtool says %s: %v", text, err)
	}
	return out
}

func TestAlertmanager(t *testing.T) {
	url := manager(t)
	way := &Manager{Post: Post{URL: address(t, url)}}
	n := oneAlarm()
	cold := alert.Alarm{ID: alert.ProbeFailed, On: "door", Title: "Probe failed", Priority: alert.Medium, State: alert.Raised, Count: 1}
	n.Alarms = append(n.Alarms, Alarm{Key: "s1/probe-failed/door/1", Alarm: cold, New: true})
	var began time.Time
	for i := range 3 { // the first without times, the others by the manager's clock
		if err := way.Send(t.Context(), n); err != nil {
			t.Fatal(err)
		}
		up := active(t, url)
		if len(up) != 2 {
			t.Fatalf("after %d: %+v", i, up)
		}
		for _, a := range up {
			if a.Labels["alertname"] != "dry-now" {
				continue
			}
			if a.Labels["severity"] != "high" || a.Labels["box"] != "Hütte" || a.Annotations["do"] != "Pour.\nHeat off." {
				t.Errorf("%+v", a)
			}
			if left := time.Until(a.EndsAt); left < 4*time.Minute || left > 6*time.Minute {
				t.Errorf("ends in %v", left)
			}
			if i == 0 {
				began = a.StartsAt
			} else if !a.StartsAt.Equal(began) && a.StartsAt.Sub(began).Abs() > 2*time.Second {
				t.Errorf("began at %v, and now at %v", began, a.StartsAt)
			}
		}
	}
	n.Alarms[0].Over = true
	if err := way.Send(t.Context(), n); err != nil {
		t.Fatal(err)
	}
	deadline := time.Now().Add(5 * time.Second)
	up := active(t, url)
	for len(up) != 1 && time.Now().Before(deadline) {
		time.Sleep(200 * time.Millisecond)
		up = active(t, url)
	}
	if len(up) != 1 || up[0].Labels["on"] != "door" {
		t.Errorf("after one is over: %+v", up)
	}
	if err := way.Send(t.Context(), Notice{Box: "b", Test: true}); err != nil || len(active(t, url)) != 2 {
		t.Errorf("test: %v, %+v", err, active(t, url))
	}
}
