package ledger

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"
)

// Pairing is a loader in one calibration epoch, and the deck scale that weighed the same trucks.
type Pairing struct {
	Loader string
	Epoch  time.Time // from when on the loader is as it was; zero where the register does not say
	Deck   string
}

// PairTotals sums weighings of the same trucks by a loader and a deck scale. The moments are in kg and
// kg^2, each weighing rounded half-even to the kilogram, so that a million of them fit exactly.
type PairTotals struct {
	Count                               int
	Loader, Deck                        int64 // sums, kg
	LoaderSquares, DeckSquares, Product int64 // sums of squares and of products, kg^2
	Unlike                              int   // trucks whose weighings differ by more than a tenth, left out
}

// Pairs holds the totals of pairings.
type Pairs map[Pairing]PairTotals

// Sorted returns the pairings in order.
func (p Pairs) Sorted() []Pairing {
	return slices.SortedFunc(maps.Keys(p), func(a, b Pairing) int {
		return cmp.Or(cmp.Compare(a.Loader, b.Loader), a.Epoch.Compare(b.Epoch), cmp.Compare(a.Deck, b.Deck))
	})
}

// Add sums two sets of weighings.
func (t PairTotals) Add(u PairTotals) PairTotals {
	return PairTotals{t.Count + u.Count, t.Loader + u.Loader, t.Deck + u.Deck, t.LoaderSquares + u.LoaderSquares,
		t.DeckSquares + u.DeckSquares, t.Product + u.Product, t.Unlike + u.Unlike}
}

// unlikeShare is the part of the deck's figure by which a loader's may differ before the two are taken to
// be of different loads: a tenth is several times what scales that work differ by.
const unlikeShare = 10

// maxPaired is the largest weighing that is paired, in kg: squares of a million such weighings fit.
const maxPaired = 1_000_000

// add counts a truck that both weighed.
func (t *PairTotals) add(loader, deck Mass) {
	x, y := kilograms(loader), kilograms(deck)
	if x <= 0 || y <= 0 || x > maxPaired || y > maxPaired || max(x-y, y-x)*unlikeShare > y {
		t.Unlike++
		return
	}
	t.Count++
	t.Loader += x
	t.Deck += y
	t.LoaderSquares += x * x
	t.DeckSquares += y * y
	t.Product += x * y
}

// kilograms rounds half-even to the kilogram.
func kilograms(m Mass) int64 {
	q, r := int64(m/Kilogram), int64(m%Kilogram)
	if r > 500 || r == 500 && q%2 == 1 {
		q++
	}
	return q
}

func (p Pairing) fields(w *fieldWriter, t PairTotals) {
	w.text("loader", p.Loader)
	w.time("epoch", p.Epoch)
	w.text("deck", p.Deck)
	w.count("count", t.Count)
	w.count("loader_kg", int(t.Loader))
	w.count("deck_kg", int(t.Deck))
	w.count("loader_kg2", int(t.LoaderSquares))
	w.count("deck_kg2", int(t.DeckSquares))
	w.count("product_kg2", int(t.Product))
	w.count("unlike", t.Unlike)
}

// ParsePairs reads the pairings of a sealed month back.
func ParsePairs(lines []string) (Pairs, error) {
	pairs := Pairs{}
	for _, line := range lines {
		d, err := parseBody([]byte(line))
		if err != nil {
			return nil, fmt.Errorf("sealed pair %.60q: %w", line, err)
		}
		pairs[Pairing{d.text("loader"), d.time("epoch"), d.text("deck")}] = PairTotals{d.count("count"), int64(d.count("loader_kg")),
			int64(d.count("deck_kg")), int64(d.count("loader_kg2")), int64(d.count("deck_kg2")), int64(d.count("product_kg2")), d.count("unlike")}
		if d.err != nil {
			return nil, fmt.Errorf("sealed pair %.60q: %w", line, d.err)
		}
	}
	return pairs, nil
}

// loadedTruck is the last load of a truck.
type loadedTruck struct {
	rec  *Record
	pile PileID
	net  Amount
}

// weighed names a truck that had left a pile when its survey ended and had not yet been weighed out.
func (b *builder) weighed(rec *Record, t DeckTicket) {
	l, ok := b.loaded[t.Truck]
	if !ok || t.Void {
		return
	}
	delete(b.loaded, t.Truck)
	if wait := t.At.Sub(l.rec.At); wait < 0 || wait > b.month.Policies.CutOff {
		return
	}
	b.pair(l.rec, t)
	for _, c := range b.month.Comparisons {
		if c.Pile == l.pile && c.straddles(l.rec.At, t.At) {
			c.Straddling = append(c.Straddling, Item{Record: l.rec, Net: l.net, Deck: &t})
		}
	}
}

// forget leaves out trucks that no deck ticket can meet any more. Each would keep its record in memory, and what that was read
// with, and a month may have a truck for every load.
func (b *builder) forget(now time.Time) {
	if wait := b.month.Policies.CutOff; now.Sub(b.forgot) > max(wait, time.Hour) {
		b.forgot = now
		maps.DeleteFunc(b.loaded, func(_ string, l loadedTruck) bool { return now.Sub(l.rec.At) > wait })
	}
}

// pair counts a truck that a loader and a deck scale weighed, both with its water.
func (b *builder) pair(rec *Record, t DeckTicket) {
	load := rec.Fact.(Load)
	key := Pairing{Loader: load.Loader, Epoch: b.in.Register.epoch(b.in.Yard, load.Loader, load.At), Deck: t.Deck}
	totals := b.month.Pairs[key]
	totals.add(load.Net, t.Net)
	b.month.Pairs[key] = totals
}
