package tickets

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

var lateDays = screen.Setting{Name: "rule late record days", Holds: screen.Days, Default: "3",
	Meaning: "How long after it happened a record may come to the book."}

// late finds records that the book learnt of long after they happened, though it had a later one of the same instrument
// already: they were left out of the export that should have had them. By instrument and the day they came. What came
// first of an instrument, such as a yard's history, is not late, and neither are corrections. Records that came after
// their month was closed are late whatever the days. It is certain that they came late.
type late struct{}

func (late) Info() screen.Info {
	return screen.Info{Name: "late record", Strength: screen.Certain,
		Meaning:  "Records came to the book long after later ones of the same instrument, or after their month was closed.",
		Benign:   "An outage pad that was entered; an export of another range of days.",
		Settle:   "Words: where they had been. What belongs to a closed month is entered in the first open one.",
		Settings: []screen.Setting{lateDays}}
}

func (late) Look(d *screen.Data, found func(screen.Finding)) {
	groups := map[string][]*ledger.Record{}
	for _, rec := range d.Month.Late { // they happened before this month, and are entered in it
		key := day(d, rec.Recorded) + "/" + instrumentOf(rec) + "/sealed"
		groups[key] = append(groups[key], rec)
	}
	byInstrument := map[string][]*ledger.Record{}
	each(d, func(rec *ledger.Record) {
		name := instrumentOf(rec)
		byInstrument[name] = append(byInstrument[name], rec)
	})
	allowed := d.Duration(lateDays)
	for name, list := range byInstrument {
		known := time.Time{} // when the book had learnt of a later record
		for _, rec := range slices.Backward(list) {
			isLate := !known.IsZero() && rec.Recorded.After(known) && rec.Recorded.Sub(rec.At) > allowed
			if isLate && d.In(rec.At) && rec.Replaces == "" && rec.Source.Row > 0 {
				key := day(d, rec.Recorded) + "/" + name
				groups[key] = append(groups[key], rec)
			}
			if known.IsZero() || rec.Recorded.Before(known) {
				known = rec.Recorded
			}
		}
	}
	for _, key := range slices.Sorted(maps.Keys(groups)) {
		slices.SortFunc(groups[key], (*ledger.Record).Compare)
		found(lateFinding(d, key, groups[key]))
	}
}

func lateFinding(d *screen.Data, key string, list []*ledger.Record) screen.Finding {
	f := screen.Finding{Subject: key, Time: list[0].At, Instrument: instrumentOf(list[0])}
	why := "happened up to"
	if f.Time.Before(d.Start) {
		f.Time, why = d.Start, "belong to a closed month, and happened up to"
	}
	var days float64
	for _, rec := range list {
		f.Records = append(f.Records, rec.ID())
		m, _ := ledger.AsWeighed(rec.Fact)
		f.Mass += m
		days = max(days, rec.Recorded.Sub(rec.At).Hours()/hoursOfDay)
	}
	f.Seen = fmt.Sprintf("%s of %s came on %s and %s %.0f days before", count(len(list), "record"), f.Instrument, day(d, list[0].Recorded), why, days)
	return f
}

// each hands on every movement that an instrument recorded.
func each(d *screen.Data, use func(*ledger.Record)) {
	for _, l := range d.Loads {
		use(l.Rec)
	}
	for _, t := range d.Deck {
		use(t.Rec)
	}
	for _, t := range d.Transfers {
		use(t.Rec)
	}
	for _, p := range d.Production {
		use(p.Rec)
	}
}

// instrumentOf names what recorded a movement.
func instrumentOf(rec *ledger.Record) string {
	var name string
	switch f := rec.Fact.(type) {
	case ledger.Load:
		name = f.Loader
	case ledger.DeckTicket:
		name = f.Deck
	case ledger.Transfer:
		name = f.Loader
	case ledger.Production:
		name = f.Belt
	}
	if name == "" {
		return rec.Fact.Kind().String()
	}
	return name
}
