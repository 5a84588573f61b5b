package beside_test

import (
	"cmp"
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"withy/deploy/freeport"
)

// program is one of those that are measured: how it is started on the pretend probes and
// where it shows what it read.
type program struct {
	name    string
	file    string            // of the program
	deb     string            // Debian's package, or a package's file; "" if it is in none
	env     []string          // beside this process's own
	files   map[string]string // it wants, by name in its folder; DIR, PROBES, AT, GOSSIP, EXPORTER and ROUTER stand for where those are
	args    []string          // the same
	page    string            // that is scraped
	reading string            // where it shows its first reading
	shows   string            // what stands there then
	runs    func(t *testing.T, at string)
}

// The general parts: the exporter shows what the kernel's driver of the probes says and
// nothing else of the machine, the scraper asks it and itself once a second, and two rules
// tell the router, which is as it comes. The lean ones leave out what one box can do without:
// the scraper asks the exporter only, and the router looks for no others. collectd is another
// way to exporter and scraper, written in C, with files instead of queries.
var (
	exporter = program{
		name: "node_exporter", file: "/usr/bin/prometheus-node-exporter", deb: "prometheus-node-exporter",
		args: []string{"--collector.disable-defaults", "--collector.hwmon", "--path.sysfs=PROBES/sys", "--web.listen-address=AT"},
		page: "/metrics", reading: "/metrics", shows: "node_hwmon_temp_celsius{",
	}
	scraper = program{
		name: "Prometheus", file: "/usr/bin/prometheus", deb: "prometheus",
		files: map[string]string{"prometheus.yml": `
global: {scrape_interval: 1s, scrape_timeout: 1s, evaluation_interval: 1s}
rule_files: [rules.yml]
scrape_configs:
  - {job_name: prometheus, static_configs: [{targets: ["AT"]}]}
  - {job_name: node, static_configs: [{targets: ["EXPORTER"]}]}
alerting: {alertmanagers: [{static_configs: [{targets: ["ROUTER"]}]}]}
`, "rules.yml": `
groups:
  - name: box
    rules:
      - {alert: BoxCold, expr: node_hwmon_temp_celsius < 90, for: 1m}
      - {alert: ProbeSilent, expr: count(node_hwmon_temp_celsius) != 2 or absent(node_hwmon_temp_celsius), for: 10s}
`},
		args: []string{"--config.file=DIR/prometheus.yml", "--storage.tsdb.path=DIR/data", "--web.listen-address=AT", "--log.level=error"},
		page: "/metrics", reading: "/api/v1/query?query=node_hwmon_temp_celsius", shows: `"value":[`,
	}
	router = program{
		name: "Alertmanager", file: "/usr/bin/prometheus-alertmanager", deb: "prometheus-alertmanager",
		files: map[string]string{"alertmanager.yml": `
route: {receiver: crew}
receivers: [{name: crew, webhook_configs: [{url: "http://127.0.0.1:9"}]}]
`},
		args: []string{"--config.file=DIR/alertmanager.yml", "--storage.path=DIR/data", "--web.listen-address=AT", "--cluster.listen-address=GOSSIP", "--log.level=error"},
		page: "/metrics", reading: "/-/ready", shows: "OK",
	}
	collector = program{
		name: "collectd, with its CSV files", file: "/usr/sbin/collectd", deb: "collectd-core",
		files: map[string]string{"collectd.conf": `
BaseDir "DIR"
PIDFile "DIR/pid"
Interval 1
LoadPlugin table
LoadPlugin csv
LoadPlugin write_prometheus
<Plugin table>
  <Table "PROBES/w1/28-000000000001/temperature">
    Instance "steam"
    Separator " "
    <Result>
      Type "gauge"
      ValuesFrom 0
    </Result>
  </Table>
  <Table "PROBES/w1/28-000000000002/temperature">
    Instance "door"
    Separator " "
    <Result>
      Type "gauge"
      ValuesFrom 0
    </Result>
  </Table>
</Plugin>
<Plugin csv>
  DataDir "DIR/csv"
</Plugin>
<Plugin write_prometheus>
  Host "HOST"
  Port "PORT"
</Plugin>
`},
		args: []string{"-f", "-C", "DIR/collectd.conf"},
		page: "/metrics", reading: "/metrics", shows: "collectd_table_gauge{",
	}
)

// lean is a part with some of its words left out of its files and arguments.
func lean(p program, without string) program {
	p.name += ", lean"
	files := map[string]string{}
	for name, text := range p.files {
		files[name] = strings.Replace(text, without, "", 1)
	}
	p.files, p.args = files, slices.Clone(p.args)
	for i, a := range p.args {
		p.args[i] = strings.Replace(a, without, "", 1)
	}
	return p
}

// withy is the program itself at a file, and least is bare.
func withy(file, deb string) program {
	return program{
		name: "Withy, four ribs in", file: file, deb: deb,
		files: map[string]string{"withy.yaml": `
probes: [{name: steam, id: 28-000000000001}, {name: door, id: 28-000000000002, at_mm: 1500}]
board: {w1_root: PROBES/w1}
page: {listen: "AT"}
`},
		args: []string{"run", "--config", "DIR/withy.yaml", "--data", "DIR/data"},
		page: "/metrics", reading: "/metrics", shows: "steambox_probe_temperature_celsius{",
		runs: loadFour,
	}
}

