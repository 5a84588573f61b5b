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

// ClockKnown reports whether the kernel's wall clock is kept right by somebody, such as a
// time server: a board without a battery for its clock wakes up in some other year.
func ClockKnown() bool {
	const timeError = 5 // TIME_ERROR of adjtimex(2): not synchronised
	state, err := unix.Adjtimex(&unix.Timex{})
	return err == nil && state != timeError
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
