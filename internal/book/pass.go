package book

import (
	"context"
	"time"

	"repose/internal/audit"
	"repose/ledger"
)

// pass is what one reading of a month's entries leaves behind, beside the month itself.
type pass struct {
	entries []*ledger.Entry // nil where there are more than keep
	keep    int
	count   int

	carried map[ledger.PileID]*carriages             // what came and went
	kinds   []audit.Weighing                         // moisture and belt of weighings, each pair once
	kindOf  map[string]uint32                        // place in kinds, by moisture and belt
	recent  map[recentKind]uint32                    // the same, of the last moistures
	read    map[string]ledger.Mass                   // solids that a totaliser reading brought, by record
	moved   map[ledger.PileID]ledger.Mass            // solids so far
	after   map[string]map[ledger.PileID]ledger.Mass // moved, after an entry that the program wrote for a person
}

// recentKind names a kind of weighing by a moisture in memory, so that no text has to be made of it.
type recentKind struct {
	moisture ledger.DryBasis
	belt     string
}

// mostRecent is how many moistures are known by their place in memory: a sealed month has one for each entry.
const mostRecent = 1000

// maxScreened is up to how many entries of a month are kept in memory for its workbook, so that the register of
// exceptions and the matching of trucks can look at them. A month of a yard has a tenth of it.
const maxScreened = 150_000

func newPass(keep int) *pass {
	return &pass{keep: keep, kindOf: map[string]uint32{}, recent: map[recentKind]uint32{}, carried: map[ledger.PileID]*carriages{}, read: map[string]ledger.Mass{},
		moved: map[ledger.PileID]ledger.Mass{}, after: map[string]map[ledger.PileID]ledger.Mass{}}
}

// readThrough reads a month with a pass over its entries.
func (r *Reader) readThrough(ctx context.Context, yard string, p ledger.Period, keep int) (*Month, *pass, error) {
	x := newPass(keep)
	m, err := r.Month(ctx, yard, p, x.add)
	return m, x, err
}

// whole reports whether all entries are kept.
func (x *pass) whole() bool { return x.count == len(x.entries) }

func (x *pass) add(e *ledger.Entry) error {
	x.count++
	switch {
	case x.count <= x.keep:
		x.entries = append(x.entries, e)
	case x.entries != nil:
		x.entries = nil
	}
	for _, l := range e.Legs {
		x.leg(e, l.From, l.To, l.Neg(), false)
		x.leg(e, l.To, l.From, l.Amount, true)
	}
	if f, ok := e.Record.Fact.(ledger.Production); ok && f.IsReading {
		x.read[e.Record.ID()] = toPile(e)[ledger.PileID{Yard: e.Record.Yard, Code: f.Pile}]
	}
	if e.Record.Source.Row == 0 {
		after := map[ledger.PileID]ledger.Mass{}
		for id := range toPile(e) {
			after[id] = x.moved[id]
		}
		x.after[e.Record.ID()] = after
	}
	return nil
}

// leg counts what a leg brings to an account, or takes from it if negative, where that is a pile.
func (x *pass) leg(e *ledger.Entry, pile, other ledger.Account, a ledger.Amount, into bool) {
	if pile.Kind != ledger.KindPile {
		return
	}
	id := ledger.PileID{Yard: pile.Yard, Code: pile.Name}
	x.moved[id] += a.Solids
	list := x.carried[id]
	if list == nil {
		list = new(carriages)
		x.carried[id] = list
	}
	c := carriage{at: e.At().UnixNano(), Amount: a, column: ledger.ColumnOf(other, into)}
	switch other.Kind {
	case ledger.KindWeather, ledger.KindShrinkage, ledger.KindOpening:
	case ledger.KindProduction:
		c.kind = x.kind(recentKind{e.Moisture, other.Name})
	default:
		c.kind = x.kind(recentKind{e.Moisture, ""})
	}
	list.add(c)
}

// kind returns the place of a moisture and a belt among those seen, from 1.
func (x *pass) kind(of recentKind) uint32 {
	if k := x.recent[of]; k > 0 {
		return k
	}
	key := of.moisture.Percent().String() + " " + of.belt
	k := x.kindOf[key]
	if k == 0 {
		x.kinds = append(x.kinds, audit.Weighing{Moisture: of.moisture, Belt: of.belt})
		k = uint32(len(x.kinds))
		x.kindOf[key] = k
	}
	if len(x.recent) == mostRecent {
		clear(x.recent)
	}
	x.recent[of] = k
	return k
}

// weighingsAfter returns what came to a pile and left it after an instant, as it was weighed.
func (x *pass) weighingsAfter(id ledger.PileID, after time.Time) []audit.Weighing {
	var list []audit.Weighing
	for c := range x.carried[id].all() {
		if c.kind > 0 && c.at > after.UnixNano() {
			one := x.kinds[c.kind-1]
			one.Wet = c.AsIs()
			list = append(list, one)
		}
	}
	return list
}

// carriedOf returns what came to a pile and left it, without the names of records.
func (x *pass) carriedOf(id ledger.PileID) []audit.Carried {
	var list []audit.Carried
	for c := range x.carried[id].all() {
		list = append(list, audit.Carried{At: time.Unix(0, c.at), Column: c.column, Solids: c.Solids})
	}
	return list
}
