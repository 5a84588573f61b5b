package alert_test

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"withy/alert"
)

func TestLightOf(t *testing.T) {
	a := func(p alert.Priority, s alert.State) alert.Alarm { return alert.Alarm{Priority: p, State: s} }
	for _, test := range []struct {
		name   string
		alarms []alert.Alarm
		want   alert.Light
	}{
		{"nothing", nil, alert.Dark},
		{"low", []alert.Alarm{a(alert.Low, alert.Raised)}, alert.Steady},
		{"heard", []alert.Alarm{a(alert.High, alert.HeardBy)}, alert.Steady},
		{"latched", []alert.Alarm{a(alert.High, alert.Latched)}, alert.Steady},
		{"medium", []alert.Alarm{a(alert.Medium, alert.Raised)}, alert.Slow},
		{"over, and nobody heard it", []alert.Alarm{a(alert.High, alert.Cleared)}, alert.Slow},
		{"high", []alert.Alarm{a(alert.High, alert.Raised)}, alert.Fast},
		{"the most pressing counts", []alert.Alarm{a(alert.Medium, alert.Raised), a(alert.High, alert.Raised), a(alert.Low, alert.Raised)}, alert.Fast},
		{"heard before medium", []alert.Alarm{a(alert.High, alert.HeardBy), a(alert.Medium, alert.Raised)}, alert.Slow},
		{"and after", []alert.Alarm{a(alert.Medium, alert.Raised), a(alert.High, alert.HeardBy)}, alert.Slow},
	} {
		if got := alert.LightOf(test.alarms); got != test.want {
			t.Errorf("%s: %v, want %v", test.name, got, test.want)
		}
	}
}

func TestLamp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := &pin{start: time.Now()}
		ctx, cancel := context.WithCancel(context.Background())
		l := alert.NewLamp(p, nil)
		done := make(chan struct{})
		go func() { l.Run(ctx); close(done) }()
		for _, light := range []alert.Light{alert.Dark, alert.Fast, alert.Fast, alert.Slow, alert.Steady, alert.Steady} {
			l.Show(light) // each second, as a daemon does, whether it is news or not
			time.Sleep(time.Second)
		}
		cancel()
		<-done
		ms := time.Millisecond
		want := []time.Duration{
			1000 * ms, 1250 * ms, 1500 * ms, 1750 * ms, 2000 * ms, 2250 * ms, 2500 * ms, 2750 * ms, // 2 Hz
			3000 * ms, 3700 * ms, // slow
			4000 * ms, 6000 * ms, // steady, and off at the end
		}
		if !slices.Equal(p.edges, want) || p.on {
			t.Errorf("edges at %v, want %v", p.edges, want)
		}
	})
}

// Lights that nobody fetches don't hold up the one who shows them.
func TestLampNobodyRuns(t *testing.T) {
	l := alert.NewLamp(&pin{}, nil)
	done := make(chan struct{})
	go func() {
		for range 5 {
			l.Show(alert.Fast)
		}
		close(done)
	}()
	select {
	case <-done:
	case <-time.After(5 * time.Second):
		t.Error("Show waits")
	}
}

func TestLampFails(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var told []error
		ctx, cancel := context.WithCancel(context.Background())
		l := alert.NewLamp(broken{}, func(err error) { told = append(told, err) })
		done := make(chan struct{})
		go func() { l.Run(ctx); close(done) }()
		l.Show(alert.Steady)
		time.Sleep(time.Second)
		cancel()
		<-done
		if len(told) != 2 {
			t.Errorf("told %v, want a failure for on and one for off", told)
		}
	})
}

// broken is a pin that can't be switched.
type broken struct{}

func (broken) Set(on bool) error { return fmt.Errorf("can't be switched to %v", on) }
