package match

import "repose/internal/assign"

// weightUnit is how fine weights are compared: a millionth of a unit of the logarithm.
const weightUnit = 1e6

// edges returns the pairs of some loads, in order of time, with tickets of the lanes that are worth more than two
// records alone.
func (m *matcher) edges(some []int32, lanes [][]int32) []assign.Edge {
	edges := make([]assign.Edge, 0, 4*len(some))
	lows := make([][]int, len(m.habits)) // the first ticket in the window, by loader and deck
	for l := range lows {
		lows[l] = make([]int, len(lanes))
	}
	for _, i := range some {
		load := &m.loads.all[i]
		for d, lane := range lanes {
			h := m.habits[load.scale][d]
			low := &lows[load.scale][d]
			for *low < len(lane) && m.deck.all[lane[*low]].at < load.at+h.firstLag {
				*low++
			}
			for _, j := range lane[*low:] {
				w, ok := h.weight(&m.odds, load, &m.deck.all[j])
				if !ok {
					break
				}
				if w > 0 {
					edges = append(edges, assign.Edge{Left: i, Right: j, Weight: int64(w * weightUnit)})
				}
			}
		}
	}
	return edges
}

// solve returns the partner of each load.
func (m *matcher) solve(edges []assign.Edge) []int {
	partners, err := assign.Solve(len(m.loads.all), len(m.deck.all), edges)
	if err != nil {
		panic(err) // edges only name records that are there, and no weight comes near the bound
	}
	return partners
}
