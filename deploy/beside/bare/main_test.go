package main

import (
	"context"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"withy/deploy/freeport"
)

// It does what it is measured for: what is in the kernel's files is on the page, and on
// record when it ends; a probe that is gone is on neither.
func TestBare(t *testing.T) {
	dir := t.TempDir()
	put := func(probe, text string) {
		name := filepath.Join(dir, probe, "temperature")
		if err := os.MkdirAll(filepath.Dir(name), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	put(probes[0], "98562\n")
	put(probes[1], "-1250\n")
	at, record := freeport.Find(t), filepath.Join(dir, "record.db")
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- run(ctx, dir, record, at) }()

	const both = "# HELP probe_temperature_celsius What a probe read last.\n# TYPE probe_temperature_celsius gauge\n" +
		"probe_temperature_celsius{probe=\"28-000000000001\"} 98.562\nprobe_temperature_celsius{probe=\"28-000000000002\"} -1.25\n"
	await(t, at, both)
	if err := os.RemoveAll(filepath.Join(dir, probes[1])); err != nil {
		t.Fatal(err)
	}
	await(t, at, both[:len(both)-len("probe_temperature_celsius{probe=\"28-000000000002\"} -1.25\n")])
	stop()
	if err := <-ended; err != nil {
		t.Fatal(err)
	}
	db, err := open(record)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var rows, steam, door int
	if err := db.QueryRow(`SELECT count(*), min(steam), min(door) FROM sample WHERE steam = 98562`).Scan(&rows, &steam, &door); err != nil {
		t.Fatal(err)
	}
	var gone int
	if err := db.QueryRow(`SELECT count(*) FROM sample WHERE door IS NULL`).Scan(&gone); err != nil {
		t.Fatal(err)
	}
	if rows < 2 || door != -1250 || gone == 0 || gone == rows {
		t.Errorf("%d rows, door %d m°C, %d without", rows, door, gone)
	}
}

// await waits until the page is as wanted.
func await(t *testing.T, at, want string) {
	t.Helper()
	var got []byte
	for deadline := time.Now().Add(10 * time.Second); time.Now().Before(deadline); time.Sleep(10 * time.Millisecond) {
		answer, err := http.Get("http://" + at + "/metrics")
		if err != nil {
			continue
		}
		got, _ = io.ReadAll(answer.Body)
		answer.Body.Close()
		if string(got) == want {
			return
		}
	}
	t.Fatalf("the page is\n%s\nnot\n%s", got, want)
}
