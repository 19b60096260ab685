package weights

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

// MatchTotals is what became of the kept loads and deck tickets of a month that share a loader and a deck scale. Those
// without a partner are in a row of their own instrument, where the other is empty. Over all rows, every kept load of the
// month is counted once, and every kept ticket of a truck that a load of the month is of, or that none is of and that is of the month itself: a
// truck between loader and deck at a month's end belongs to the month of its load.
type MatchTotals struct {
	Loader, Deck string

	Loads, Tickets         int         // records
	LoaderMass, DeckMass   ledger.Mass // of them, as weighed
	Matched, Merged, Split int         // pairs of one load and one ticket; loads of several tickets; tickets of several loads
	Void                   int         // of those without a partner, how many have a void one
	NotForSale             int         // of the loads without a partner, those that need no ticket: for the yard's own use or free
	NotForSaleMass         ledger.Mass
	Lag, Spread            time.Duration // median of deck time less load time, and its scatter; of pairs, as matched
	Bias, SD               float64       // loader over deck less one, and its scatter, of pairs; fractions
	Bucket                 ledger.Mass   // the loader's usual bucket pass; 0 where nobody counts them
}

// Difference returns loader less deck of what both have.
func (t MatchTotals) Difference() ledger.Mass { return t.LoaderMass - t.DeckMass }

// Percent returns the difference in per cent of the deck's mass; NaN where that is zero.
func (t MatchTotals) Percent() float64 {
	if t.DeckMass == 0 {
		return math.NaN()
	}
	return 100 * float64(t.Difference()) / float64(t.DeckMass)
}

// Alone reports whether a row is of records without partner.
func (t MatchTotals) Alone() bool { return t.Loader == "" || t.Deck == "" }

// Matching returns the totals of the month, in order of loader and deck scale; rows of records without a loader come last.
// Records that are too much for one truck have the tickets that the rule "merged load" finds for them.
func Matching(d *screen.Data) []MatchTotals {
	t := totals{d: d, rows: map[pairKey]*MatchTotals{}, lumps: map[int][]int{}, inLump: map[int]bool{}}
	for load, tickets := range lumpedTickets(d) {
		if len(tickets) > 1 {
			t.lumps[load] = tickets
			for _, k := range tickets {
				t.inLump[k] = true
			}
			t.merged(load, tickets)
		}
	}
	for i := range d.Match.Pairs {
		p := &d.Match.Pairs[i]
		if row := t.row(p.Load, p.Deck); row != nil && t.lumps[p.Load] == nil {
			row.Matched++
			t.load(row, p.Load)
			t.ticket(row, p.Deck)
		}
	}
	for i := range d.Match.Merged {
		t.merged(d.Match.Merged[i].Load, d.Match.Merged[i].Deck)
	}
	for i := range d.Match.Split {
		x := &d.Match.Split[i]
		if row := t.row(x.Loads[0], x.Deck); row != nil {
			row.Split++
			t.ticket(row, x.Deck)
			for _, k := range x.Loads {
				t.load(row, k)
			}
		}
	}
	t.alone()
	t.learned()
	return t.sorted()
}

type totals struct {
	d      *screen.Data
	rows   map[pairKey]*MatchTotals
	lumps  map[int][]int // tickets of loads that the matching has not merged
	inLump map[int]bool  // those tickets
}

// merged counts a load of several tickets.
func (t *totals) merged(load int, tickets []int) {
	row := t.row(load, tickets[0])
	if row == nil {
		return
	}
	row.Merged++
	t.load(row, load)
	for _, k := range tickets {
		t.ticket(row, k)
	}
}

func (t *totals) at(k pairKey) *MatchTotals {
	if t.rows[k] == nil {
		t.rows[k] = &MatchTotals{Loader: k.loader, Deck: k.deck}
	}
	return t.rows[k]
}

// row returns the row of a load and a ticket, nil where the load is not of the month.
func (t *totals) row(load, deck int) *MatchTotals {
	l := &t.d.MatchLoads[load].Fact
	if !t.d.In(l.At) {
		return nil
	}
	return t.at(pairKey{l.Loader, t.d.MatchDeck[deck].Fact.Deck})
}

func (t *totals) load(row *MatchTotals, k int) {
	row.Loads++
	row.LoaderMass += t.d.MatchLoads[k].Fact.Net
}

func (t *totals) ticket(row *MatchTotals, k int) {
	row.Tickets++
	row.DeckMass += t.d.MatchDeck[k].Fact.Net
}

// alone counts what has no partner.
func (t *totals) alone() {
	d := t.d
	for _, k := range d.Match.LoadAlone {
		l := &d.MatchLoads[k].Fact
		if !d.In(l.At) || t.lumps[k] != nil {
			continue
		}
		row := t.at(pairKey{loader: l.Loader})
		if t.load(row, k); l.Purpose != ledger.PurposeSale {
			row.NotForSale++
			row.NotForSaleMass += l.Net
		}
	}
	for _, k := range d.Match.DeckAlone {
		if c := &d.MatchDeck[k].Fact; d.In(c.At) && !t.inLump[k] {
			t.ticket(t.at(pairKey{deck: c.Deck}), k)
		}
	}
	for i := range d.Match.VoidDecks {
		if l := &d.MatchLoads[d.Match.VoidDecks[i].Load].Fact; d.In(l.At) {
			t.at(pairKey{loader: l.Loader}).Void++
		}
	}
	for i := range d.Match.VoidLoads {
		if c := &d.MatchDeck[d.Match.VoidLoads[i].Deck].Fact; d.In(c.At) {
			t.at(pairKey{deck: c.Deck}).Void++
		}
	}
}

// learned adds what the matching learned to the rows that have any pair.
func (t *totals) learned() {
	for _, l := range t.d.Match.Learned {
		if row := t.rows[pairKey{l.Loader, l.Deck}]; row != nil {
			row.Lag, row.Spread, row.Bias, row.SD, row.Bucket = l.Lag, l.Spread, l.Bias, l.SD, l.Bucket
		}
	}
}

func (t *totals) sorted() []MatchTotals {
	keys := slices.SortedFunc(maps.Keys(t.rows), func(a, b pairKey) int {
		switch {
		case a.loader == "" && b.loader != "":
			return 1
		case a.loader != "" && b.loader == "":
			return -1
		}
		return cmp.Or(cmp.Compare(a.loader, b.loader), cmp.Compare(a.deck, b.deck))
	})
	all := make([]MatchTotals, 0, len(keys))
	for _, k := range keys {
		all = append(all, *t.rows[k])
	}
	return all
}
