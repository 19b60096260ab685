package tickets

import (
	"fmt"

	"repose/internal/screen"
)

// missing finds numbers that no record of a series has. Numerical sequence is the usual test of the completeness
// of delivery records (common practice, no source). A number is missing where the series goes on above it, so the last numbers of a book are never called missing. What the
// missing records weigh is estimated from the series' own loads. It is certain that the number is not in the book;
// nothing says that a truck left with it.
type missing struct{}

func (missing) Info() screen.Info {
	return screen.Info{Name: "missing number", Strength: screen.Certain,
		Meaning:  "Numbers of a series that no record has, neither kept nor void. Numbers that are the clock of each record make no series; those that begin with a day, month or year are one series for each.",
		Benign:   "A spoilt or unused ticket; a void that the export leaves out; a test weighing; an export that is still to come.",
		Settle:   "The record, taken in late; or words that say where the ticket is; or a late load by estimate.",
		Settings: []screen.Setting{mostMissing}}
}

func (missing) Look(d *screen.Data, found func(screen.Finding)) {
	for _, s := range Sequences(d) {
		for _, g := range s.Gaps {
			found(s.finding(d, g))
		}
	}
}

func (s Sequence) finding(d *screen.Data, g Gap) screen.Finding {
	f := screen.Finding{Subject: fmt.Sprintf("%s/%d-%d", s.Series, g.First, g.Last), Time: g.after.at, Mass: g.Mass, Low: g.Low, High: g.High,
		Estimated: true, Records: []string{g.before.record, g.after.record}, Instrument: s.Instrument, Series: s.Series}
	if f.Time.Before(g.before.at) {
		f.Time = g.before.at
	}
	if f.Time.Before(d.Start) {
		f.Time = d.Start // stamped in the month before, but the number is of this one
	}
	what := fmt.Sprintf("number %d is", g.First)
	if g.Number() > 1 {
		what = fmt.Sprintf("%d numbers, %d to %d, are", g.Number(), g.First, g.Last)
	}
	f.Seen = fmt.Sprintf("%s missing in series %s, between %s and %s; at the series' usual load that is about %v",
		what, s.Series, d.Clock(g.before.at), d.Clock(g.after.at), g.Mass)
	if g.pile != "" {
		f.Pile = g.pile
		f.Effects = []screen.Effect{{Pile: f.Pile, Mass: g.Mass}}
	}
	if g.pile == "" {
		f.Unplaced = g.Mass
	}
	if g.before.product == g.after.product {
		f.Product = g.after.product
	}
	return f
}
