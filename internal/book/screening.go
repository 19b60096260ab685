package book

import (
	"context"
	"strconv"
	"time"

	"repose/internal/report"
	"repose/internal/screen"
	"repose/internal/screen/tickets"
	"repose/ledger"
)

// lookThrough adds the register of exceptions and the further papers to the report of a month, as far as the book knew when
// it was closed, or now. So the workbook of a closed month shows the same for ever. A month of more entries than
// maxScreened has no register in its workbook: repose exceptions looks through it.
func (r *Reader) lookThrough(ctx context.Context, c *report.Close, m *Month, x *pass) error {
	known := r
	if m.Closed {
		var err error
		if known, err = r.reading(ctx, m.Close.Fact.(ledger.Close).LogSize, r.at); err != nil {
			return err
		}
	}
	var d *screen.Data
	var err error
	if x.whole() {
		if d, err = known.dataOf(ctx, m, x.entries); err != nil {
			return err
		}
		if c.Screening, err = known.screening(ctx, m, d); err != nil {
			return err
		}
	}
	c.Papers, err = known.papers(ctx, m, x, d)
	return err
}

// screening reports the register of exceptions of a month with what its rules rest on.
func (r *Reader) screening(ctx context.Context, m *Month, d *screen.Data) (*report.Screening, error) {
	all, err := r.register(ctx, d)
	if err != nil {
		return nil, err
	}
	x := report.NewExceptions(d.Yard, []ledger.Period{m.Period}, d.Zone)
	for _, e := range all {
		x.Exceptions = append(x.Exceptions, ExceptionLine(e))
	}
	return &report.Screening{Exceptions: x, Sequences: sequenceLines(tickets.Sequences(d)), Matching: matchLines(d)}, nil
}

// Sequences returns the series of numbers of a month.
func (r *Reader) Sequences(ctx context.Context, yard string, p ledger.Period) (*report.Sequences, error) {
	d, err := r.screened(ctx, yard, p)
	if err != nil {
		return nil, err
	}
	return report.NewSequences(yard, p, sequenceLines(tickets.Sequences(d))), nil
}

func sequenceLines(list []tickets.Sequence) []report.SequenceLine {
	lines := []report.SequenceLine{}
	for _, s := range list {
		l := report.SequenceLine{Instrument: s.Instrument, Series: s.Series, First: strconv.FormatInt(s.First, 10), Last: strconv.FormatInt(s.Last, 10),
			Count: s.Count, Expected: int(s.Expected), Missing: int(s.Missing), Duplicates: s.Duplicates, Voids: s.Voids, OutOfOrder: s.OutOfOrder}
		for _, g := range s.Gaps {
			l.Mass += report.Tonnes(g.Mass)
			l.Low += report.Tonnes(g.Low)
			l.High += report.Tonnes(g.High)
		}
		lines = append(lines, l)
	}
	return lines
}

// matchLines sums the trucks of the month that a loader and a deck scale weighed, by loader and deck.
func matchLines(d *screen.Data) []report.MatchLine {
	type key struct{ loader, deck string }
	at := map[key]int{}
	lines := []report.MatchLine{}
	for _, l := range d.Match.Learned {
		at[key{l.Loader, l.Deck}] = len(lines)
		lines = append(lines, report.MatchLine{Loader: l.Loader, Deck: l.Deck, LagMinutes: minutes(l.Lag), SpreadMins: minutes(l.Spread),
			BiasPct: report.Ratio(100 * l.Bias), SDPct: report.Ratio(100 * l.SD)})
	}
	of := func(loader, deck string) *report.MatchLine {
		if i, ok := at[key{loader, deck}]; ok {
			return &lines[i]
		}
		return new(report.MatchLine) // a pairing without enough to learn from is in no line
	}
	for _, p := range d.Match.Pairs {
		load, deck := d.MatchLoads[p.Load].Fact, d.MatchDeck[p.Deck].Fact
		if d.In(load.At) {
			l := of(load.Loader, deck.Deck)
			l.Pairs++
			l.LoaderMass += report.Tonnes(load.Net)
			l.DeckMass += report.Tonnes(deck.Net)
		}
	}
	for _, g := range d.Match.Merged {
		if load := d.MatchLoads[g.Load].Fact; d.In(load.At) {
			of(load.Loader, d.MatchDeck[g.Deck[0]].Fact.Deck).Merged++
		}
	}
	for _, g := range d.Match.Split {
		if deck := d.MatchDeck[g.Deck].Fact; d.In(deck.At) {
			of(d.MatchLoads[g.Loads[0]].Fact.Loader, deck.Deck).Split++
		}
	}
	addAlone(d, lines)
	return lines
}

func minutes(t time.Duration) report.Ratio { return report.Ratio(t.Minutes()) }

// addAlone counts what no other scale weighed: loads of the month in every line of their loader, tickets in every line
// of their deck.
func addAlone(d *screen.Data, lines []report.MatchLine) {
	for _, i := range d.Match.LoadAlone {
		load := d.MatchLoads[i].Fact
		for k := range lines {
			if l := &lines[k]; l.Loader == load.Loader && d.In(load.At) {
				l.LoadsAlone++
				l.AloneMass += report.Tonnes(load.Net)
			}
		}
	}
	for _, i := range d.Match.DeckAlone {
		deck := d.MatchDeck[i].Fact
		for k := range lines {
			if l := &lines[k]; l.Deck == deck.Deck && d.In(deck.At) {
				l.DeckAlone++
				l.TicketsMass += report.Tonnes(deck.Net)
			}
		}
	}
}
