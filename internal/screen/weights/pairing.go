package weights

import (
	"math"
	"slices"

	"repose/internal/match"
	"repose/internal/screen"
	"repose/internal/stat"
	"repose/ledger"
)

// pairKey names a loader and a deck scale.
type pairKey struct{ loader, deck string }

// pairing is what matched pairs show of a loader and a deck scale. Ratios are natural logarithms of loader over deck.
type pairing struct {
	pairKey
	learned match.Learned
	bias    float64 // median ratio
	sd      float64 // robust standard deviation of a ratio
	limit   float64 // distance from bias that chance leaves
	ratios  []float64
}

// expected returns what the loader would show of a truck that the deck scale weighed, in whole kg.
func (p *pairing) expected(deck ledger.Mass) ledger.Mass {
	return wholeKilograms(float64(deck) * math.Exp(p.bias))
}

// fewPairs is how many pairs a loader and a deck scale need for figures of their own; below, those that the matching
// took are taken.
const fewPairs = 20

// learn finds the usual ratio and its scatter. Ratios that a wrong unit explains are brought back first, so that a month of
// which most is in the wrong unit has the same figures as one without. The scatter is 1.4826 times the median absolute
// deviation (from memory).
func (p *pairing) learn() {
	p.bias, p.sd = math.Log1p(p.learned.Bias), p.learned.SD
	if len(p.ratios) < fewPairs {
		return
	}
	slices.Sort(p.ratios)
	crowd := densest(p.ratios)
	right := crowd - p.slipOfMost(crowd)
	near := make([]float64, 0, len(p.ratios))
	for _, x := range p.ratios {
		if x -= slipOf(x - right); math.Abs(x-right) <= unitRatio/2 {
			near = append(near, x)
		}
	}
	p.bias = stat.Median(near)
	for i, x := range near {
		near[i] = math.Abs(x - p.bias)
	}
	p.sd = max(1.4826*stat.Median(near), leastDeviation)
}

const (
	// crowdShare is the part of the ratios whose shortest interval says where most lie.
	crowdShare = 0.3
	// slipShare is the part of the ratios that makes a second crowd.
	slipShare = 0.1
	// mostBias is how far from one the ratio of a loader may be before all of it is taken for a wrong unit.
	mostBias = 0.03
)

// densest returns the middle of the shortest interval that holds a part of sorted values.
func densest(x []float64) float64 {
	n := int(crowdShare * float64(len(x)))
	best := 0
	for i := range len(x) - n {
		if x[i+n]-x[i] < x[best+n]-x[best] {
			best = i
		}
	}
	return (x[best] + x[best+n]) / 2
}

// slipOfMost returns what of the ratio of the largest crowd a wrong unit explains: where there is a second crowd a unit
// away and nearer to one, or where the crowd is hardly a unit away from one.
func (p *pairing) slipOfMost(crowd float64) float64 {
	slip := slipOf(crowd)
	if slip == 0 && math.Abs(crowd) > mostBias {
		slip = math.Copysign(unitRatio, crowd)
	}
	second := 0
	for _, x := range p.ratios {
		if math.Abs(x-crowd+slip) <= unitRatio/2 {
			second++
		}
	}
	switch {
	case slip == 0 || math.Abs(crowd-slip) > math.Abs(crowd):
		return 0
	case float64(second) >= slipShare*float64(len(p.ratios)) || math.Abs(crowd-slip) <= mostBias:
		return slip
	}
	return 0
}

// leastDeviation is the smallest standard deviation of ratios that is believed: figures that agree to the last
// division come from one instrument.
const leastDeviation = 0.001

// setLimit sets the distance from the bias that one of n pairs passes with probability level. Tails are Student's t: a
// median absolute deviation is worth 37 % of its values (from memory).
func (p *pairing) setLimit(level float64, n int) {
	df := max(0.37*float64(len(p.ratios)-1), 3)
	p.limit = p.sd * stat.TQuantile(1-stat.Sidak(level, n)/2, df)
}

// ratio returns the logarithm of loader over deck; ok is false where either shows nothing.
func ratio(load, deck ledger.Mass) (x float64, ok bool) {
	if load <= 0 || deck <= 0 {
		return 0, false
	}
	return math.Log(float64(load) / float64(deck)), true
}

// pairings are those of the matching, by loader and deck scale.
func pairings(d *screen.Data) map[pairKey]*pairing {
	all := map[pairKey]*pairing{}
	for _, l := range d.Match.Learned {
		k := pairKey{l.Loader, l.Deck}
		all[k] = &pairing{pairKey: k, learned: l}
	}
	return all
}

// wholeKilograms rounds a number of grams half away from zero to a mass of whole kilograms.
func wholeKilograms(grams float64) ledger.Mass {
	return ledger.Mass(math.Round(grams/float64(ledger.Kilogram))) * ledger.Kilogram
}
