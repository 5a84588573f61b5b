package main

import (
	"context"
	"crypto/rand"
	"log/slog"
	"os"
	"os/signal"
	"reflect"
	"syscall"

	"withy/steambox"
)

// reloads returns what reads the configuration file anew each time the process is sent a
// SIGHUP, as `systemctl reload` does. was is what the daemon was started with.
func reloads(name, data string, p *settingPage, was settings, log *slog.Logger) func(context.Context) {
	return func(ctx context.Context) {
		hangups := make(chan os.Signal, 1)
		signal.Notify(hangups, syscall.SIGHUP)
		defer signal.Stop(hangups)
		for {
			select {
			case <-ctx.Done():
				return
			case <-hangups:
			}
			s, err := readSettings(name, data)
			if err == nil {
				err = p.reload(ctx, s)
			}
			switch {
			case err != nil:
				log.Error("the settings are as they were", "err", err)
			case fixed(s, was):
				log.Info("settings read")
			default:
				log.Warn("settings read; what is new of probes, lines, buttons, page and data folder counts from the next start")
			}
		}
	}
}

// fixed reports whether two settings are the same in what a daemon takes at its start only.
func fixed(a, b settings) bool {
	for _, s := range []*settings{&a, &b} {
		s.Box = steambox.Box{Probes: s.Box.Probes}
		s.Units, s.Told, s.Damaged, s.Mistook, s.at = "", nil, nil, nil, lines{}
	}
	return reflect.DeepEqual(a, b)
}

// reload has the daemon take what the configuration says now, at once, but for the probes
// and the switch, which it has taken up at its start. What was set on the page still goes
// before it.
func (p *settingPage) reload(ctx context.Context, s settings) error {
	if err := s.weather(); err != nil {
		s.Box.PressurePa, s.Box.Measured = p.base.PressurePa, p.base.Measured
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	base := s.Box
	base.Probes = p.base.Probes
	if p.base.Boiler.SwitchL == 0 || base.Boiler.SwitchL == 0 {
		base.Boiler.SwitchL = p.base.Boiler.SwitchL
	}
	whole, units := base, s.Units
	if err := p.set.apply(&whole, &units); err != nil {
		return err
	}
	err := p.take(ctx, rand.Text(), p.set, units, func(b *steambox.Box) {
		whole.Probes, whole.Earlier, whole.Rehearsal = b.Probes, b.Earlier, b.Rehearsal
		*b = whole
	})
	if err == nil {
		p.base, p.baseUnits, p.told = base, s.Units, s.Told
	}
	return err
}
