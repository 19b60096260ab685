package match

import (
	"math"
	"slices"

	"repose/internal/assign"
	"repose/ledger"
)

// assembly makes the result, step by step.
type assembly struct {
	*matcher
	in             Input
	ofLoad, ofDeck []int32   // partners; alone or grouped for what has none
	rival          []float64 // by load, of the last matching
	result         Result
}

// Partners that are none.
const (
	alone   = -1
	grouped = -2
)

func none(n int) []int32 {
	list := make([]int32, n)
	for i := range list {
		list[i] = alone
	}
	return list
}

// pairs matches the kept records.
func (a *assembly) pairs() {
	var kept []int32
	for i := range a.loads.all {
		if a.loads.kept(int32(i)) {
			kept = append(kept, int32(i))
		}
	}
	edges := a.edges(kept, a.deck.lanesOf(a.deck.kept))
	partners := a.solve(edges)
	a.rival = a.rivals(partners, edges)
	for i, j := range partners {
		if j != assign.Alone {
			a.ofLoad[i], a.ofDeck[j] = int32(j), int32(i)
		}
	}
}

// groups finds records that hold several others, among those without partner and those whose partner weighs less.
func (a *assembly) groups() {
	merged := a.merged(a.ofLoad, free(a.deck, a.ofDeck))
	for _, g := range merged.find() {
		x := Merged{Load: int(g.host), Deck: ints(g.parts), Z: g.z, Weight: g.weight, Margin: g.margin, Difference: a.loads.all[g.host].net}
		for _, j := range g.parts {
			x.Difference -= a.deck.all[j].net
		}
		a.result.Merged = append(a.result.Merged, x)
		a.join(g, a.ofLoad, a.ofDeck)
	}
	split := a.split(a.ofDeck, free(a.loads, a.ofLoad))
	for _, g := range split.find() {
		x := Split{Deck: int(g.host), Loads: ints(g.parts), Z: -g.z, Weight: g.weight, Margin: g.margin, Difference: -a.deck.all[g.host].net}
		for _, i := range g.parts {
			x.Difference += a.loads.all[i].net
		}
		a.result.Split = append(a.result.Split, x)
		a.join(g, a.ofDeck, a.ofLoad)
	}
	for i, j := range a.ofLoad {
		if j >= 0 {
			a.result.Pairs = append(a.result.Pairs, a.pair(int32(i), j))
		}
	}
}

// join takes a group's records from pairs and from those alone.
func (a *assembly) join(g group, ofHost, ofPart []int32) {
	ofHost[g.host] = grouped
	for _, j := range g.parts {
		ofPart[j] = grouped
	}
}

// free says which records of a side are kept and alone.
func free(s *side, partners []int32) []bool {
	is := make([]bool, len(partners))
	for i, p := range partners {
		is[i] = p == alone && s.kept(int32(i))
	}
	return is
}

func ints(list []int32) []int {
	out := make([]int, len(list))
	for i, v := range list {
		out[i] = int(v)
	}
	return out
}

// alone lists the kept records that are in nothing.
func (a *assembly) alone() {
	for i, is := range free(a.loads, a.ofLoad) {
		if is {
			a.result.LoadAlone = append(a.result.LoadAlone, i)
		}
	}
	for j, is := range free(a.deck, a.ofDeck) {
		if is {
			a.result.DeckAlone = append(a.result.DeckAlone, j)
		}
	}
}

// voids matches the void records with each other and with the kept ones that are left. Two kept ones cannot meet
// here: they would have been matched before.
func (a *assembly) voids() {
	var some []int32
	for i, p := range a.ofLoad {
		if p == alone {
			some = append(some, int32(i))
		}
	}
	lanes := a.deck.lanesOf(func(j int32) bool { return a.ofDeck[j] == alone })
	edges := slices.DeleteFunc(a.edges(some, lanes), func(e assign.Edge) bool {
		return a.loads.kept(e.Left) && a.deck.kept(e.Right)
	})
	partners := a.solve(edges)
	a.rival = a.rivals(partners, edges)
	for i, j := range partners {
		if j == assign.Alone {
			continue
		}
		load, deck := int32(i), int32(j)
		switch {
		case a.deck.kept(deck):
			a.result.VoidLoads = append(a.result.VoidLoads, VoidPair(a.pair(load, deck)))
		case a.loads.kept(load):
			a.result.VoidDecks = append(a.result.VoidDecks, VoidPair(a.pair(load, deck)))
		}
	}
}

// pair describes a load and a deck ticket of one truck.
func (a *assembly) pair(i, j int32) Pair {
	load, deck := &a.loads.all[i], &a.deck.all[j]
	h := a.habits[load.scale][deck.scale]
	p := Pair{Load: int(i), Deck: int(j), Lag: a.in.Deck[j].At.Sub(a.in.Loads[i].At), Difference: load.net - deck.net,
		SameTruck: compareLabels(load.truck, deck.truck), SameProduct: compareLabels(load.product, deck.product)}
	if d, ok := h.difference(load, deck); ok {
		p.Z = d / h.sd
	}
	p.Weight, _ = h.weight(&a.odds, load, deck)
	p.Margin = p.Weight - a.rival[i]
	return p
}

// learned describes the habits, in order of names.
func (m *matcher) learned(records []*ledger.Record) []Learned {
	buckets := bucketsOf(records)
	var list []Learned
	for l, row := range m.habits {
		for d, h := range row {
			list = append(list, Learned{Loader: m.loads.scales[l], Deck: m.deck.scales[d],
				Lag: seconds(h.lag), Spread: seconds((h.early + h.late) / 2), Bias: math.Expm1(h.bias), SD: h.sd,
				Tolerance: h.tolerance(), Window: seconds(float64(h.window)), Bucket: buckets[m.loads.scales[l]], Pairs: h.pairs})
		}
	}
	slices.SortFunc(list, Learned.compare)
	return list
}
