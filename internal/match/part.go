package match

import (
	"cmp"
	"math"
	"slices"
)

// weigh finds the odds that a candidate belongs to a host.
func (g *grouping) weigh(host *weighing, p *part) {
	other := &g.parts.all[p.index]
	h, o := g.habit(host, other), &g.m.odds
	beyond := float64(other.at-host.at) - h.lag
	if !g.ofLoads() {
		beyond = float64(host.at-other.at) - h.lag
	}
	p.label, p.rare = compareLabels(host.truck, other.truck), other.truckRarity
	p.odds = -other.rate - g.partAlone
	if g.ofLoads() {
		p.odds += g.whileFilling(h, host, beyond)
		// A loader record of several trucks names one product, whatever each of them took.
		o = &odds{sameProduct: math.Log(1 - mixedShare), otherProduct: math.Log(mixedShare)}
	} else {
		wide := habit{early: h.early + groupSlack, late: h.late + groupSlack}
		p.odds += wide.logLag(beyond)
		p.odds += o.truck(host.truck, other.truck, other.truckRarity) // every part is of the host's truck
	}
	p.odds += o.product(host.product, other.product, other.productRarity)
}

// whileFilling is the logarithm of the density of the lags of a merged record's trucks, d seconds from the usual lag.
// They were filled since the loader's record before, if the record is dated by its last truck, or until the next one, if
// by its first, and their lags spread about that as others do. Where tasks interleave, records of other trucks lie
// between.
func (g *grouping) whileFilling(h *habit, host *weighing, d float64) float64 {
	before, after := g.m.idle(host)
	return math.Log((1-betweenShare)/2*(evenLag(h, d, -before, 0)+evenLag(h, d, 0, after)) +
		betweenShare*evenLag(h, d, -betweenReach, betweenReach))
}

// evenLag is a density that is even between two lags and falls off outside as Student's t with 3 degrees of freedom.
func evenLag(h *habit, d, from, to float64) float64 {
	z := max((from-d)/h.early, (d-to)/h.late, 0)
	fall := 1 + z*z/3
	return 1 / ((to - from + tailArea*(h.early+h.late)) * fall * fall)
}

// tailArea is the area of one tail of evenLag for a scale of one: pi sqrt(3) / 4.
const tailArea = 1.36035

// The part of the trucks on merged records that were filled with records of other trucks between, and the time to
// each side in which that is, in s. Common practice, no source.
const (
	betweenShare = 0.3
	betweenReach = 25 * 60
)

// idle returns how long before and after a load, in s, its loader has no other kept record: groupReach at most.
func (m *matcher) idle(load *weighing) (before, after float64) {
	lane := m.loads.lanes[load.scale]
	at, _ := slices.BinarySearchFunc(lane, load.at, func(i int32, at int64) int { return cmp.Compare(m.loads.all[i].at, at) })
	before, after = groupReach, groupReach
	for k := at - 1; k >= 0; k-- {
		if m.loads.kept(lane[k]) {
			before = min(before, float64(load.at-m.loads.all[lane[k]].at))
			break
		}
	}
	for k := at; k < len(lane); k++ {
		if next := &m.loads.all[lane[k]]; m.loads.kept(lane[k]) && next.at > load.at {
			after = min(after, float64(next.at-load.at))
			break
		}
	}
	return before, after
}
