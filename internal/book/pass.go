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

	weighed map[ledger.Account][]weighing            // by pile
	kinds   []audit.Weighing                         // moisture and belt of weighings, each pair once
	kindOf  map[string]uint32                        // place in kinds, by moisture and belt
	carried map[ledger.PileID][]carriage             // what came and went
	read    map[string]ledger.Mass                   // solids that a totaliser reading brought, by record
	moved   map[ledger.PileID]ledger.Mass            // solids so far
	after   map[string]map[ledger.PileID]ledger.Mass // moved, after an entry that the program wrote for a person
}

// weighing is what a record brought to a pile or took from it, as it was weighed. There may be a million of them, so it is
// small.
type weighing struct {
	at   int64 // nanoseconds
	wet  ledger.Mass
	kind uint32
}

// carriage is an audit.Carried without its record.
type carriage struct {
	at     int64
	solids ledger.Mass
	column ledger.Column
}

// maxScreened is up to how many entries of a month are kept in memory for its workbook, so that the register of
// exceptions and the matching of trucks can look at them. A month of a yard has a tenth of it.
const maxScreened = 150_000

func newPass(keep int) *pass {
	return &pass{keep: keep, weighed: map[ledger.Account][]weighing{}, kindOf: map[string]uint32{}, carried: map[ledger.PileID][]carriage{}, read: map[string]ledger.Mass{},
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
	x.carried[id] = append(x.carried[id], carriage{e.At().UnixNano(), a.Solids, ledger.ColumnOf(other, into)})
	switch other.Kind {
	case ledger.KindWeather, ledger.KindShrinkage, ledger.KindOpening:
		return
	}
	belt := ""
	if other.Kind == ledger.KindProduction {
		belt = other.Name
	}
	x.weighed[pile] = append(x.weighed[pile], weighing{e.At().UnixNano(), a.AsIs(), x.kind(e.Moisture, belt)})
}

// kind returns the place of a moisture and a belt among those seen.
func (x *pass) kind(moisture ledger.DryBasis, belt string) uint32 {
	key := moisture.Percent().String() + " " + belt
	k, ok := x.kindOf[key]
	if !ok {
		k = uint32(len(x.kinds))
		x.kindOf[key] = k
		x.kinds = append(x.kinds, audit.Weighing{Moisture: moisture, Belt: belt})
	}
	return k
}

// weighingsAfter returns what came to a pile and left it after an instant, as it was weighed.
func (x *pass) weighingsAfter(pile ledger.Account, after time.Time) []audit.Weighing {
	var list []audit.Weighing
	for _, w := range x.weighed[pile] {
		if w.at > after.UnixNano() {
			one := x.kinds[w.kind]
			one.Wet = w.wet
			list = append(list, one)
		}
	}
	return list
}

// carriedOf returns what came to a pile and left it, without the names of records.
func (x *pass) carriedOf(id ledger.PileID) []audit.Carried {
	list := make([]audit.Carried, len(x.carried[id]))
	for i, c := range x.carried[id] {
		list[i] = audit.Carried{At: time.Unix(0, c.at), Column: c.column, Solids: c.solids}
	}
	return list
}
