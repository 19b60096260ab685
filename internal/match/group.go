package match

import (
	"cmp"
	"math"
	"slices"

	"repose/ledger"
)

// A record may hold what several records of the other side hold: a loader record several trucks, or a truck several
// loader records. The one is called the host, the others its parts.
const (
	mostTrucks = 6       // on one loader record
	mostLoads  = 3       // in one truck
	mostParts  = 14      // candidates that are tried for a host, the nearest in time
	groupSlack = 10 * 60 // s by which the lags of a split truck's loads spread more: they come one after another
	mostOver   = 1.2     // the sum of parts over their host, at most
	groupReach = 60 * 60 // s from the usual lag
)

// How often it happens, as fractions of the records. Common practice, no source.
const (
	mergedShare = 0.01
	splitShare  = 0.002
	mixedShare  = 0.3 // of the trucks on a merged record, those of another product
)

// partShares is how many parts there are then. Common practice, no source.
var partShares = [...]float64{2: 0.5, 3: 0.25, 4: 0.15, 5: 0.06, 6: 0.04}

// group is a host with parts. Weight is the logarithm of the odds against what it was before.
type group struct {
	host   int32
	parts  []int32
	weight float64
	margin float64 // by how much the weight exceeds that of the host's likeliest other group, or of none
	z      float64
}

// part is a candidate: its mass on the host's scale in t, and the logarithm of the odds that it belongs to the host.
type part struct {
	index int32
	mass  float64
	odds  float64
	label Tri // whether its truck is the host's
	rare  float64
	far   float64 // s from the usual lag
}

// grouping looks for hosts on one side. Partner is of the hosts' side, and free says which of the other side are
// without partner.
type grouping struct {
	m            *matcher
	hosts, parts *side
	partner      []int32
	free         []bool
	most         int
	share        float64 // logarithm of the part of hosts, less that of hosts that are alone
	partAlone    float64 // logarithm of the part of the other side that is alone
}

// merged and split make the two directions of one search.
func (m *matcher) merged(partner []int32, free []bool) *grouping {
	return &grouping{m, m.loads, m.deck, partner, free, mostTrucks, math.Log(mergedShare) - m.odds.noTicket, m.odds.noLoad}
}

func (m *matcher) split(partner []int32, free []bool) *grouping {
	return &grouping{m, m.deck, m.loads, partner, free, mostLoads, math.Log(splitShare) - m.odds.noLoad, m.odds.noTicket}
}

// ofLoads reports whether the hosts are loads.
func (g *grouping) ofLoads() bool { return g.hosts == g.m.loads }

// find returns the groups, in order of host: those that are together the likeliest.
func (g *grouping) find() []group {
	lanes := g.parts.lanesOf(func(j int32) bool { return g.parts.kept(j) && g.free[j] })
	var offers [][]group
	for i := range g.hosts.all {
		if g.hosts.kept(int32(i)) && g.mayHost(int32(i)) {
			if found := g.offers(int32(i), lanes); len(found) > 0 {
				offers = append(offers, found)
			}
		}
	}
	return choose(offers)
}

// mayHost reports whether a record is alone, or weighs more than its partner does. One that is in a group already is neither.
func (g *grouping) mayHost(i int32) bool {
	host, p := &g.hosts.all[i], g.partner[i]
	if host.net <= 0 || p == grouped {
		return false
	}
	if p == alone {
		return true
	}
	h, other := g.habit(host, &g.parts.all[p]), &g.parts.all[p]
	return other.net > 0 && host.log-other.log-g.bias(h) > max(h.tolerance(), 0.05)
}

// bias is what a host's logarithm exceeds a part's by if they weigh the same.
func (g *grouping) bias(h *habit) float64 {
	if g.ofLoads() {
		return h.bias
	}
	return -h.bias
}

func (g *grouping) habit(host, part *weighing) *habit {
	if g.ofLoads() {
		return g.m.habits[host.scale][part.scale]
	}
	return g.m.habits[part.scale][host.scale]
}

// offers returns the likeliest groups of a host, the best first. Their weight is what they are worth more than the pair
// that the host is in.
func (g *grouping) offers(i int32, lanes [][]int32) []group {
	s := search{g: g, index: i, host: &g.hosts.all[i]}
	if own := g.partner[i]; own >= 0 {
		other := &g.parts.all[own]
		p := part{index: own, mass: math.Exp(other.log + g.bias(g.habit(s.host, other)))}
		g.weigh(s.host, &p)
		s.parts, s.fixed = append(s.parts, p), 1
		s.least = g.pairWeight(i, own)
	}
	s.parts = append(s.parts, g.near(s.host, s.parts, lanes)...)
	if len(s.parts) < 2 {
		return nil
	}
	s.habit = g.habit(s.host, &g.parts.all[s.parts[0].index])
	s.run()
	return s.found
}

// pairWeight is what a host and its partner are worth now.
func (g *grouping) pairWeight(host, part int32) float64 {
	if !g.ofLoads() {
		host, part = part, host
	}
	load, deck := &g.m.loads.all[host], &g.m.deck.all[part]
	w, _ := g.m.habits[load.scale][deck.scale].weight(&g.m.odds, load, deck)
	return w
}

// near returns the free candidates about a host that are light enough to share it with the given one, or with another
// where there is none; those with less mass first.
func (g *grouping) near(host *weighing, given []part, lanes [][]int32) []part {
	var near []part
	for _, lane := range lanes {
		near = g.nearIn(near, host, lane)
	}
	other := math.Inf(1)
	for _, p := range slices.Concat(near, given) {
		other = min(other, p.mass)
	}
	if len(given) > 0 {
		other = given[0].mass
	}
	most := math.Exp(host.log) * mostOver
	near = slices.DeleteFunc(near, func(p part) bool { return p.mass+other > most })
	if len(near) > mostParts {
		slices.SortStableFunc(near, func(a, b part) int { return cmp.Compare(a.far, b.far) })
		near = near[:mostParts]
	}
	slices.SortStableFunc(near, func(a, b part) int { return cmp.Compare(a.mass, b.mass) })
	for k := range near {
		g.weigh(host, &near[k])
	}
	return near
}

// nearIn adds the candidates of one scale.
func (g *grouping) nearIn(near []part, host *weighing, lane []int32) []part {
	if len(lane) == 0 {
		return near
	}
	h := g.habit(host, &g.parts.all[lane[0]])
	scale, sign := math.Exp(g.bias(h)), int64(1)
	if !g.ofLoads() {
		sign = -1
	}
	usual := host.at + sign*int64(h.lag)
	first, _ := slices.BinarySearchFunc(lane, usual-groupReach, func(j int32, at int64) int {
		return cmp.Compare(g.parts.all[j].at, at)
	})
	for _, j := range lane[first:] {
		other := &g.parts.all[j]
		if other.at > usual+groupReach {
			break
		}
		if other.net > 0 && other.net <= 2*host.net {
			near = append(near, part{index: j, mass: float64(other.net) / float64(ledger.Tonne) * scale,
				far: math.Abs(float64(other.at - usual))})
		}
	}
	return near
}
