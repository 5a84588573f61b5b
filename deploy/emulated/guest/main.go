// Command guest is the first process of the emulated board: it loads the kernel's
// drivers, takes up the network, and from then on does what the tests outside ask
// of it over HTTP. What it asks the kernel for is what udev and an administrator do
// on a board; nothing here stands in for Withy or for a driver.
//
// A board with a disk is handed over to the system on it, which starts guest as one of
// its services: then it only does what the tests ask.
package main

import (
	_ "embed" // of the unit
	"encoding/json"
	"fmt"
	"io"
	"log"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"

	"golang.org/x/sys/unix"
)

// user is who Withy runs as: nobody that the kernel knows, in the group that owns the
// devices.
const user = 990

func main() {
	log.SetFlags(0)
	if os.Getpid() == 1 {
		if err := setUp(); err != nil {
			log.Print("guest: ", err) // the tests outside see that nothing answers
		}
	} else if len(os.Args) != 2 || os.Args[1] != "serve" {
		log.Fatal("guest: this is the first process of an emulated board, or a service on it, and nothing else")
	}
	g := &guest{running: map[string]*program{}}
	http.HandleFunc("PUT /file", g.write)
	http.HandleFunc("GET /file", g.read)
	http.HandleFunc("GET /clock", g.clocks)
	http.HandleFunc("POST /clock", g.setClock)
	http.HandleFunc("POST /do", g.do)
	http.HandleFunc("POST /start", g.start)
	http.HandleFunc("POST /kill", g.kill)
	log.Print("guest: ", http.ListenAndServe(":8018", nil))
	select {} // a first process that ends takes the kernel with it
}

func setUp() error {
	for _, m := range []struct{ kind, at string }{{"devtmpfs", "/dev"}, {"proc", "/proc"}, {"sysfs", "/sys"}, {"tmpfs", "/tmp"}} {
		if err := os.MkdirAll(m.at, 0o755); err != nil {
			return err
		}
		if err := unix.Mount(m.kind, m.at, m.kind, 0, ""); err != nil && err != unix.EBUSY {
			return fmt.Errorf("mount %s: %w", m.at, err)
		}
	}
	if console, err := os.OpenFile("/dev/console", os.O_RDWR, 0); err == nil {
		os.Stdout, os.Stderr = console, console
		log.SetOutput(console)
	}
	if err := loadDrivers(); err != nil {
		return err
	}
	if err := networkUp(); err != nil {
		return err
	}
	if _, err := os.Stat(disk); err != nil {
		return nil
	}
	return handOver()
}

// disk is a board's card, if it has one: a system and nothing else, or one in the second
// of two partitions.
const disk = "/dev/vda"

// handOver goes over to the system on the disk, as a switch_root does, and leaves what the
// tests need of it where that starts from memory: nothing is written to the card. It
// returns only if that fails.
func handOver() error {
	const root = "/disk"
	disk := disk
	if _, err := os.Stat(disk + "2"); err == nil {
		disk += "2"
	}
	if err := os.MkdirAll(root, 0o755); err != nil {
		return err
	}
	if err := unix.Mount(disk, root, "ext4", 0, ""); err != nil {
		return fmt.Errorf("mount %s: %w", disk, err)
	}
	if err := leaveService(root + "/run"); err != nil {
		return err
	}
	if err := servedAtStart(root); err != nil {
		return fmt.Errorf("clock: %w", err)
	}
	for _, at := range []string{"/dev", "/proc", "/sys"} {
		if err := unix.Mount(at, root+at, "", unix.MS_MOVE, ""); err != nil {
			return fmt.Errorf("move %s: %w", at, err)
		}
	}
	if err := os.Chdir(root); err != nil {
		return err
	}
	if err := unix.Mount(".", "/", "", unix.MS_MOVE, ""); err != nil {
		return fmt.Errorf("move the root: %w", err)
	}
	if err := unix.Chroot("."); err != nil {
		return err
	}
	return unix.Exec("/sbin/init", []string{"/sbin/init"}, []string{"HOME=/", "TERM=dumb"})
}

// leaveService puts this program and its unit into a /run of memory.
func leaveService(run string) error {
	if err := unix.Mount("tmpfs", run, "tmpfs", unix.MS_NOSUID|unix.MS_NODEV, "mode=755"); err != nil {
		return fmt.Errorf("mount %s: %w", run, err)
	}
	program, err := os.ReadFile("/init")
	if err != nil {
		return err
	}
	if err := os.WriteFile(run+"/guest", program, 0o755); err != nil {
		return err
	}
	wants := run + "/systemd/system/multi-user.target.wants"
	if err := os.MkdirAll(wants, 0o755); err != nil {
		return err
	}
	if err := os.WriteFile(run+"/systemd/system/guest.service", unit, 0o644); err != nil {
		return err
	}
	return os.Symlink("../guest.service", wants+"/guest.service")
}

//go:embed guest.service
var unit []byte

// loadDrivers loads the modules in the order that is written beside them, each with
// its parameters.
func loadDrivers() error {
	order, err := os.ReadFile("/modules/order")
	if err != nil {
		return err
	}
	for line := range strings.Lines(string(order)) {
		name, parameters, _ := strings.Cut(strings.TrimSpace(line), " ")
		code, err := os.ReadFile(filepath.Join("/modules", name))
		if err != nil {
			return err
		}
		if err := unix.InitModule(code, parameters); err != nil && err != unix.EEXIST {
			log.Printf("guest: %s: %v", name, err)
		}
	}
	return nil
}

