package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"strconv"
	"syscall"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// The scripts run the program as a person would; see testdata/scripts.
func TestMain(m *testing.M) {
	if rounds, err := strconv.Atoi(os.Getenv(loaded)); err == nil { // TestLoad starts this
		if err := beLoaded(rounds); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	testscript.Main(m, map[string]func(){
		"withy": func() {
			ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
			defer stop()
			os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
		},
	})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "../../testdata/scripts",
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"status": status,
		},
	})
}

// status CODE PROGRAM ARGS... runs a program and demands its exit status.
func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status CODE PROGRAM ARGS...")
	}
	got := "0"
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		got = exitStatus(err)
	}
	if got != args[0] {
		ts.Fatalf("exit status %s, want %s", got, args[0])
	}
}

// exitStatus returns the status of a program that ended with err.
func exitStatus(err error) string {
	var exit interface{ ExitCode() int }
	if errors.As(err, &exit) {
		return strconv.Itoa(exit.ExitCode())
	}
	return err.Error()
}
