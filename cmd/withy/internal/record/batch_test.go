package record

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"withy/steambox"
	"withy/steambox/boiler"
)

// anySample draws samples of every sort: faults with and without a value, probes
// that are missing, frost, and what no chip would say.
func anySample() *rapid.Generator[steambox.Sample] {
	contacts := rapid.SampledFrom([]boiler.Contact{boiler.Unknown, boiler.Closed, boiler.Open})
	temps := rapid.OneOf(rapid.Int32Range(-30_000, 110_000), rapid.Int32(), rapid.SampledFrom([]int32{math.MinInt32, math.MaxInt32}))
	faults := rapid.OneOf(rapid.Just(""), rapid.SampledFrom([]string{"absent", "power_on", "checksum"}), rapid.String())
	return rapid.Custom(func(t *rapid.T) steambox.Sample {
		s := steambox.Sample{Level: contacts.Draw(t, "level"), Door: contacts.Draw(t, "door")}
		for range rapid.SampledFrom([]int{4, 4, 4, 0, 1, 3, 8}).Draw(t, "probes") {
			s.Probes = append(s.Probes, steambox.ProbeSample{MilliC: temps.Draw(t, "m°C"), Fault: faults.Draw(t, "fault")})
		}
		return s
	})
}

// anyTimes draws times that mostly go on by a second, with long gaps and jumps.
func anyTimes() *rapid.Generator[[2]int64] {
	steps := rapid.OneOf(rapid.Int64Range(990e6, 1010e6), rapid.Int64Range(0, int64(100*time.Hour)), rapid.Int64())
	return rapid.Custom(func(t *rapid.T) [2]int64 {
		return [2]int64{steps.Draw(t, "at"), steps.Draw(t, "wall")}
	})
}

func TestBatchRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var want []Entry
		var b batch
		at, wall := rapid.Int64().Draw(t, "first at"), rapid.Int64().Draw(t, "first wall")
		for range rapid.IntRange(1, 12).Draw(t, "samples") {
			s := anySample().Draw(t, "sample")
			if err := b.add(time.Duration(at), wall, s); err != nil {
				t.Fatal(err)
			}
			want = append(want, Entry{Seq: int64(len(want)) + 9, At: time.Duration(at), Wall: wallTime(wall), Sample: &s})
			d := anyTimes().Draw(t, "step")
			at, wall = at+d[0], wall+d[1]
		}
		w := row{position: position(3, 9), kind: rowSamples, at: b.at, wall: b.wall, body: b.body}.summed()
		var got []Entry
		for e, err := range w.unpack() {
			if err != nil {
				t.Fatal(err)
			}
			got = append(got, e)
		}
		alike(t, got, want)
	})
}

func TestBatchRefusesNoContact(t *testing.T) {
	var b batch
	if err := b.add(0, 0, steambox.Sample{Level: 3}); !errors.Is(err, errBatch) || b.n != 0 {
		t.Error(err)
	}
}

// A bit lost by the card is an error, never another temperature.
func TestBatchEveryBit(t *testing.T) {
	var b batch
	for k := range batchSize {
		at, wall, s := secondOf(k)
		must(t, b.add(at, nanos(wall), s))
	}
	sealed := seal(b.body)
	t.Logf("%d bytes for %d samples of 4 probes", len(sealed), batchSize)
	for i := range len(sealed) * 8 {
		bad := bytes.Clone(sealed)
		bad[i/8] ^= 1 << (i % 8)
		if _, err := unseal(bad); !errors.Is(err, ErrDamaged) {
			t.Fatalf("bit %d: %v", i, err)
		}
	}
	for n := range sealed {
		if _, err := unseal(sealed[:n]); err == nil {
			t.Errorf("cut to %d bytes: no error", n)
		}
	}
}

// What the decoder accepts, the encoder gives back as something that is read the
// same; everything else is an error.
func FuzzBatch(f *testing.F) {
	var b batch
	for k := range batchSize {
		at, wall, s := secondOf(55 + k)
		_ = b.add(at, nanos(wall), s)
	}
	f.Add(b.body)
	f.Add([]byte{otherCount, 0, 0, 2, 1, 1, 2, 'o', 'h', 1, 1})
	f.Fuzz(func(t *testing.T, body []byte) {
		var again batch
		var want []steambox.Sample
		u := unbatch{body: slices.Clip(body)} // reading past its end panics
		for u.more() {
			at, wall, s, err := u.next()
			if err != nil {
				if !errors.Is(err, errBatch) {
					t.Fatal(err)
				}
				return
			}
			if err := again.add(at, wall, s); err != nil {
				t.Fatal(err)
			}
			want = append(want, s)
		}
		u = unbatch{body: again.body, last: newState(again.at, again.wall)}
		for _, s := range want {
			_, _, got, err := u.next()
			if err != nil {
				t.Fatal(err)
			}
			alike(t, got, s)
		}
	})
}
