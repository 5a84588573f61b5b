// Package sensor is the hardware edge: it says what the probes, switches and
// buttons of one board read, and moves its outputs.
//
// A [Board] is the source that the daemon reads. Behind it one goroutine sits
// at each 1-wire bus and at each line, so that whatever hangs there delays
// nothing else, and [Board.Read] hands out a [Sweep]: the newest word of every
// sensor at one moment. What could not be read is a [Fault] that says why, since the
// remedy differs; a missing value is never 0 and never an old value with a new time.
//
// The package decides what is believed of a sensor by itself and beside its
// neighbours ([Judge], [Debounce]). What a reading means for the ribs in the
// box, and who is told, is decided elsewhere: nothing here knows which probe
// hangs at which end.
//
// Parsing and judging are pure; only this package imports periph's host
// drivers. Linux only.
package sensor
