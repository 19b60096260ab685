package intake

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"repose/internal/table"
	"repose/ledger"
)

// series names the rows whose order can say which of two times a clock meant: those of one instrument
// around one change of the clock. The zero instrument is that of rows that name none.
type series struct {
	yard, instrument string
	change           int64 // Unix seconds
}

// turn is a row of a series: one whose time the clock showed twice, or one that says which of the two it
// means and so may settle its neighbours.
type turn struct {
	rec     ledger.Record
	clock   *clock
	moment  moment
	shown   string // the cell
	ticket  string
	row     int
	column  int
	settled time.Time // zero until it is
}

// turnOf returns the turn of a row whose record has been made, and its series.
func (r *row) turnOf(rec ledger.Record) (series, turn) {
	b := &r.table.build
	s := series{yard: r.yard.code, instrument: r.code(b.instrument), change: r.twice.change.Unix()}
	t := turn{rec: rec, clock: r.yard.clock, moment: *r.twice, shown: r.shownTime,
		row: r.cells.Number, column: r.columns[fTime].at + 1}
	if b.ticket != 0 {
		t.ticket = r.own(b.ticket)
	}
	return s, t
}

// settle decides which of its two times each turn means, given that time does not run backwards from one
// ticket to the next, or from one row to the next where a ticket is missing. It finds the earliest times
// that they can have in that order, and the latest: a turn is settled where both are the same.
//
// A fall of the clock from one row to the next, as from 01:50 to 01:10, so settles both, and whatever
// stands before and after. Where the order fits no choice of times, nothing is settled.
func settle(turns []turn) {
	ordered := make([]*turn, len(turns))
	ticketed := true
	for i := range turns {
		ordered[i] = &turns[i]
		ticketed = ticketed && turns[i].ticket != ""
	}
	slices.SortStableFunc(ordered, func(a, b *turn) int {
		if c := compareNatural(a.ticket, b.ticket); ticketed && c != 0 {
			return c
		}
		return cmp.Compare(a.row, b.row)
	})

	earliest := make([]time.Time, len(ordered))
	var after time.Time
	for i, t := range ordered {
		switch {
		case !t.moment.first.Before(after):
			earliest[i] = t.moment.first
		case !t.moment.second.Before(after):
			earliest[i] = t.moment.second
		default:
			return
		}
		after = earliest[i]
	}
	before := ordered[len(ordered)-1].moment.second
	for i := len(ordered) - 1; i >= 0; i-- {
		t := ordered[i]
		latest := t.moment.second
		if latest.After(before) {
			latest = t.moment.first
		}
		if latest.Equal(earliest[i]) {
			t.settled = latest
		}
		before = latest
	}
}

// compareNatural orders tickets as people do: runs of digits by their value, the rest by bytes.
func compareNatural(a, b string) int {
	for a != "" && b != "" {
		x, y := digitRun(a), digitRun(b)
		if x == 0 || y == 0 {
			if a[0] != b[0] {
				return cmp.Compare(a[0], b[0])
			}
			a, b = a[1:], b[1:]
			continue
		}
		m, n := strings.TrimLeft(a[:x], "0"), strings.TrimLeft(b[:y], "0")
		if c := cmp.Or(cmp.Compare(len(m), len(n)), strings.Compare(m, n)); c != 0 {
			return c
		}
		a, b = a[x:], b[y:]
	}
	return cmp.Compare(len(a), len(b))
}

// digitRun returns the length of the run of digits that s begins with.
func digitRun(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}

// record returns the record at the time that was settled, or the error that it was not.
func (t *turn) record(file string) (ledger.Record, *table.Error) {
	if t.settled.IsZero() {
		found, wanted := t.clock.unsettled(t.shown, t.moment)
		return ledger.Record{}, &table.Error{File: file, Row: t.row, Column: t.column, Found: found, Wanted: wanted}
	}
	rec := t.rec
	rec.Fact, rec.At = atTime(rec.Fact, t.settled), t.settled
	return rec, nil
}

// atTime returns a fact of an instrument's table at another time.
func atTime(f ledger.Fact, at time.Time) ledger.Fact {
	switch f := f.(type) {
	case ledger.Production:
		f.At = at
		return f
	case ledger.Load:
		f.At = at
		return f
	case ledger.DeckTicket:
		f.At = at
		return f
	case ledger.Transfer:
		f.At = at
		return f
	case ledger.Feed:
		f.At = at
		return f
	case ledger.Return:
		f.At = at
		return f
	}
	return f
}
