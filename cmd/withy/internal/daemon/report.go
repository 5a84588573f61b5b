package daemon

import (
	"context"
	"iter"

	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/report"
	"withy/steambox"
)

// Report returns the report of a session on record, in which what is still pending is
// not. Errors are those of Record.Entries, and that of ctx if that ends before.
func Report(ctx context.Context, r *record.Record, id string) (*report.Report, error) {
	s, err := r.Session(id)
	if err != nil {
		return nil, err
	}
	return reported(s, func(look func(*Fold, record.Entry)) (*Fold, error) { return FollowRecord(ctx, r, s, look) })
}

// ReportOf is Report for a session that was exported.
func ReportOf(s record.Session, entries iter.Seq2[record.Entry, error]) (*report.Report, error) {
	return reported(s, func(look func(*Fold, record.Entry)) (*Fold, error) { return Follow(s.Box, entries, look) })
}

// reported takes notes while a session is followed.
func reported(s record.Session, follow func(look func(*Fold, record.Entry)) (*Fold, error)) (*report.Report, error) {
	var notes report.Notes
	of := steambox.Status{BoilerKind: s.Box.Boiler.Kind}
	fold, err := follow(func(f *Fold, e record.Entry) {
		switch {
		case e.Sample != nil:
			notes.Sample(e.At, f.Session, &f.Signals, f.Alarms.Alarms(&of))
		case e.Event != nil:
			notes.Event(e.At, *e.Event, f.Alarms.Alarms(&of))
		}
	})
	if err != nil {
		return nil, err
	}
	r := notes.Report(s.ID, s.Began, fold.Session)
	r.Undated = s.Began.Before(noClock)
	return r, nil
}
