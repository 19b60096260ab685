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
// fall that passes the modulus by a plausible amount is a rollover and is left alone.
type reset struct{}

func (reset) Info() screen.Info {
	return screen.Info{Name: "totaliser reset", Strength: screen.Certain,
		Meaning:  "A belt's totaliser fell, or moved many times the usual amount between two readings.",
		Benign:   "Service of the belt weigher; a power cut; a long run without a reading.",
		Settle:   "A reading before and after the reset, with a note; a record with the right reading.",
		Settings: []screen.Setting{jumpTimes}}
}

func (reset) Look(d *screen.Data, found func(screen.Finding)) {
	usual := usualMove(d)
	shown := map[string]screen.Row[ledger.Production]{} // the reading before, by belt
	before := map[string]screen.Row[ledger.Production]{}
	for _, p := range d.Production {
		if p.Fact.IsReading {
			if last, ok := shown[p.Fact.Belt]; ok {
				before[p.Rec.ID()] = last
			}
			shown[p.Fact.Belt] = p
		}
	}
	for _, e := range d.Entries {
		f, ok := e.Record.Fact.(ledger.Production)
		if !ok || !f.IsReading || e.At().Before(d.Start) {
			continue
		}
		x := screen.Finding{Subject: e.Record.ID(), Time: e.At(), Pile: f.Pile, Records: []string{e.Record.ID()}, Instrument: f.Belt}
		last, seen := before[e.Record.ID()]
		if seen {
			x.Records = append(x.Records, last.Rec.ID())
		}
		moved := intoPiles(e)
		switch {
		case e.Flags&(ledger.FlagReset|ledger.FlagUnexplainedFall) != 0 && seen:
			x.Mass = moved
			x.Seen = fmt.Sprintf("belt %s showed %v at %s and %v at %s: it was set back, and what ran before that is not known", f.Belt,
				last.Fact.Reading, d.Clock(last.At()), f.Reading, d.Clock(e.At()))
		case usual[f.Belt] > 0 && float64(moved) > d.Number(jumpTimes)*float64(usual[f.Belt]):
			x.Mass = moved
			x.Seen = fmt.Sprintf("belt %s moved by %v up to %s, where the usual is %v between two readings", f.Belt, moved, d.Clock(e.At()), usual[f.Belt])
		default:
			continue
		}
		found(x)
	}
}

func intoPiles(e *ledger.Entry) (m ledger.Mass) {
	for _, l := range e.Legs {
		if l.To.Kind == ledger.KindPile {
			m += l.AsIs()
		}
	}
	return m
}

// usualMove returns the median movement of each belt's totaliser in the month, of movements above zero.
func usualMove(d *screen.Data) map[string]ledger.Mass {
	all := map[string][]ledger.Mass{}
	for _, e := range d.Entries {
		if f, ok := e.Record.Fact.(ledger.Production); ok && f.IsReading {
			if m := intoPiles(e); m > 0 {
				all[f.Belt] = append(all[f.Belt], m)
			}
		}
	}
	usual := map[string]ledger.Mass{}
	for belt, moves := range all {
		if len(moves) >= fewReadings {
			slices.Sort(moves)
			usual[belt] = moves[len(moves)/2]
		}
	}
	return usual
}

// fewReadings is how many movements it takes to know the usual one.
const fewReadings = 10

// days writes a duration in whole days.
func days(t time.Duration) int { return int(t / screen.After) }