// networkUp gives the first card the address that QEMU's own network has for its guest.
func networkUp() error {
	s, err := unix.Socket(unix.AF_INET, unix.SOCK_DGRAM, 0)
	if err != nil {
		return err
	}
	defer unix.Close(s)
	for name, address := range map[string][]byte{"lo": {127, 0, 0, 1}, "eth0": {10, 0, 2, 15}} {
		if err := cardUp(s, name, address); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	return nil
}

func cardUp(socket int, name string, address []byte) error {
	card, err := unix.NewIfreq(name)
	if err != nil {
		return err
	}
	if err := card.SetInet4Addr(address); err != nil {
		return err
	}
	if err := unix.IoctlIfreq(socket, unix.SIOCSIFADDR, card); err != nil {
		return err
	}
	if card, err = unix.NewIfreq(name); err != nil {
		return err
	}
	card.SetUint16(unix.IFF_UP | unix.IFF_RUNNING)
	return unix.IoctlIfreq(socket, unix.SIOCSIFFLAGS, card)
}

// guest does what it is asked. Paths and arguments come from the tests as they are:
// the board is theirs.
type guest struct {
	mu      sync.Mutex
	running map[string]*program
}

// program is one that was started beside.
type program struct {
	*exec.Cmd
	ended chan struct{} // closed once it has
}

// write puts the body into a file, the kernel's or another: in one write, as a
// shell's echo does. With group=1 the file goes to Withy's group instead, to be read
// and written by it.
func (g *guest) write(w http.ResponseWriter, r *http.Request) {
	path := r.FormValue("path")
	body, err := io.ReadAll(r.Body)
	switch {
	case err != nil:
	case r.FormValue("group") != "":
		err = giveGroup(path)
	default:
		err = put(path, body)
	}
	answer(w, nil, err)
}

func put(path string, body []byte) error {
	if !strings.HasPrefix(path, "/sys/") {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o644)
	if err != nil {
		return err
	}
	defer f.Close()
	_, err = f.Write(body)
	return err
}

// giveGroup gives Withy's group what the pattern matches.
func giveGroup(pattern string) error {
	paths, err := filepath.Glob(pattern)
	if err != nil {
		return err
	}
	if len(paths) == 0 {
		return fmt.Errorf("%s: there is none", pattern)
	}
	for _, path := range paths {
		if err := os.Chown(path, 0, user); err != nil {
			return err
		}
		if err := os.Chmod(path, 0o664); err != nil {
			return err
		}
	}
	return nil
}

func (g *guest) read(w http.ResponseWriter, r *http.Request) {
	body, err := os.ReadFile(r.FormValue("path"))
	answer(w, body, err)
}

// command is a program to be run.
type command struct {
	Name string   `json:"name"` // to kill it by
	Args []string `json:"args"`
	Env  []string `json:"env"`
	Root bool     `json:"root"`
}

func (c command) build() *exec.Cmd {
	cmd := exec.Command(c.Args[0], c.Args[1:]...)
	cmd.Env = c.Env
	if !c.Root {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: user, Gid: user}}
	}
	return cmd
}

func asked(r *http.Request) (command, error) {
	var c command
	err := json.NewDecoder(r.Body).Decode(&c)
	if err == nil && len(c.Args) == 0 {
		err = fmt.Errorf("no program named")
	}
	return c, err
}

// do runs a program to its end and answers with all that it printed.
func (g *guest) do(w http.ResponseWriter, r *http.Request) {
	c, err := asked(r)
	if err != nil {
		answer(w, nil, err)
		return
	}
	out, err := c.build().CombinedOutput()
	if err != nil {
		out = fmt.Appendf(out, "%s\n", err)
	}
	answer(w, out, nil)
}

// start runs a program beside, its output on the console.
func (g *guest) start(w http.ResponseWriter, r *http.Request) {
	c, err := asked(r)
	if err != nil {
		answer(w, nil, err)
		return
	}
	p := &program{c.build(), make(chan struct{})}
	p.Stdout, p.Stderr = os.Stdout, os.Stderr
	if err := p.Start(); err != nil {
		answer(w, nil, err)
		return
	}
	go func() {
		defer close(p.ended)
		log.Printf("guest: %s ended: %v", c.Name, p.Wait())
	}()
	g.mu.Lock()
	defer g.mu.Unlock()
	g.running[c.Name] = p
	answer(w, nil, nil)
}

// kill ends a program that was started, by the signal that none can hear, and answers
// once it has ended.
func (g *guest) kill(w http.ResponseWriter, r *http.Request) {
	g.mu.Lock()
	p := g.running[r.FormValue("name")]
	g.mu.Unlock()
	if p == nil {
		answer(w, nil, fmt.Errorf("%q is not running", r.FormValue("name")))
		return
	}
	err := p.Process.Kill()
	<-p.ended
	answer(w, nil, err)
}

func answer(w http.ResponseWriter, body []byte, err error) {
	if err != nil {
		http.Error(w, fmt.Sprintf("%s: %v", runtime.GOARCH, err), http.StatusInternalServerError)
		return
	}
	_, _ = w.Write(body) // who asked is gone if this fails
}
