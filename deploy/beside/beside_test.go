package beside_test

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// measured is a row of the table.
type measured struct {
	name            string
	resident, anon  float64 // MiB
	cpu, written    float64 // s and KiB in ten minutes
	answers, first  float64 // ms from its start
	median, worst   float64 // ms; the second is the 99th percentile
	program, debian float64 // MB; 0: it is in no package
}

// TestSideBySide runs all programs at once on the same pretend probes and prints what each
// costs, and then what it costs Withy to be looked at by many. WITHY_BESIDE is for how many
// minutes, else it is seconds and the figures are worth nothing, but that there are any; the
// tables go to the file that WITHY_TABLE names.
func TestSideBySide(t *testing.T) {
	needsLinux(t)
	long, starts, scrapes, look := time.Second, 0, 10, 100*time.Millisecond
	if minutes, err := strconv.ParseFloat(os.Getenv("WITHY_BESIDE"), 64); err == nil {
		long, starts, scrapes, look = time.Duration(minutes*float64(time.Minute)), 5, 400, 10*time.Second
	}
	ours := withy(cmp.Or(os.Getenv("WITHY_BESIDE_PROGRAM"), build(t, "withy", "withy/cmd/withy")), os.Getenv("WITHY_BESIDE_PACKAGE"))
	watched := ours
	watched.name += ", one page open"
	bare := least(build(t, "bare", "withy/deploy/beside/bare"))

	w := where{probes: probes(t)}
	run := func(p program) *started {
		if starts == 0 { // they may start all at once
			return p.start(t, w)
		}
		var all []*started
		for range starts {
			if len(all) > 0 {
				all[len(all)-1].end()
			}
			all = append(all, p.start(t, w).await(t))
		}
		s := all[len(all)-1]
		s.answers, s.first = middle(all, func(s *started) time.Duration { return s.answers }), middle(all, func(s *started) time.Duration { return s.first })
		return s
	}
	all := []*started{run(watched), run(ours), run(bare), run(exporter)}
	w.exporter = all[3].at
	all = append(all, run(router))
	w.router = all[4].at
	all = append(all, run(scraper))
	all = append(all, run(lean(router, "GOSSIP")))
	w.exporter, w.router = exporter.start(t, w).await(t).at, all[6].at // nothing but the lean scraper asks these
	all = append(all, run(lean(scraper, `  - {job_name: prometheus, static_configs: [{targets: ["AT"]}]}`+"\n")), run(collector))
	for _, s := range all {
		if s.first == 0 {
			s.await(t)
		}
	}
	stop := listen(t, all[0].at, 1)
	time.Sleep(min(long, 10*time.Second)) // what starting costs is over

	rows := make([]measured, len(all))
	before := uses(t, all)
	time.Sleep(long)
	for i, after := range uses(t, all) {
		rows[i] = row(all[i], before[i], after, long)
	}
	stop()
	scrape(t, all, rows, scrapes)
	parts := together("exporter, router and scraper together", rows[3], rows[4], rows[5])
	leanest := together("the same, lean", rows[3], rows[6], rows[7])
	rows = append(rows, parts, leanest)

	table := sideBySide(rows)
	says := compare(rows[0], rows[2], parts) + fmt.Sprintf(" Of the lean ones it takes 1/%.1f of the memory and 1/%.1f of the CPU.", leanest.resident/rows[0].resident, leanest.cpu/rows[0].cpu)
	seen := lookedAt(t, all[1], look)
	write(t, table+"\n"+says+"\n\n"+seen)
	for _, r := range rows {
		if r.resident < 1 || r.first <= 0 || r.median <= 0 || r.program <= 0 {
			t.Errorf("%+v", r)
		}
	}
}

// middle is the median of what several starts took.
func middle(of []*started, took func(*started) time.Duration) time.Duration {
	var all []time.Duration
	for _, s := range of {
		all = append(all, took(s))
	}
	slices.Sort(all)
	return all[len(all)/2]
}

