package daemon

// HangRecord lets whatever is to be written wait until the channel is closed, as behind a
// write that the card does not answer.
func (d *Daemon) HangRecord(until <-chan struct{}) {
	d.writer.hand(func() error { <-until; return nil })
}

// Flush puts all that was told and sensed so far on record, also what the loop does not wait
// for.
func (d *Daemon) Flush() error {
	j := d.writer.hand(func() error {
		_, err := d.Record.Flush()
		return err
	})
	<-j.done
	return j.err
}
