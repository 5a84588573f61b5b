package sensor_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"withy/sensor"
	"withy/sensor/sensortest"
)

func TestDiscover(t *testing.T) {
	tree := sensortest.NewTree(t)
	tree.Plug("w1_bus_master1", "28-0000000a0b0c")
	tree.Plug("w1_bus_master2", "28-000000000001")
	tree.Plug("w1_bus_master1", "10-000802b4ba0e")
	tree.Plug("w1_bus_master1", "01-0000000000aa") // a serial-number chip
	if err := os.Mkdir(filepath.Join(tree.Root, "w1_bus_master1"), 0o755); err != nil {
		t.Fatal(err)
	}
	got, err := sensor.Discover(tree.Root)
	want := []string{"10-000802b4ba0e", "28-000000000001", "28-0000000a0b0c"}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("found %q, %v; want %q", got, err, want)
	}
}

func TestDiscoverNothing(t *testing.T) {
	tree := sensortest.NewTree(t)
	if got, err := sensor.Discover(tree.Root); len(got) > 0 || err != nil {
		t.Errorf("found %q, %v in an empty tree", got, err)
	}
	_, err := sensor.Discover(filepath.Join(tree.Root, "no such"))
	if !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("without a kernel driver: %v", err)
	}
}
