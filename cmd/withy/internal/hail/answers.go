package hail

import (
	"errors"
	"fmt"
	"io"
	"net"

	"github.com/eclipse/paho.golang/packets"
)

// answers is a connection to a broker from which nothing is read but whole packets of those
// kinds that a broker has for whoever only writes. The library takes each for as long as it says
// that it is, up to 256 MB, and its length for as long as it goes on.
type answers struct {
	net.Conn
	left []byte // of the packet that was read last
}

// Read reads on in one packet.
func (a *answers) Read(b []byte) (int, error) {
	if len(a.left) == 0 {
		packet, err := readPacket(a.Conn)
		if err != nil {
			return 0, err
		}
		a.left = packet
	}
	n := copy(b, a.left)
	a.left = a.left[n:]
	return n, nil
}

// errNoBroker says that something else than a broker answers, or one that wants no good.
var errNoBroker = errors.New("not what a broker answers")

// readPacket reads a packet as it stands: its kind, its length in up to four bytes of seven bits,
// the lowest first, and as many bytes (MQTT 5.0, 2.1 and 1.5.5).
func readPacket(r io.Reader) ([]byte, error) {
	packet := make([]byte, 1, 16)
	if _, err := io.ReadFull(r, packet); err != nil {
		return nil, err
	}
	switch kind := packet[0] >> 4; kind {
	case packets.CONNACK, packets.PUBACK, packets.PINGRESP, packets.DISCONNECT:
	default:
		return nil, fmt.Errorf("%w: a packet of kind %d", errNoBroker, kind)
	}
	length := 0
	for digit := byte(0x80); digit >= 0x80; {
		n := len(packet)
		packet = append(packet, 0)
		if _, err := io.ReadFull(r, packet[n:]); err != nil {
			return nil, err
		}
		digit = packet[n]
		length |= int(digit&0x7f) << (7 * (n - 1))
		if n == 4 && digit >= 0x80 || length > mostAnswer {
			return nil, fmt.Errorf("%w: a packet of more than %d bytes", errNoBroker, mostAnswer)
		}
	}
	n := len(packet)
	packet = append(packet, make([]byte, length)...)
	_, err := io.ReadFull(r, packet[n:])
	return packet, err
}
