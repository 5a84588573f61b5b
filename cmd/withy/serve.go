package main

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"os"
	"runtime/debug"
	"sync"
	"time"

	"withy/cmd/withy/internal/boxes"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/door"
	"withy/cmd/withy/internal/metrics"
	"withy/cmd/withy/internal/web"
)

// inShop is a box that knows the others.
type inShop struct {
	*daemon.Daemon
	others *boxes.Watch
}

// Shop returns all boxes of the shop.
func (s inShop) Shop() boxes.ShopView { return s.others.Shop() }

// garbagePercent makes the collector tidy up sooner than Go's 100 %: the daemon keeps
// little and makes a little each second, so memory is dearer here than time. GOGC in
// the environment goes before it.
const garbagePercent = 40

// goodbye is how long the page's readers are given to finish.
const goodbye = 2 * time.Second

// serve runs the daemon and its page, and whatever goes on beside them, until ctx
// is done or the daemon ends. around are the boxes of the shop that the page shows.
func serve(ctx context.Context, d *daemon.Daemon, settings *settingPage, e *entrance, around boxes.Shop, log *slog.Logger, beside ...func(context.Context)) error {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(garbagePercent)
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	settings.daemon, settings.door, d.Number = d, e.Door, around.Number
	var served web.Box = d
	if len(around.Boxes) > 0 || around.Number > 0 {
		watch := boxes.New(around, d.View, log)
		served, beside = inShop{d, watch}, append(beside, watch.Run)
	}
	page := web.New(served, settings, metrics.Handler(d), e.Entry, log)
	servers := map[*http.Server]net.Listener{web.Server(page): e.listener}
	if e.socket != nil {
		servers[web.Server(door.ByTheSocket(page))] = e.socket
	}
	var group sync.WaitGroup
	for server, l := range servers {
		server.ErrorLog = slog.NewLogLogger(log.Handler(), slog.LevelDebug) // what strangers send is no news
		group.Go(func() {
			if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
				log.Error("page", "err", err)
			}
		})
	}
	for _, run := range beside {
		group.Go(func() { run(ctx) })
	}
	err := d.Run(ctx)
	cancel()
	stop, done := context.WithTimeout(context.Background(), goodbye)
	defer done()
	for server := range servers {
		if server.Shutdown(stop) != nil {
			server.Close()
		}
	}
	// Not deferred: a panic of the loop must end the process, and not wait for the page.
	group.Wait()
	return err
}
