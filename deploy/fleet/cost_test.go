package fleet_test

import (
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"go.yaml.in/yaml/v3"
)

// What many boxes cost one Prometheus. Boxes are simulated by the pages of one rehearsal's
// session, recorded each 15 s of its time; every box is at another place in it. They are
// scraped faster than in life, which changes neither what a sample nor what a series costs.
//
//	WITHY_FLEET=1 go test -v -run Cost ./deploy/fleet
func TestCost(t *testing.T) {
	if os.Getenv("WITHY_FLEET") == "" {
		t.Skip("takes five minutes; WITHY_FLEET=1")
	}
	pages := recorded(t, 480) // two hours
	few := crowd(t, pages, 10, 250*time.Millisecond, 480)
	many := crowd(t, pages, 200, time.Second, 240)

	// A scrape carries a share that does not grow with boxes; the difference of the two is per series.
	perSeries := (many.residentB - few.residentB) / (many.series - few.series)
	base := few.residentB - perSeries*few.series
	perBox := many.series / 200
	perSample := few.chunkB / few.samples
	t.Logf("a series: %.1f KiB of memory above %.0f MiB; a sample: %.2f bytes of chunks; a series in a block: %.0f bytes of index; CPU: %.2f s a million samples",
		perSeries/1024, base/(1<<20), perSample, few.indexB/few.series, 1e6*many.cpuS/many.samples)
	for _, boxes := range []float64{10, 200, 1000, 10_000, 100_000} {
		series := boxes * perBox
		rate := series / 15
		t.Logf("%7.0f boxes: %8.0f series, %8.0f samples/s, %8.0f MiB of memory, %8.0f MB a day, %6.2f processors",
			boxes, series, rate, (base+series*perSeries)/(1<<20), (rate*86400*perSample+12*series*few.indexB/few.series)/1e6, rate*many.cpuS/many.samples)
	}
}

// recorded returns pages of metrics of a rehearsal, one each 15 s of its time.
func recorded(t *testing.T, n int) [][]byte {
	t.Helper()
	const speed = 150
	box := rehearse(t, build(t), "--scenario", "good", "--speed", strconv.Itoa(speed))
	tick := time.NewTicker(15 * time.Second / speed)
	defer tick.Stop()
	var out [][]byte
	for len(out) < n {
		<-tick.C
		out = append(out, metricsOf(t, box))
	}
	return out
}

func metricsOf(t *testing.T, at string) []byte {
	t.Helper()
	answer, err := http.Get("http://" + at + "/metrics")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != http.StatusOK {
		t.Fatal(answer.Status, err)
	}
	return text
}

// cost is what a Prometheus used up.
type cost struct {
	series, samples, residentB, cpuS, chunkB, indexB float64
}

// crowd lets a Prometheus scrape so many boxes, each so often, and measures it.
func crowd(t *testing.T, pages [][]byte, boxes int, every time.Duration, scrapes int) cost {
	t.Helper()
	var mu sync.Mutex
	at := map[string]int{}
	for i := range boxes {
		at[fmt.Sprintf("/%d", i)] = i * len(pages) / boxes
	}
	served := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		mu.Lock()
		page := pages[at[r.URL.Path]%len(pages)]
		at[r.URL.Path]++
		mu.Unlock()
		w.Header().Set("Content-Type", "text/plain; version=0.0.4")
		_, _ = w.Write(page)
	}))
	defer served.Close()

	dir := t.TempDir()
	var targets []map[string]any
	for i := range boxes {
		targets = append(targets, map[string]any{"targets": []string{strings.TrimPrefix(served.URL, "http://")},
			"labels": map[string]string{"__metrics_path__": fmt.Sprintf("/%d", i), "shop": fmt.Sprintf("shop-%d", i/3), "box": fmt.Sprint(i), "instance": fmt.Sprintf("box-%d.lan:8017", i)}})
	}
	text, err := yaml.Marshal(targets)
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, "boxes.yml"), text, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	rules, err := filepath.Abs("rules.yml")
	if err != nil {
		t.Fatal(err)
	}
	config := altered(t, "prometheus.yml", dir, func(file map[string]any) {
		global := file["global"].(map[string]any)
		interval := fmt.Sprintf("%dms", every.Milliseconds())
		// As many evaluations as scrapes, as with the file that is tried.
		global["scrape_interval"], global["scrape_timeout"], global["evaluation_interval"] = interval, interval, interval
		file["rule_files"] = []string{rules}
		delete(file, "alerting")
		scrape := list(file["scrape_configs"])[0]
		scrape["scheme"] = "http" // what TLS costs is the boxes' to bear, a connection each
		delete(scrape, "authorization")
		delete(scrape, "tls_config")
		scrape["file_sd_configs"].([]any)[0].(map[string]any)["files"] = []string{"boxes.yml"}
	})
	s := runPrometheus(t, config, dir)
	eventually(t, time.Minute, "all are scraped", func() bool { return s.value(t, `count(up == 1)`) == float64(boxes) })
	begun, cpu := s.own(t, "prometheus_tsdb_head_samples_appended_total"), s.own(t, "process_cpu_seconds_total")
	time.Sleep(time.Duration(scrapes) * every)
	c := cost{
		series: s.own(t, "prometheus_tsdb_head_series"), residentB: s.own(t, "process_resident_memory_bytes"),
		cpuS: s.own(t, "process_cpu_seconds_total") - cpu,
	}
	c.samples = s.own(t, "prometheus_tsdb_head_samples_appended_total")
	answer, err := http.Post("http://"+s.at+"/api/v1/admin/tsdb/snapshot", "", nil)
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	c.chunkB, c.indexB = sizeOf(t, filepath.Join(s.data, "snapshots"), "chunks"), sizeOf(t, filepath.Join(s.data, "snapshots"), "index")
	t.Logf("%d boxes, %d scrapes each: %.0f series, %.0f samples, %.1f MiB resident, %.1f s of CPU, %.2f MB of chunks, %.2f MB of index, %.2f MB of log ahead",
		boxes, scrapes, c.series, c.samples, c.residentB/(1<<20), c.cpuS, c.chunkB/1e6, c.indexB/1e6, sizeOf(t, s.data, "wal")/1e6)
	// What was there before the clock started costs no CPU here.
	c.cpuS *= c.samples / (c.samples - begun)
	if down := s.value(t, `count(up == 0)`); down > 0 {
		t.Errorf("%g boxes are down", down)
	}
	if err := s.process.Kill(); err != nil {
		t.Error(err)
	}
	return c
}

// own returns one of Prometheus's metrics of itself, the sum where it has labels.
func (s *server) own(t *testing.T, name string) float64 {
	t.Helper()
	sum, found := 0.0, false
	for line := range strings.Lines(string(metricsOf(t, s.at))) {
		key, value, _ := strings.Cut(strings.TrimSpace(line), " ")
		if bare, _, _ := strings.Cut(key, "{"); bare != name {
			continue
		}
		x, err := strconv.ParseFloat(value, 64)
		if err != nil {
			t.Fatal(err)
		}
		sum, found = sum+x, true
	}
	if !found {
		t.Fatalf("Prometheus has no %s", name)
	}
	return sum
}

// sizeOf returns the bytes of all files under dir that are or lie in something of that name.
func sizeOf(t *testing.T, dir, name string) float64 {
	t.Helper()
	sum := int64(0)
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.Contains(strings.TrimPrefix(path, dir)+"/", "/"+name+"/") {
			return err
		}
		info, err := d.Info()
		if err == nil {
			sum += info.Size()
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return float64(sum)
}
