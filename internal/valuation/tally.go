package valuation

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"repose/internal/value"
	"repose/ledger"
)

// Tally gathers what the entries of a month did to products. The zero Tally is not ready: see NewTally.
type Tally struct {
	reg   *ledger.Register
	start time.Time // of the month: late entries count for what their pile holds then
	piles map[ledger.PileID][]segment
	moved []transfer
	moves map[string]*value.Moves
	err   error
}

// segment is what entries moved into a pile, one after another, while it held one product.
type segment struct {
	product string
	solids  ledger.Mass
}

type transfer struct {
	from, to string
	solids   ledger.Mass
}

// NewTally returns a tally of a month that begins at an instant.
func NewTally(reg *ledger.Register, start time.Time) *Tally {
	return &Tally{reg: reg, start: start, piles: map[ledger.PileID][]segment{}, moves: map[string]*value.Moves{}}
}

// Add counts an entry. Entries come in the order of the book.
func (t *Tally) Add(e *ledger.Entry) {
	at := e.At()
	if at.Before(t.start) {
		at = t.start
	}
	for _, l := range e.Legs {
		t.leg(l, at)
	}
	// What a survey left unexplained is explained: no pile moves, but the expense has another account.
	if c, ok := e.Record.Fact.(ledger.Correction); ok && c.From.Kind == ledger.KindShrinkage && c.To.Kind == ledger.KindShrinkage {
		for _, l := range e.Legs {
			if p := t.holds(ledger.PileID{Yard: e.Record.Yard, Code: c.Pile}, at); p != "" {
				t.move(p, column(l.From, true), l.Solids)
				t.move(p, column(l.To, false), -l.Solids)
			}
		}
	}
}

// own returns the product of a pile of the yard's own stone; ok is false for other accounts and for other people's stone.
func (t *Tally) own(a ledger.Account, at time.Time) (product string, id ledger.PileID, ok bool) {
	if a.Kind != ledger.KindPile {
		return "", ledger.PileID{}, false
	}
	id = ledger.PileID{Yard: a.Yard, Code: a.Name}
	product = t.holds(id, at)
	return product, id, product != ""
}

// holds returns what product of the yard's own lies in a pile; empty for somebody else's stone.
func (t *Tally) holds(id ledger.PileID, at time.Time) string {
	if p := t.reg.Pile(id, at); p.Owner == "" {
		return p.Product
	}
	return ""
}

func (t *Tally) leg(l ledger.Leg, at time.Time) {
	if l.Solids == 0 {
		return
	}
	from, fromPile, fromOwn := t.own(l.From, at)
	to, toPile, toOwn := t.own(l.To, at)
	t.pile(fromPile, from, -l.Solids)
	t.pile(toPile, to, l.Solids)
	switch {
	case fromOwn && toOwn && from != to:
		t.moved = append(t.moved, transfer{from, to, l.Solids})
	case fromOwn && !toOwn:
		t.move(from, column(l.To, false), -l.Solids)
	case toOwn && !fromOwn:
		t.move(to, column(l.From, true), l.Solids)
	}
}

func (t *Tally) pile(id ledger.PileID, product string, solids ledger.Mass) {
	if id == (ledger.PileID{}) {
		return
	}
	s := t.piles[id]
	if n := len(s); n > 0 && s[n-1].product == product {
		s[n-1].solids += solids // within the bounds of a book's masses, which a month's sum cannot leave
		return
	}
	t.piles[id] = append(s, segment{product, solids})
}

func (t *Tally) move(product string, c value.Column, solids ledger.Mass) {
	m, ok := t.moves[product]
	if !ok {
		m = new(value.Moves)
		t.moves[product] = m
	}
	sum, err := m[c].Quantity.Add(solids)
	if err != nil && t.err == nil {
		t.err = fmt.Errorf("product %s: %w", product, err)
	}
	m[c].Quantity = sum
}

// columns says what each way of the roll-forward in tonnes is in money. Suspense is what nobody has explained.
var columns = map[ledger.Column]value.Column{ledger.ColumnOpening: value.ColumnOpened, ledger.ColumnProduction: value.ColumnMade,
	ledger.ColumnReturns: value.ColumnReturned, ledger.ColumnSale: value.ColumnSold, ledger.ColumnInternal: value.ColumnInternal,
	ledger.ColumnFree: value.ColumnFree, ledger.ColumnFeed: value.ColumnFed, ledger.ColumnExpected: value.ColumnExpected,
	ledger.ColumnExplained: value.ColumnExplained, ledger.ColumnShrinkage: value.ColumnUnexplained,
	ledger.ColumnSuspense: value.ColumnUnexplained}

func column(other ledger.Account, into bool) value.Column {
	switch c := ledger.ColumnOf(other, into); {
	case c == ledger.ColumnTransferOut: // to another yard, or to a pile of somebody else's
		return value.ColumnSold
	case c == ledger.ColumnTransferIn:
		return value.ColumnReturned
	default:
		return columns[c]
	}
}

// settled returns the tally with what piles became when they were built anew or changed hands, and the stock of every product
// at the month's ends. The tally stays as it is.
func (t *Tally) settled(opening, closing ledger.Balances, end time.Time) (s *Tally, before, after map[string]ledger.Mass) {
	s = &Tally{reg: t.reg, start: t.start, piles: t.piles, moved: slices.Clone(t.moved), moves: map[string]*value.Moves{}, err: t.err}
	for p, m := range t.moves {
		s.moves[p] = new(*m)
	}
	before, after = map[string]ledger.Mass{}, map[string]ledger.Mass{}
	ids := map[ledger.PileID]bool{}
	for id := range t.piles {
		ids[id] = true // also one that is empty at both ends
	}
	for _, b := range []ledger.Balances{opening, closing} {
		for a := range b {
			if a.Kind == ledger.KindPile {
				ids[ledger.PileID{Yard: a.Yard, Code: a.Name}] = true
			}
		}
	}
	for _, id := range slices.SortedFunc(maps.Keys(ids), func(a, b ledger.PileID) int { return compareText(a.Code, b.Code) }) {
		// What the month before closed it as: a change in the very instant in which the month begins is of this month.
		first, last := t.holds(id, t.start.Add(-1)), t.holds(id, end.Add(-1))
		held := opening[id.Account()].Solids
		if first != "" {
			before[first] += held
		}
		s.follow(id, first, last, held)
		if last != "" {
			after[last] += closing[id.Account()].Solids
		}
	}
	return s, before, after
}

func (t *Tally) follow(id ledger.PileID, product, last string, held ledger.Mass) {
	for _, s := range append(slices.Clone(t.piles[id]), segment{product: last}) {
		switch {
		case s.product == product || held == 0:
		case product == "":
			t.move(s.product, value.ColumnReturned, held)
		case s.product == "":
			t.move(product, value.ColumnSold, -held)
		case held < 0: // more had gone than lay there: the new product begins short
			t.moved = append(t.moved, transfer{s.product, product, -held})
		default:
			t.moved = append(t.moved, transfer{product, s.product, held})
		}
		product, held = s.product, held+s.solids
	}
}

func compareText(a, b string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