func uses(t *testing.T, all []*started) []used {
	t.Helper()
	out := make([]used, len(all))
	for i, s := range all {
		var err error
		if out[i], err = usedBy(s.pid); err != nil {
			t.Fatalf("%s: %v", s.name, err)
		}
	}
	return out
}

// row is what a program used between two looks, scaled to ten minutes.
func row(s *started, before, after used, long time.Duration) measured {
	scale := float64(10*time.Minute) / float64(long)
	r := measured{
		name: s.name, resident: mib(after.residentB), anon: mib(after.anonB),
		cpu: (after.cpu - before.cpu).Seconds() * scale, written: float64(after.writtenB-before.writtenB) / 1024 * scale,
		answers: ms(s.answers), first: ms(s.first), debian: packageMB(s.deb),
	}
	if info, err := os.Stat(s.file); err == nil {
		r.program = float64(info.Size()) / 1e6
	}
	return r
}

func mib(b int64) float64        { return float64(b) / (1 << 20) }
func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// packageMB is what a package takes once it is installed, one that is installed by its name
// or one in a file.
func packageMB(deb string) float64 {
	var said []byte
	switch {
	case deb == "":
		return 0
	case strings.HasSuffix(deb, ".deb"):
		said, _ = exec.Command("dpkg-deb", "-f", deb, "Installed-Size").Output()
	default:
		said, _ = exec.Command("dpkg-query", "-W", "-f", "${Installed-Size}", deb).Output()
	}
	kib, _ := strconv.ParseFloat(strings.TrimSpace(string(said)), 64)
	return kib * 1024 / 1e6
}

// together adds rows up; their scrapes and their starts are no sums, and it takes them all.
func together(name string, rows ...measured) measured {
	sum := measured{name: name}
	for _, r := range rows {
		sum.resident += r.resident
		sum.anon += r.anon
		sum.cpu += r.cpu
		sum.written += r.written
		sum.program += r.program
		sum.debian += r.debian
		sum.answers, sum.first = max(sum.answers, r.answers), max(sum.first, r.first)
		sum.median, sum.worst = max(sum.median, r.median), max(sum.worst, r.worst)
	}
	return sum
}

// scrape asks for each page in turn, over a new connection each time.
func scrape(t *testing.T, all []*started, rows []measured, times int) {
	t.Helper()
	took := make([][]time.Duration, len(all))
	for range times {
		for i, s := range all {
			began := time.Now()
			if !holds(s.at+s.page, "# HELP") {
				t.Fatalf("%s: no page of metrics", s.name)
			}
			took[i] = append(took[i], time.Since(began))
		}
	}
	for i := range rows {
		slices.Sort(took[i])
		rows[i].median, rows[i].worst = ms(took[i][times/2]), ms(took[i][times*99/100])
	}
}

var client = &http.Client{Transport: &http.Transport{DisableKeepAlives: true}, Timeout: 5 * time.Second}

