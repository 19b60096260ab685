package piles

import (
	"fmt"
	"slices"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

var jumpTimes = screen.Setting{Name: "rule totaliser reset times", Holds: screen.Number, Default: "8",
	Meaning: "How many times the usual between two readings a totaliser may move before it is shown."}

// reset finds totalisers that were set back, with a note or without, and movements between two readings that are many
// times the usual: a digit that was misread. What ran between the last reading and the reset is not in the book. A
// fall that passes the modulus by a plausible amount is a rollover and is left alone. After a time without readings
// longer than any other of the belt, as much more is usual as that time is longer.
type reset struct{}

func (reset) Info() screen.Info {
	return screen.Info{Name: "totaliser reset", Strength: screen.Certain,
		Meaning:  "A belt's totaliser fell, or moved many times the usual amount between two readings.",
		Benign:   "Service of the belt weigher; a power cut; a long run without a reading.",
		Settle:   "A reading before and after the reset, with a note; a record with the right reading.",
		Settings: []screen.Setting{jumpTimes}}
}

// shown is what a totaliser showed.
type shown struct {
	at   time.Time
	mass ledger.Mass
	id   string // of the record; empty for one from before the rows
}

func (reset) Look(d *screen.Data, found func(screen.Finding)) {
	before := readingsBefore(d)
	usual := usualMoves(d, before)
	times := d.Number(jumpTimes)
	for _, e := range d.Entries {
		f, ok := e.Record.Fact.(ledger.Production)
		if !ok || !f.IsReading || e.At().Before(d.Start) {
			continue
		}
		x := screen.Finding{Subject: e.Record.ID(), Time: e.At(), Pile: f.Pile, Mass: max(movedBy(e), 0), Records: []string{e.Record.ID()}, Instrument: f.Belt}
		last, seen := before[x.Subject]
		if seen && last.id != "" {
			x.Records = append(x.Records, last.id)
		}
		switch u := usual[f.Belt]; {
		case e.Flags&(ledger.FlagReset|ledger.FlagUnexplainedFall) != 0:
			x.Seen = fmt.Sprintf("belt %s showed %v at %s: it was set back, and what ran before that is not known", f.Belt, f.Reading, d.Clock(e.At()))
			if seen {
				x.Seen = fmt.Sprintf("belt %s showed %v at %s and %v at %s: it was set back, and what ran before that is not known", f.Belt,
					last.mass, d.Clock(last.at), f.Reading, d.Clock(e.At()))
			}
		case u.mass > 0 && float64(x.Mass) > times*u.of(e.At().Sub(last.at)):
			x.Seen = fmt.Sprintf("belt %s moved by %v up to %s, where the usual is %v between two readings", f.Belt, x.Mass, d.Clock(e.At()), u.mass)
		default:
			continue
		}
		found(x)
	}
}

// readingsBefore returns what each reading's belt showed before it, by the ID of the reading: in the rows, and before
// them as the book remembers.
func readingsBefore(d *screen.Data) map[string]shown {
	last, before := map[string]shown{}, map[string]shown{}
	for _, p := range d.Production {
		f := p.Fact
		if !f.IsReading {
			continue
		}
		id := p.Rec.ID()
		if l, ok := last[f.Belt]; ok {
			before[id] = l
		} else if r, ok := d.Month.Opening.Readings[f.Belt]; ok && r.At.Before(p.At()) {
			before[id] = shown{at: r.At, mass: r.Shown}
		}
		last[f.Belt] = shown{p.At(), f.Reading, id}
	}
	return before
}

// usualMove is what a belt's totaliser moves between two readings.
type usualMove struct {
	mass   ledger.Mass      // the median of movements above zero; 0 for too few
	longer [2]time.Duration // the longest times between two readings, the longest first
}

// of returns what is usual after a time without a reading.
func (u usualMove) of(gap time.Duration) float64 {
	other := u.longer[0]
	if gap == other {
		other = u.longer[1]
	}
	if other <= 0 || gap <= other {
		return float64(u.mass)
	}
	return float64(u.mass) * float64(gap) / float64(other)
}

// fewReadings is how many movements it takes to know the usual one.
const fewReadings = 10

// usualMoves returns what is usual of each belt in the month.
func usualMoves(d *screen.Data, before map[string]shown) map[string]usualMove {
	moves, usual := map[string][]ledger.Mass{}, map[string]usualMove{}
	for _, e := range d.Entries {
		f, ok := e.Record.Fact.(ledger.Production)
		if !ok || !f.IsReading {
			continue
		}
		m := movedBy(e)
		last, seen := before[e.Record.ID()]
		if m <= 0 || !seen {
			continue
		}
		moves[f.Belt] = append(moves[f.Belt], m)
		u := usual[f.Belt]
		u.longer = longest(u.longer, e.At().Sub(last.at))
		usual[f.Belt] = u
	}
	for belt, u := range usual {
		if list := moves[belt]; len(list) >= fewReadings {
			slices.Sort(list)
			u.mass = list[len(list)/2]
			usual[belt] = u
		}
	}
	return usual
}

// longest puts a time among the two longest.
func longest(two [2]time.Duration, t time.Duration) [2]time.Duration {
	switch {
	case t > two[0]:
		return [2]time.Duration{t, two[0]}
	case t > two[1]:
		return [2]time.Duration{two[0], t}
	}
	return two
}

// days writes a duration in whole days.
func days(t time.Duration) int { return int(t / screen.After) }
