// Package record keeps what a session is made of: its samples and events, in the
// order in which they were folded, with their elapsed time to the nanosecond and
// their temperatures to the thousandth of a degree. A session folded again from
// its record is the session that was lived, so that a restart in mid-soak, a
// replay and a test are the same code.
//
// It decides how the record lies on the card and when it is safe there. What
// samples and events mean is left to package steambox.
//
// # What is safe when
//
// An event is on the card when [Record.Event] returns, with all samples before
// it: neither kill -9 nor a power cut takes it back. Samples are written ten at
// a time, or when the first of them is 9.5 s old; a crash loses those at most.
//
// # What it costs
//
// Written to the card in 10 minutes at 1 Hz with four probes, as the kernel counts
// this process's bytes (TestWritten): 348 KiB for samples, 456 KiB with 20 events,
// 632 KiB with a snapshot of 40 KiB each 5 minutes; one each minute would make it
// 1,020 KiB.
//
// The file is in write-ahead mode and every commit is synced.
package record
