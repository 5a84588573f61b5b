// Command bare is the least that could be written for a steam box in Go: it reads two
// DS18B20 each second, keeps what they say by the same library as Withy and with the same
// settings, and serves a page of metrics. It knows nothing of ribs, water, alarms or people.
// deploy/beside measures Withy beside it; it is of no other use.
//
//	bare W1_ROOT RECORD.db HOST:PORT
package main

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log"
	"net"
	"net/http"
	"os"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	"modernc.org/sqlite"
)

// probes are what the kernel calls them.
var probes = [2]string{"28-000000000001", "28-000000000002"}

func main() {
	if len(os.Args) != 4 {
		log.Fatal("usage: bare W1_ROOT RECORD.db HOST:PORT")
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if err := run(ctx, os.Args[1], os.Args[2], os.Args[3]); err != nil {
		log.Fatal(err)
	}
}

// run reads, keeps and serves until ctx is done.
func run(ctx context.Context, root, record, listen string) error {
	db, err := open(record)
	if err != nil {
		return err
	}
	defer db.Close()
	temperature := prometheus.NewGaugeVec(prometheus.GaugeOpts{Name: "probe_temperature_celsius", Help: "What a probe read last."}, []string{"probe"})
	registry := prometheus.NewRegistry()
	registry.MustRegister(temperature)
	listener, err := net.Listen("tcp", listen)
	if err != nil {
		return err
	}
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", promhttp.HandlerFor(registry, promhttp.HandlerOpts{}))
	server := &http.Server{Handler: mux, ReadHeaderTimeout: 5 * time.Second}
	served := make(chan error, 1)
	go func() { served <- server.Serve(listener) }()
	defer server.Close()

	var waiting []sample
	defer func() { _ = keep(db, waiting, true) }()
	every := time.NewTicker(time.Second)
	defer every.Stop()
	for batches := 1; ; {
		s := sample{at: time.Now()}
		for i, probe := range probes {
			if s.milliC[i], err = read(root, probe); err != nil {
				log.Print(err)
				temperature.DeleteLabelValues(probe)
				continue
			}
			temperature.WithLabelValues(probe).Set(float64(s.milliC[i].Int64) / 1000)
		}
		if waiting = append(waiting, s); len(waiting) == batch {
			if err := keep(db, waiting, batches%3 == 0); err != nil {
				return err
			}
			waiting = waiting[:0]
			batches++
		}
		select {
		case <-every.C:
		case err := <-served:
			return err
		case <-ctx.Done():
			return nil
		}
	}
}

// sample is what both probes said; what can't be read is NULL.
type sample struct {
	at     time.Time
	milliC [2]sql.NullInt64
}

// batch is how many samples go into one transaction; each third is synced.
const batch = 10

// open opens the record as Withy opens its own.
func open(name string) (*sql.DB, error) {
	_, _ = sqlite.Fdatasync(true)
	db, err := sql.Open("sqlite", "file:"+name+"?vfs=unix-excl&_pragma=page_size(1024)&_pragma=cache_size(-256)&_pragma=journal_mode(WAL)&_pragma=wal_autocheckpoint(1000)&_txlock=immediate")
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	_, err = db.Exec(`CREATE TABLE IF NOT EXISTS sample (at INTEGER PRIMARY KEY, steam INTEGER, door INTEGER)`)
	return db, err
}

// keep puts samples on record.
func keep(db *sql.DB, samples []sample, synced bool) error {
	mode := "NORMAL"
	if synced {
		mode = "FULL"
	}
	if _, err := db.Exec("PRAGMA synchronous = " + mode); err != nil {
		return err
	}
	tx, err := db.Begin()
	if err != nil {
		return err
	}
	for _, s := range samples {
		if _, err := tx.Exec(`INSERT INTO sample VALUES (?, ?, ?)`, s.at.UnixNano(), s.milliC[0], s.milliC[1]); err != nil {
			return errors.Join(err, tx.Rollback())
		}
	}
	return tx.Commit()
}

// read reads a probe's file as w1_therm serves it: thousandths of a degree.
func read(root, probe string) (sql.NullInt64, error) {
	text, err := os.ReadFile(filepath.Join(root, probe, "temperature"))
	if err != nil {
		return sql.NullInt64{}, err
	}
	milliC, err := strconv.ParseInt(strings.TrimSpace(string(text)), 10, 64)
	if err != nil {
		return sql.NullInt64{}, fmt.Errorf("probe %s: %w", probe, err)
	}
	return sql.NullInt64{Int64: milliC, Valid: true}, nil
}
