package piles

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

var idleTonnes = screen.Setting{Name: "rule belt while idle mass", Holds: screen.Tonnage, Default: "1 t",
	Meaning: "What a belt may count in a day outside the staffed hours before it is shown: an empty belt creeps."}

// idle finds what belts counted outside the staffed hours: an empty belt whose zero has drifted, a test, or a shift that
// nobody put into the hours. A net mass is outside where its instant is. Of a totaliser the movement since the reading
// before is outside where both readings lie in one unstaffed stretch; one over a staffed stretch too says nothing. Belt
// and day make one finding. It is certain that the records say so, not that the belt was empty.
type idle struct{}

func (idle) Info() screen.Info {
	return screen.Info{Name: "belt while idle", Strength: screen.Certain,
		Meaning:  "A belt counted stone outside the staffed hours that are on record.",
		Benign:   "Overtime that nobody put into the hours; clearing the belt after a shift; a reading that was written down late.",
		Settle:   "A row of hours; a zero test of the belt, and a record with the right mass.",
		Settings: []screen.Setting{idleTonnes}}
}

// counted is what a belt counted outside hours on a day.
type counted struct {
	records []*ledger.Record
	pile    string
	mass    ledger.Mass
}

func (idle) Look(d *screen.Data, found func(screen.Finding)) {
	made := madeBy(d)
	last := map[string]time.Time{} // the reading before, by belt
	days := map[string]*counted{}
	for _, p := range d.Production {
		f := p.Fact
		before, seen := last[f.Belt]
		if f.IsReading {
			last[f.Belt] = p.At()
		}
		switch {
		case !d.In(p.At()) || staffedAt(d, p.At()):
			continue
		case f.IsReading && (!seen || staffedBetween(d, before, p.At())):
			continue
		}
		m := f.Net
		if f.IsReading {
			m = made[p.Rec.ID()]
		}
		key := p.At().In(d.Zone).Format(time.DateOnly) + "/" + f.Belt
		c, ok := days[key]
		if !ok {
			c = &counted{pile: f.Pile}
			days[key] = c
		}
		if c.pile != f.Pile {
			c.pile = ""
		}
		c.records, c.mass = append(c.records, p.Rec), c.mass+m
	}
	for _, key := range slices.Sorted(maps.Keys(days)) {
		if c := days[key]; c.mass > d.Tonnage(idleTonnes) {
			found(c.finding(d, key))
		}
	}
}

// madeBy returns what each reading of a totaliser in the month brought into the book, as weighed.
func madeBy(d *screen.Data) map[string]ledger.Mass {
	made := map[string]ledger.Mass{}
	for _, e := range d.Entries {
		if p, ok := e.Record.Fact.(ledger.Production); ok && p.IsReading {
			made[e.Record.ID()] = movedBy(e)
		}
	}
	return made
}

// movedBy returns what a belt counted by an entry, as weighed, to whatever pile; what the yard allows for beside it is no
// part of that. It is negative where a second reading of one instant takes something back.
func movedBy(e *ledger.Entry) (m ledger.Mass) {
	for _, l := range e.Legs {
		switch ledger.KindProduction {
		case l.From.Kind:
			m += l.AsIs()
		case l.To.Kind:
			m -= l.AsIs()
		}
	}
	return m
}

func (c *counted) finding(d *screen.Data, key string) screen.Finding {
	first := c.records[0]
	f := screen.Finding{Subject: key, Time: first.At, Pile: c.pile, Mass: c.mass, Instrument: first.Fact.(ledger.Production).Belt,
		Seen: fmt.Sprintf("belt %s counted %v outside the staffed hours of %s", first.Fact.(ledger.Production).Belt, c.mass, d.Clock(first.At))}
	for _, rec := range c.records {
		f.Records = append(f.Records, rec.ID())
	}
	if c.pile != "" {
		f.Effects = []screen.Effect{{Pile: c.pile, Mass: c.mass}} // the book has stone that may not be there
	}
	return f
}

// staffedAt reports whether the yard is staffed at an instant, or nobody says.
func staffedAt(d *screen.Data, t time.Time) bool {
	shifts, known := d.Register.Shifts(d.Yard, t)
	return !known || slices.ContainsFunc(shifts, func(s ledger.Shift) bool { return s.Near(t, 0) })
}

// staffedBetween reports whether a staffed stretch lies between two instants, or nobody says.
func staffedBetween(d *screen.Data, from, until time.Time) bool {
	for t := from; !t.After(until.Add(screen.After)); t = t.Add(screen.After) {
		shifts, known := d.Register.Shifts(d.Yard, t)
		if !known || slices.ContainsFunc(shifts, func(s ledger.Shift) bool { return s.From.Before(until) && s.Until.After(from) }) {
			return true
		}
	}
	return false
}
