package match

import (
	"math"
	"slices"
)

// lesson is the lags and ratios that a habit is learned from.
type lesson struct {
	lags, ratios []float64
}

func (s *lesson) add(load, deck *weighing) {
	s.lags = append(s.lags, float64(deck.at-load.at))
	if load.net > 0 && deck.net > 0 {
		s.ratios = append(s.ratios, load.log-deck.log)
	}
}

// teach sets a habit's figures: medians, and 1.4826 times the median absolute deviation for a standard deviation
// (from memory). That of Student's t with 3 and 4 degrees of freedom is a little less.
func (s *lesson) teach(h *habit) {
	h.pairs = len(s.lags)
	h.lag = median(s.lags)
	var early, late []float64
	for _, x := range s.lags {
		if x <= h.lag {
			early = append(early, h.lag-x)
		}
		if x >= h.lag {
			late = append(late, x-h.lag)
		}
	}
	h.early, h.late = max(1.4826*median(early), leastSpread), max(1.4826*median(late), leastSpread)
	h.window = int64(min(max(windowSpreads*max(h.early, h.late), shortestWindow), longestWay))
	if len(s.ratios) < enoughPairs {
		return
	}
	h.bias = median(s.ratios)
	far := make([]float64, len(s.ratios))
	for i, x := range s.ratios {
		far[i] = math.Abs(x - h.bias)
	}
	h.sd = max(1.4826*median(far), leastDeviation)
}

// median sorts what it is given.
func median(x []float64) float64 {
	slices.Sort(x)
	n := len(x)
	return (x[(n-1)/2] + x[n/2]) / 2
}
