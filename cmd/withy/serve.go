package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"runtime/debug"
	"sync"
	"syscall"
	"time"

	"withy/cmd/withy/internal/boxes"
	"withy/cmd/withy/internal/daemon"
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

// listen takes the page's port.
func listen(address string) (net.Listener, error) {
	l, err := net.Listen("tcp", address)
	if errors.Is(err, syscall.EADDRINUSE) {
		return nil, fmt.Errorf("--listen %s: the port is taken by another program; name another, such as 127.0.0.1:8018", address)
	}
	if err != nil {
		return nil, fmt.Errorf("--listen %s: %w", address, err)
	}
	return l, nil
}

// garbagePercent makes the collector tidy up sooner than Go's 100 %: the daemon keeps
// little and makes a little each second, so memory is dearer here than time. GOGC in
// the environment goes before it.
const garbagePercent = 40

// goodbye is how long the page's readers are given to finish.
const goodbye = 2 * time.Second

// serve runs the daemon and its page, and whatever goes on beside them, until ctx
// is done or the daemon ends. hosts are the names that the page is asked for by,
// around the boxes of the shop that it shows.
func serve(ctx context.Context, d *daemon.Daemon, settings *settingPage, l net.Listener, hosts []string, around boxes.Shop, log *slog.Logger, beside ...func(context.Context)) error {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(garbagePercent)
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	settings.daemon = d
	var served web.Box = d
	if len(around.Boxes) > 0 || around.Number > 0 {
		watch := boxes.New(around, log)
		served, beside = inShop{d, watch}, append(beside, watch.Run)
	}
	server := web.Server(web.New(served, settings, metrics.Handler(d), hosts, log))
	var group sync.WaitGroup
	group.Go(func() {
		if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			log.Error("page", "err", err)
		}
	})
	for _, run := range beside {
		group.Go(func() { run(ctx) })
	}
	err := d.Run(ctx)
	cancel()
	stop, done := context.WithTimeout(context.Background(), goodbye)
	defer done()
	if server.Shutdown(stop) != nil {
		server.Close()
	}
	// Not deferred: a panic of the loop must end the process, and not wait for the page.
	group.Wait()
	return err
}
