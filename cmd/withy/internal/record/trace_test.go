package record

import (
	"errors"
	"math"
	"testing"
	"time"

	"withy/cmd/withy/internal/view"
	"withy/steambox"
	"withy/steambox/boiler"
)

func traced(t *testing.T, r *Record, id string, from, to float64, most int) view.Trace {
	t.Helper()
	tr, err := r.Trace(id, from, to, most)
	must(t, err)
	if len(tr.ElapsedS) > most || len(tr.Level) != len(tr.ElapsedS) || len(tr.Probes) != 4 {
		t.Fatalf("%d points, %d levels, %d probes; at most %d points", len(tr.ElapsedS), len(tr.Level), len(tr.Probes), most)
	}
	for i, row := range tr.Probes {
		if len(row) != len(tr.ElapsedS) {
			t.Fatalf("probe %d: %d of %d", i, len(row), len(tr.ElapsedS))
		}
	}
	return tr
}

func TestTraceWhole(t *testing.T) {
	r := open(t, t.TempDir())
	id := begin(t, r)
	live(t, r, 300)
	must(t, r.flush())
	tr := traced(t, r, id, 20, 129.5, 3000)
	if len(tr.ElapsedS) != 110 || len(tr.Events) != 7 {
		t.Fatalf("%d points, %d events", len(tr.ElapsedS), len(tr.Events))
	}
	for i, atS := range tr.ElapsedS {
		at, _, s := secondOf(20 + i)
		if atS != at.Seconds() || tr.Level[i] != int(s.Level) {
			t.Fatal(i, atS, tr.Level[i])
		}
		for p, x := range s.Probes {
			got := tr.Probes[p][i]
			if (got == nil) != (x.Fault != "") || got != nil && *got != float64(x.MilliC)/1000 {
				t.Fatalf("at %v s probe %d: %v, want %+v", atS, p, got, x)
			}
		}
	}
}

// The worst of what happened between two points of the page is on the page.
func TestTraceKeepsExtremes(t *testing.T) {
	r := open(t, t.TempDir())
	id := begin(t, r)
	const n = 20_000
	dips := map[int]int{1234: 0, 7000: 1, 7001: 2, 19_990: 3}
	for k := range n {
		s := steambox.Sample{Level: boiler.Closed, Probes: make([]steambox.ProbeSample, 4)}
		for p := range s.Probes {
			s.Probes[p].MilliC = int32(98_000 + 62*(k*7%3))
		}
		if p, ok := dips[k]; ok {
			s.Probes[p].MilliC = 60_000 + int32(p)
			s.Probes[(p+1)%4].MilliC = 103_000 + int32(p)
		}
		if k == 4321 {
			s.Level = boiler.Open
		}
		if k == 9876 {
			s.Probes[1].Fault = "absent"
		}
		must(t, r.Sample(time.Duration(k)*time.Second, morning, s))
	}
	must(t, r.flush())
	for _, most := range []int{n, 2000, 500, 100} {
		tr := traced(t, r, id, 0, math.Inf(1), most)
		for k, p := range dips {
			if !has(tr, p, 60+float64(p)/1000) || !has(tr, (p+1)%4, 103+float64(p)/1000) {
				t.Errorf("of %d points, none shows second %d", most, k)
			}
		}
		open, failed := 0, 0
		for i := range tr.ElapsedS {
			if tr.Level[i] == int(boiler.Open) {
				open++
			}
			if tr.Probes[1][i] == nil {
				failed++
			}
			if i > 0 && tr.ElapsedS[i] <= tr.ElapsedS[i-1] {
				t.Fatal("not in order at", tr.ElapsedS[i])
			}
		}
		if open != 1 || failed != 1 {
			t.Errorf("of %d points, %d open, %d failed", most, open, failed)
		}
		t.Logf("at most %d: %d points", most, len(tr.ElapsedS))
	}
	if tr := traced(t, r, id, 6999, 7001, 100); len(tr.ElapsedS) != 3 || !has(tr, 1, 60.001) || !has(tr, 2, 60.002) {
		t.Error("both ends of the stretch are not in it:", tr.ElapsedS)
	}
	for _, most := range []int{1, 2, 3, 11} {
		traced(t, r, id, 0, n, most)
	}
}

func has(tr view.Trace, probe int, c float64) bool {
	for _, x := range tr.Probes[probe] {
		if x != nil && *x == c {
			return true
		}
	}
	return false
}

func TestTraceOfNothing(t *testing.T) {
	r := open(t, t.TempDir())
	id := begin(t, r)
	for _, c := range [][2]float64{{0, 0}, {5, 3}, {math.Inf(1), math.Inf(1)}, {math.NaN(), math.NaN()}, {-5, -3}, {1e300, 1e301}} {
		if tr := traced(t, r, id, c[0], c[1], 10); len(tr.ElapsedS) != 0 || tr.Events == nil || tr.Probes[0] == nil {
			t.Errorf("%v: %+v", c, tr)
		}
	}
	if _, err := r.Trace("1999-01-01-1", 0, 1, 10); !errors.Is(err, ErrUnknown) {
		t.Error(err)
	}
}
