package sensor

import (
	"fmt"
	"os"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// DefaultBootFile holds a number the kernel draws at each boot.
const DefaultBootFile = "/proc/sys/kernel/random/boot_id"

// bootTime returns the time since the kernel booted, time asleep included:
// CLOCK_BOOTTIME, which nobody can set.
func bootTime() time.Duration {
	var ts unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &ts); err != nil {
		panic(fmt.Sprintf("sensor: CLOCK_BOOTTIME: %v", err)) // in every Linux since 2.6.39
	}
	return time.Duration(ts.Nano())
}

// servedFile is touched by systemd-timesyncd each time that it has set the clock right:
// systemd-timesyncd.service(8).
const servedFile = "/run/systemd/timesync/synchronized" //nolint:misspell // the file is called so

// ClockKnown reports whether the kernel's wall clock was set right under this boot by
// somebody who keeps it so, such as a time server: a board without a battery for its clock
// wakes up in some other year. The kernel tells it of any server, but not to a service that
// may make no call that could set the clock, as the package's unit has it; there it is known
// from systemd's own server only.
func ClockKnown() bool {
	if _, err := os.Stat(servedFile); err == nil {
		return true
	}
	state, err := unix.Adjtimex(&unix.Timex{})
	return err == nil && state != unix.TIME_ERROR
}

// readBoot returns the boot's name: times of [bootTime] can be compared only
// under one name.
func readBoot(path string) (string, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return "", fmt.Errorf("boot id: %w", err)
	}
	id := strings.TrimSpace(string(text))
	if id == "" {
		return "", fmt.Errorf("boot id: %s is empty", path)
	}
	return id, nil
}
