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
// a time, or when the first of them is 9.5 s old, and synced with the next event
// or each third time: a killed program loses those not yet written, a power cut
// half a minute's.
//
// While the file can't be written all that is handed in waits in memory, in its
// order, half a day of it; it is written with the next that can be.
//
// Every row has a checksum. A file that is damaged is refused by [Open]; [Mend]
// makes a new one of its sound rows and moves it aside.
//
// The file is held by one process; see [Read] for how others read beside it.
//
// # What it costs
//
// Ten minutes at 1 Hz with four probes cost the card, by the kernel's account of
// this process in real time (TestWritten, WITHY_REALTIME): 448 KiB for samples,
// 536 with 20 events, 692 with a snapshot of 40 KiB each 5 minutes, 1,084 with one
// each minute. Of that 107, 134, 303 and 640 KiB are handed to files: the card
// takes whole pages, and the file's own growth is written down too.
//
// With every commit synced and the write-ahead file's index in a file, samples cost
// 692 to 740 KiB; with the index in memory 520.
//
// Pages of 512 bytes instead of 1,024 save 4 %; 2,048 cost 15 % more, 4,096 half
// as much again.
package record
