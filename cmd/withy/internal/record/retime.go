package record

import (
	"database/sql"
	"encoding/json"
	"strings"
	"time"
)

// Retime puts right by the wall clock when the sessions began that were begun under a
// boot: epoch is what the wall clock, as it is known now, showed when the source's clock
// of that boot stood at 0, in Unix time. Finished ones also get the name of their day, if
// they have that of another; the one being recorded gets it when it is finished. Within a
// second nothing is changed.
func (r *Record) Retime(boot string, epoch time.Duration) error {
	return r.enter(piece{kind: pieceRetime, boot: Clock{Boot: boot, Origin: epoch}})
}

// begun is what Retime changes of a session.
type begun struct {
	n, began, origin int64
	id               string
	setup            []byte
	finished, lasted sql.NullInt64
}

func retime(tx *sql.Tx, epoch Clock) error {
	rows, err := tx.Query(`SELECT n, began, origin, id, setup, finished, lasted FROM session WHERE boot = ?`, epoch.Boot)
	if err != nil {
		return err
	}
	defer rows.Close()
	var all []begun
	for rows.Next() {
		var s begun
		if err := rows.Scan(&s.n, &s.began, &s.origin, &s.id, &s.setup, &s.finished, &s.lasted); err != nil {
			return nonsense(err)
		}
		all = append(all, s)
	}
	if err := rows.Err(); err != nil {
		return err
	}
	for _, s := range all {
		if err := s.retime(tx, epoch); err != nil {
			return err
		}
	}
	return nil
}

// retime puts one session right, if it was begun under that boot: one that was only gone
// on with under it began by another clock.
func (s *begun) retime(tx *sql.Tx, epoch Clock) error {
	first, err := readRows(tx, `SELECT `+rowColumns+` FROM entry WHERE position = ?`, position(s.n, 1))
	if err != nil {
		return err
	}
	var c Clock
	if len(first) == 0 || first[0].kind != rowClock || json.Unmarshal(first[0].body, &c) != nil || c.Boot != epoch.Boot || int64(c.Origin) != s.origin {
		return nil
	}
	began := int64(epoch.Origin) + s.origin
	if d := time.Duration(began - s.began); d <= time.Second && d >= -time.Second {
		return nil
	}
	s.began = began
	if s.finished.Valid {
		s.finished.Int64 = began + s.lasted.Int64
		if day := dayOf(began); !strings.HasPrefix(s.id, day+"-") {
			if s.id, err = freeID(tx, day); err != nil {
				return err
			}
		}
	}
	_, err = tx.Exec(`UPDATE session SET id = ?, began = ?, finished = ?, sum = ? WHERE n = ?`,
		s.id, s.began, s.finished, sumOf([]int64{s.n, s.began}, []byte(s.id), s.setup), s.n)
	return err
}

// rename gives session n the name of the day on which it began, where that has come out
// to be another since.
func rename(tx *sql.Tx, n int64) error {
	s := begun{n: n}
	err := tx.QueryRow(`SELECT began, id, setup FROM session WHERE n = ?`, n).Scan(&s.began, &s.id, &s.setup)
	if err != nil {
		return nonsense(err)
	}
	if len(s.id) < len(time.DateOnly) || near(s.id[:len(time.DateOnly)], s.began) {
		return nil
	}
	if s.id, err = freeID(tx, dayOf(s.began)); err != nil {
		return err
	}
	_, err = tx.Exec(`UPDATE session SET id = ?, sum = ? WHERE n = ?`, s.id, sumOf([]int64{n, s.began}, []byte(s.id), s.setup), n)
	return err
}

// near reports whether a day is that of a wall time, in any time zone.
func near(day string, wall int64) bool {
	d, err := time.Parse(time.DateOnly, day)
	apart := wallTime(wall).Sub(d)
	return err == nil && apart > -24*time.Hour && apart < 48*time.Hour
}

// dayOf is the day of a wall time where the board stands.
func dayOf(wall int64) string { return time.Unix(0, wall).Format(time.DateOnly) }
