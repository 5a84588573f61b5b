// Command withy watches a steam box and says which rib to pull when.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"

	"github.com/spf13/cobra"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// The exit statuses of every verb.
const (
	exitDone  = 0
	exitWrong = 1 // it ran and found something wrong with the work
	exitInput = 2 // the input or the configuration can't be used
)

// errWrong makes a verb exit with exitWrong; what is wrong has been printed.
var errWrong = errors.New("something is wrong with the work")

// run is the whole program but for the process it runs in.
func run(ctx context.Context, args []string, out, errs io.Writer) int {
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(out)
	root.SetErr(errs)
	err := root.ExecuteContext(ctx)
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errWrong):
		return exitWrong
	}
	fmt.Fprintln(errs, err)
	return exitInput
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "withy",
		Short: "Watch a steam box and say which rib to pull when",
		Long: "Withy reads probes at both ends of a steam box and a water switch, works out the heat\n" +
			"that every rib has taken at each end, and says which rib to pull when, how long it will\n" +
			"still wait, and which way round it goes in. It advises; it never switches mains power.",
		Version:       version(),
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	root.CompletionOptions.HiddenDefaultCmd = true
	root.AddCommand(
		newRun(), newRehearse(), newCheck(), newProbes(),
		newExpose(), newWindow(), newHull(), newPlan(),
		newSessions(), newReplay(), newReport(), newHistory(), newBackup(),
		newPair(), newErase(),
	)
	return root
}

// packaged is the version of the package that the program is in; the linker sets it.
var packaged string

// version is what the build knows of itself.
func version() string {
	if packaged != "" {
		return packaged
	}
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" {
		return "unknown"
	}
	return info.Main.Version
}
