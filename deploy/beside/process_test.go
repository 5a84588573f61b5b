package beside_test

import (
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// used is what a process has used up since its start, and holds now.
type used struct {
	cpu              time.Duration
	writtenB         int64
	residentB, anonB int64
}

// usedBy asks the kernel: for the CPU time the process's own clock (clock_getcpuclockid(3)),
// since /proc has it in hundredths of a second only, and the rest of proc(5).
func usedBy(pid int) (u used, err error) {
	const scheduled = 2 // CPUCLOCK_SCHED: what it ran, to the nanosecond
	var ran unix.Timespec
	if err := unix.ClockGettime(int32(^pid)<<3|scheduled, &ran); err != nil {
		return u, fmt.Errorf("CPU time of %d: %w", pid, err)
	}
	io, err := os.ReadFile(fmt.Sprintf("/proc/%d/io", pid))
	if err != nil {
		return u, err
	}
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return u, err
	}
	u, err = readUsed(string(io), string(status))
	u.cpu = time.Duration(ran.Nano())
	return u, err
}

// readUsed reads a process's io and status.
func readUsed(io, status string) (u used, err error) {
	for _, f := range []struct {
		text, name string
		unit       int64
		to         *int64
	}{
		{io, "write_bytes:", 1, &u.writtenB},
		{status, "VmRSS:", 1 << 10, &u.residentB},
		{status, "RssAnon:", 1 << 10, &u.anonB},
	} {
		_, rest, found := strings.Cut("\n"+f.text, "\n"+f.name)
		if !found {
			return u, fmt.Errorf("no %s in %q", f.name, f.text)
		}
		if _, err := fmt.Sscan(rest, f.to); err != nil {
			return u, fmt.Errorf("%s %w", f.name, err)
		}
		*f.to *= f.unit
	}
	return u, nil
}

// The lines are proc(5)'s, with units of 1024 bytes where they say kB.
func TestReadUsed(t *testing.T) {
	io := "rchar: 1\nwchar: 999\nsyscr: 3\nsyscw: 4\nread_bytes: 5\nwrite_bytes: 40960\ncancelled_write_bytes: 7\n"
	status := "Name:\tx\nVmHWM:\t  30000 kB\nVmRSS:\t   20480 kB\nRssAnon:\t    8192 kB\nRssFile:\t   12288 kB\n"
	got, err := readUsed(io, status)
	if want := (used{writtenB: 40960, residentB: 20 << 20, anonB: 8 << 20}); err != nil || got != want {
		t.Errorf("%+v, %v; want %+v", got, err, want)
	}
	for name, bad := range map[string][2]string{
		"nothing written": {"rchar: 1\n", status}, "no number": {strings.Replace(io, "40960", "x", 1), status}, "a kernel thread": {io, "Name:\tx\n"},
	} {
		if u, err := readUsed(bad[0], bad[1]); err == nil {
			t.Errorf("%s: %+v", name, u)
		}
	}
}

// Of another process that spins, and of one that sleeps, /proc has the same in hundredths
// of a second: its stat's 14th and 15th field (proc(5)).
func TestUsedBy(t *testing.T) {
	needsLinux(t)
	for name, command := range map[string]string{"spins": "while :; do :; done", "sleeps": "exec sleep 10"} {
		cmd := exec.CommandContext(t.Context(), "sh", "-c", command)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(300 * time.Millisecond)
		before, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", cmd.Process.Pid))
		if err != nil {
			t.Fatal(err)
		}
		u, err := usedBy(cmd.Process.Pid)
		after, _ := os.ReadFile(fmt.Sprintf("/proc/%d/stat", cmd.Process.Pid))
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		const tick = 10 * time.Millisecond
		if least, most := statCPU(t, string(before)), statCPU(t, string(after)); err != nil || u.residentB < 1<<16 || u.cpu < least-2*tick || u.cpu > most+2*tick {
			t.Errorf("%s: %+v, %v; in /proc %v to %v", name, u, err, least, most)
		} else if name == "spins" && u.cpu < tick {
			t.Errorf("%s: %v", name, u.cpu)
		}
	}
}

func statCPU(t *testing.T, stat string) (sum time.Duration) {
	t.Helper()
	for _, field := range strings.Fields(stat[strings.LastIndex(stat, ")")+1:])[11:13] {
		ticks, err := strconv.Atoi(field)
		if err != nil {
			t.Fatal(err)
		}
		sum += time.Duration(ticks) * 10 * time.Millisecond
	}
	return sum
}