// holds reports whether there is a page with some text.
func holds(url, text string) bool {
	answer, err := client.Get("http://" + url)
	if err != nil {
		return false
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	return err == nil && strings.Contains(string(body), text)
}

// sideBySide is the table of all.
func sideBySide(rows []measured) string {
	var b strings.Builder
	b.WriteString("| program | resident, MiB, and what of it is not its own file | CPU s in 10 min | written KiB in 10 min | start to first answer, to first reading, ms | scrape, median and 99th percentile, ms | program, MB | package installed, MB |\n")
	b.WriteString("| --- | --- | --- | --- | --- | --- | --- | --- |\n")
	for _, r := range rows {
		installed := "none"
		if r.debian > 0 {
			installed = fmt.Sprintf("%.1f", r.debian)
		}
		fmt.Fprintf(&b, "| %s | %.1f, %.1f | %.2f | %.0f | %.0f, %.0f | %.2f, %.2f | %.1f | %s |\n",
			r.name, r.resident, r.anon, r.cpu, r.written, r.answers, r.first, r.median, r.worst, r.program, installed)
	}
	return b.String()
}

// compare states the ratios that are asked for.
func compare(withy, bare, parts measured) string {
	kept := func(is bool) string {
		if is {
			return "met"
		}
		return "**missed**"
	}
	return fmt.Sprintf("Withy with a page open takes 1/%.1f of the memory of the three together (asked: a fifth, %s) and 1/%.1f of their CPU (a sixth, %s); "+
		"24 MiB: %s, 1.5 CPU s in 10 min: %s. Against the barest daemon it takes %.2f times the memory, %.2f times what is not its own file, and %.2f times the CPU.",
		parts.resident/withy.resident, kept(withy.resident*5 <= parts.resident), parts.cpu/withy.cpu, kept(withy.cpu*6 <= parts.cpu),
		kept(withy.resident <= 24), kept(withy.cpu <= 1.5), withy.resident/bare.resident, withy.anon/bare.anon, withy.cpu/bare.cpu)
}

// listen opens so many pages' streams of events and returns what closes them, once each has
// been let in or refused.
func listen(t *testing.T, at string, pages int) (stop func()) {
	t.Helper()
	in, stop := streams(t, at, pages)
	if in != pages {
		t.Fatalf("%d of %d pages were let in", in, pages)
	}
	return stop
}

func streams(t *testing.T, at string, pages int) (in int, stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	own := &http.Client{Transport: &http.Transport{}}
	var open, answered sync.WaitGroup
	var let atomic.Int64
	for range pages {
		answered.Add(1)
		open.Go(func() {
			r, _ := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+at+"/api/events", http.NoBody)
			answer, err := own.Do(r)
			if err == nil && answer.StatusCode == http.StatusOK {
				let.Add(1)
			}
			answered.Done()
			if err == nil {
				_, _ = io.Copy(io.Discard, answer.Body) // until the context ends it
				answer.Body.Close()
			}
		})
	}
	answered.Wait()
	stop = sync.OnceFunc(func() { cancel(); open.Wait(); own.CloseIdleConnections() })
	t.Cleanup(stop)
	return int(let.Load()), stop
}

// lookedAt opens more and more pages of a Withy that nobody looked at and says what each
// step costs it.
func lookedAt(t *testing.T, s *started, each time.Duration) string {
	t.Helper()
	cpu := curve{what: "CPU of a second", of: "page", unit: "ms"}
	resident := curve{what: "resident", of: "page", unit: "MiB"}
	refused := ""
	for _, pages := range []int{1, 10, 50, 100, 200, 500} {
		in, stop := streams(t, s.at, pages)
		time.Sleep(each / 2)
		before := uses(t, []*started{s})[0]
		time.Sleep(each)
		after := uses(t, []*started{s})[0]
		stop()
		if pages <= 200 {
			if in != pages {
				t.Errorf("%d of %d pages were let in", in, pages)
			}
			cpu.add(float64(pages), ms(after.cpu-before.cpu)/each.Seconds())
			resident.add(float64(pages), mib(after.residentB))
			continue
		}
		if in != 200 {
			t.Errorf("%d of %d pages were let in", in, pages)
		}
		refused = fmt.Sprintf("Of %d pages %d were let in, the others refused: %.1f ms of CPU a second, %.1f MiB.", pages, in, ms(after.cpu-before.cpu)/each.Seconds(), mib(after.residentB))
	}
	return curves(cpu, resident) + "\n" + refused + "\n"
}

// write writes a part of the tables where they go.
func write(t *testing.T, text string) {
	t.Helper()
	t.Log("\n" + text)
	name := os.Getenv("WITHY_TABLE")
	if name == "" {
		return
	}
	f, err := os.OpenFile(filepath.Clean(name), os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	if err == nil {
		_, err = f.WriteString(text + "\n")
	}
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}
