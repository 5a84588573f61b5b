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
// Ten minutes at 1 Hz with four probes hand 107 KiB of samples to files, 133 KiB
// with 20 events, 303 KiB with a snapshot of 40 KiB each 5 minutes, 660 KiB with
// one each minute. The card takes whole pages, so the kernel counts more for this
// process (TestWritten): 350, 456, 632 and 1,020 KiB when the commits follow each
// other at once. Spread over the ten minutes (WITHY_REALTIME) it is 690–740,
// 840, 1,080 and 1,490 KiB: over the 512 KiB meant for samples and the 1,024 for
// a run. Some 220 KiB of it is the index of the write-ahead file, written back
// between commits; the rest of the difference has not been traced. The index is
// in a file so that another program may read the record while this one writes.
//
// Pages of 512 bytes instead of 1,024 save 4 %; 2,048 cost 15 % more, 4,096 half
// as much again.
//
// The file is in write-ahead mode and every commit is synced.
package record
