package sensor

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"golang.org/x/sys/unix"
	"periph.io/x/conn/v3"
)

// spiConn is a chip at an SPI bus.
type spiConn interface {
	conn.Conn
	io.Closer
}

// spidev is a chip by the kernel's spidev driver, for chips that are only listened to.
//
// Periph's own needs its package sysfs, whose drivers for pins, lamps and buses would all be
// loaded beside the one that is wanted, and hands errors on as text.
// Documented in the kernel's Documentation/spi/spidev.rst.
type spidev struct{ file *os.File }

var _ spiConn = spidev{}

// Requests of linux/spi/spidev.h, as on every processor that Withy is built for.
const (
	setSpeed = 0x40046b04 // SPI_IOC_WR_MAX_SPEED_HZ
	setMode  = 0x40046b05 // SPI_IOC_WR_MODE32
)

// openSPI opens a chip at a bus, in mode 0 and with a clock of so many hertz.
func openSPI(bus, chipSelect, hertz int) (spiConn, error) {
	path := fmt.Sprintf("/dev/spidev%d.%d", bus, chipSelect)
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, faultf(Absent, "no %s", path)
	}
	if err != nil {
		return nil, err
	}
	fd := int(f.Fd())
	err = errors.Join(unix.IoctlSetPointerInt(fd, setMode, 0), unix.IoctlSetPointerInt(fd, setSpeed, hertz))
	if err != nil {
		_ = f.Close() // nothing was written
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return spidev{f}, nil
}

// Tx fills r with what the chip answers. There is nothing that can be told it: w must be
// empty.
func (s spidev) Tx(w, r []byte) error {
	if len(w) > 0 {
		return fmt.Errorf("%s: the chip is only listened to", s)
	}
	n, err := s.file.Read(r) // one transfer, chip select and all
	if err == nil && n < len(r) {
		err = faultf(Malformed, "%d of %d bytes", n, len(r))
	}
	return err
}

func (s spidev) String() string      { return s.file.Name() }
func (s spidev) Duplex() conn.Duplex { return conn.Half }
func (s spidev) Close() error        { return s.file.Close() }