func least(file string) program {
	return program{
		name: "the barest daemon in Go", file: file, env: []string{"GOGC=40"}, // as Withy sets its own
		args: []string{"PROBES/w1", "DIR/record.db", "AT"},
		page: "/metrics", reading: "/metrics", shows: "probe_temperature_celsius{",
	}
}

// loadFour tells Withy of a rib in each slot.
func loadFour(t *testing.T, at string) {
	t.Helper()
	for _, slot := range []string{"A", "B", "C", "D"} {
		answer, err := http.Post("http://"+at+"/api/event", "application/json", strings.NewReader(fmt.Sprintf(`{"id":%q,"kind":"loaded","rib":%q,"slot":%q}`, slot, slot, slot)))
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		if answer.StatusCode != http.StatusOK {
			t.Fatalf("loaded %s: %s", slot, answer.Status)
		}
	}
}

// build builds a program of this module as it is built for boards, and returns its file.
func build(t *testing.T, name, of string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), name)
	cmd := exec.Command("go", "build", "-trimpath", "-tags", "nethttpomithttp2", "-ldflags", "-s -w", "-o", file, of)
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return file
}

// probes makes the files that the kernel has of two DS18B20, those of w1_therm and, as its
// driver registers them with hwmon too, those; the same files behind both. What they say
// changes each second by a step of the chips, until the test ends.
func probes(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	must := func(err error) {
		if err != nil {
			t.Fatal(err)
		}
	}
	say := func() {
		for n := 1; n <= 2; n++ {
			name := filepath.Join(dir, "w1", fmt.Sprintf("28-%012d", n), "temperature")
			must(os.WriteFile(name+".new", fmt.Appendf(nil, "%d\n", 99000-n*1000+rand.IntN(3)*125/2), 0o600))
			must(os.Rename(name+".new", name))
		}
	}
	for n := 1; n <= 2; n++ {
		w1, hwmon := filepath.Join(dir, "w1", fmt.Sprintf("28-%012d", n)), filepath.Join(dir, "sys", "class", "hwmon", fmt.Sprint("hwmon", n))
		must(os.MkdirAll(w1, 0o700))
		must(os.MkdirAll(hwmon, 0o700))
		must(os.WriteFile(filepath.Join(hwmon, "name"), []byte("w1_slave_temp\n"), 0o600))
		must(os.Symlink(filepath.Join(w1, "temperature"), filepath.Join(hwmon, "temp1_input")))
	}
	say()
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		for every := time.NewTicker(time.Second); ; {
			select {
			case <-every.C:
				say()
			case <-ctx.Done():
				return
			}
		}
	}()
	t.Cleanup(func() { stop(); <-done })
	return dir
}

// started is a program that runs.
type started struct {
	program
	at             string
	pid            int
	began          time.Time
	answers, first time.Duration // from then to its first answer and its first reading; 0: not yet
	said           *strings.Builder
	end            func()
}

// where is what the words in a program's files and arguments stand for.
type where struct{ probes, exporter, router string }

// start starts a program in a folder of its own.
func (p program) start(t *testing.T, w where) *started {
	t.Helper()
	dir, at := t.TempDir(), freeport.Find(t)
	host, port, _ := strings.Cut(at, ":")
	words := strings.NewReplacer("DIR", dir, "PROBES", w.probes, "AT", at, "HOST", host, "PORT", port, "GOSSIP", freeport.Find(t), "EXPORTER", w.exporter, "ROUTER", w.router)
	for name, text := range p.files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(words.Replace(text)), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	args := make([]string, len(p.args))
	for i, a := range p.args {
		args[i] = words.Replace(a)
	}
	ctx, stop := context.WithCancel(context.Background())
	cmd := exec.CommandContext(ctx, p.file, args...)
	cmd.Env = append(append(os.Environ(), "GOMAXPROCS="), p.env...)
	cmd.Cancel = func() error { return cmd.Process.Signal(os.Interrupt) }
	cmd.WaitDelay = 10 * time.Second
	s := &started{program: p, at: at, said: &strings.Builder{}}
	cmd.Stdout, cmd.Stderr = s.said, s.said
	s.began = time.Now()
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	s.pid, s.end = cmd.Process.Pid, sync.OnceFunc(func() { stop(); _ = cmd.Wait() })
	t.Cleanup(s.end)
	return s
}

// await waits for the first reading, and then tells the program what it is to be told.
func (s *started) await(t *testing.T) *started {
	t.Helper()
	for !holds(s.at+s.reading, s.shows) {
		if s.answers == 0 && holds(s.at+s.page, "") {
			s.answers = time.Since(s.began)
		}
		if time.Since(s.began) > 30*time.Second {
			s.end()
			t.Fatalf("%s does not show %q at %s; it said\n%s", s.name, s.shows, s.reading, s.said.String())
		}
		time.Sleep(time.Millisecond)
	}
	s.first = time.Since(s.began)
	s.answers = cmp.Or(s.answers, s.first)
	if s.runs != nil {
		s.runs(t, s.at)
	}
	return s
}

// needsLinux skips a test elsewhere: what programs use up is asked of its /proc.
func needsLinux(t *testing.T) {
	t.Helper()
	if runtime.GOOS != "linux" {
		t.Skip("counted by Linux only")
	}
}
