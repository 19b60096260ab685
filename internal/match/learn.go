package match

import (
	"math"
	"slices"

	"repose/internal/assign"
)

// clear is by how much a pair must be likelier than any other of its two records for its lag and weights to be
// learned from: odds of twenty to one.
var clear = math.Log(20)

// learn matches some loads with what is known so far, and takes the habits and rates from what comes out clearly.
func (m *matcher) learn(some []int32) {
	edges := m.edges(some, m.deck.lanesOf(m.deck.kept))
	partners := m.solve(edges)
	pairs := m.clearPairs(partners, edges)

	whole := new(lesson)
	own := make([][]lesson, len(m.habits))
	for l := range m.habits {
		own[l] = make([]lesson, len(m.habits[l]))
	}
	for _, p := range pairs {
		load, deck := &m.loads.all[p[0]], &m.deck.all[p[1]]
		own[load.scale][deck.scale].add(load, deck)
		whole.add(load, deck)
	}
	m.setRates(m.count(some, partners, pairs))
	for l, row := range own {
		total := 0
		for _, s := range row {
			total += len(s.lags)
		}
		for d, s := range row {
			h := *m.habits[l][d]
			switch {
			case len(s.lags) >= enoughPairs:
				s.teach(&h)
			case len(whole.lags) >= enoughPairs:
				whole.teach(&h)
				h.pairs = 0
			}
			h.share = math.Log(float64(len(s.lags)+1) / float64(total+len(row)))
			m.habits[l][d] = &h
		}
	}
	m.finish()
}

// clearPairs returns the pairs that are much likelier than any other of their records.
func (m *matcher) clearPairs(partners []int, edges []assign.Edge) [][2]int32 {
	rivals := m.rivals(partners, edges)
	var pairs [][2]int32
	for _, e := range edges {
		if partners[e.Left] == int(e.Right) && float64(e.Weight)/weightUnit-rivals[e.Left] > clear {
			pairs = append(pairs, [2]int32{e.Left, e.Right})
		}
	}
	return pairs
}

// rivals returns the weight of the likeliest other pair that each load or its ticket could have been in; 0 if none.
func (m *matcher) rivals(partners []int, edges []assign.Edge) []float64 {
	ofLoad, ofDeck := make([]float64, len(m.loads.all)), make([]float64, len(m.deck.all))
	for _, e := range edges {
		if partners[e.Left] != int(e.Right) {
			w := float64(e.Weight) / weightUnit
			ofLoad[e.Left], ofDeck[e.Right] = max(ofLoad[e.Left], w), max(ofDeck[e.Right], w)
		}
	}
	for i, j := range partners {
		if j != assign.Alone {
			ofLoad[i] = max(ofLoad[i], ofDeck[j])
		}
	}
	return ofLoad
}

// count finds the rates. The start values count like a hundred records.
func (m *matcher) count(some []int32, partners []int, pairs [][2]int32) rates {
	const weight = 100
	part := func(n, of int, usual float64) float64 {
		return min(max((float64(n)+weight*usual)/(float64(of)+weight), 0.002), 0.95)
	}
	noTicket := 0
	for _, i := range some {
		if partners[i] == assign.Alone {
			noTicket++
		}
	}
	noLoad, tickets := m.withoutLoad(some, partners)
	var trucks, otherTruck, products, otherProduct int
	for _, p := range pairs {
		load, deck := &m.loads.all[p[0]], &m.deck.all[p[1]]
		switch compareLabels(load.truck, deck.truck) {
		case No:
			otherTruck++
			trucks++
		case Yes:
			trucks++
		}
		switch compareLabels(load.product, deck.product) {
		case No:
			otherProduct++
			products++
		case Yes:
			products++
		}
	}
	return rates{part(noTicket, len(some), usualWithout), part(noLoad, tickets, usualWithout),
		part(otherTruck, trucks, usualWrong), part(otherProduct, products, usualWrong)}
}

// withoutLoad counts the tickets that lie between the first and the last pair of a stretch, and those among them that
// no load of the stretch has.
func (m *matcher) withoutLoad(some []int32, partners []int) (alone, all int) {
	taken := map[int]bool{}
	for _, i := range some {
		taken[partners[i]] = true
	}
	const length = learnLoads / learnStretches
	for stretch := range slices.Chunk(some, length) {
		first, last := math.MaxInt, -1
		for _, i := range stretch {
			if j := partners[i]; j != assign.Alone {
				first, last = min(first, j), max(last, j)
			}
		}
		for j := first; j <= last; j++ {
			if m.deck.all[j].void {
				continue
			}
			all++
			if !taken[j] {
				alone++
			}
		}
	}
	return alone, all
}
