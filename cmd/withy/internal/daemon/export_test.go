package daemon

// HangRecord lets whatever is to be written wait until the channel is closed, as behind a
// write that the card does not answer.
func (d *Daemon) HangRecord(until <-chan struct{}) {
	d.writer.hand(func() error { <-until; return nil })
}
