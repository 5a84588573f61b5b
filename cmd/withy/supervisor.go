package main

import (
	"context"
	"log/slog"

	"github.com/coreos/go-systemd/v22/daemon"
)

// supervisor tells systemd that the watch stands. What it tells comes from the loop, sweep
// by sweep: once that stands still, or every read of a probe hangs that did not before, so
// does this, and systemd starts the program again.
type supervisor struct {
	sweeps chan struct{}
	log    *slog.Logger
}

func newSupervisor(log *slog.Logger) *supervisor {
	return &supervisor{sweeps: make(chan struct{}, 1), log: log}
}

// Swept enters that sensors were read and reckoned with. It doesn't wait.
func (s *supervisor) Swept() {
	select {
	case s.sweeps <- struct{}{}:
	default:
	}
}

// run tells systemd until ctx is done: ready with the first sweep, alive with each. Where
// nobody asks for it nothing is told.
func (s *supervisor) run(ctx context.Context) {
	state := daemon.SdNotifyReady
	for {
		select {
		case <-ctx.Done():
			s.tell(daemon.SdNotifyStopping)
			return
		case <-s.sweeps:
			s.tell(state)
			state = daemon.SdNotifyWatchdog
		}
	}
}

func (s *supervisor) tell(state string) {
	if _, err := daemon.SdNotify(false, state); err != nil {
		s.log.Warn("supervisor", "err", err)
	}
}
