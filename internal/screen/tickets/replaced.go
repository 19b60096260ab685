package tickets

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

// replaced finds corrections of a record that the book does not hold: the wrong key, or a first record that never
// came. Only where the missing record's number lies among those of its series that are in view, or its time in the two
// months, can it be said, so a correction of an older month's record is left alone.
type replaced struct{}

func (replaced) Info() screen.Info {
	return screen.Info{Name: "replaced unknown", Strength: screen.Certain,
		Meaning: "A record says that it corrects another, and the book has no record of that key.",
		Benign:  "A slip in the key; an export that lists corrections alone.",
		Settle:  "Take in the record that it corrects; or words."}
}

func (replaced) Look(d *screen.Data, found func(screen.Finding)) {
	var corrections []*ledger.Record
	each(d, func(rec *ledger.Record) {
		if rec.Replaces != "" && d.In(rec.At) && rec.Replaces != rec.Fact.Key() {
			corrections = append(corrections, rec)
		}
	})
	if len(corrections) == 0 {
		return
	}
	held := map[string]bool{}
	each(d, func(rec *ledger.Record) { held[rec.Fact.Key()] = true })
	for _, rec := range d.Superseded {
		held[rec.Fact.Key()] = true
	}
	v := view{data: d, bounds: map[seriesID][2]int64{}}
	for _, rec := range corrections {
		instrument, rest, ok := strings.Cut(rec.Replaces, "/")
		if !ok || held[rec.Replaces] || !v.has(instrument, rest) {
			continue
		}
		m, _ := ledger.AsWeighed(rec.Fact)
		found(screen.Finding{Subject: rec.ID(), Time: rec.At, Pile: rec.Field("pile"), Mass: m, Records: []string{rec.ID()}, Instrument: instrument,
			Seen: fmt.Sprintf("%s says that it replaces %s, which the book does not hold", rec.ID(), rec.Replaces)})
	}
}

// view tells whether a record would be among those of the month and the one before it. It remembers the lowest and the
// highest number of each series.
type view struct {
	data   *screen.Data
	bounds map[seriesID][2]int64
}

// has reports whether a record of an instrument would be in view, by what its key has after the instrument: a ticket, or
// an instant.
func (v view) has(instrument, rest string) bool {
	when, _, _ := strings.Cut(rest, "/")
	if t, err := time.Parse(time.RFC3339, when); err == nil {
		return !t.Before(v.data.Lead) && t.Before(v.data.End)
	}
	prefix, n, ok := split(rest)
	if !ok {
		return false
	}
	for _, s := range seriesOf(v.data).series {
		if s.id.prefix != prefix || !slices.Contains(strings.Split(s.id.instrument, joined), instrument) {
			continue
		}
		if b := v.boundsOf(s); n >= b[0] && n <= b[1] {
			return true
		}
	}
	return false
}

// boundsOf leaves out records whose number and time disagree: a mistyped number would widen the view.
func (v view) boundsOf(s series) [2]int64 {
	if b, ok := v.bounds[s.id]; ok {
		return b
	}
	isRising := longestRise(s.rows)
	first, last := slices.Index(isRising, true), len(s.rows)-1
	for !isRising[last] {
		last--
	}
	b := [2]int64{s.rows[first].number, s.rows[last].number}
	v.bounds[s.id] = b
	return b
}
