package weights

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"repose/internal/screen"
	"repose/ledger"
)

// unitRatio is the logarithm of the number of short tons in a tonne, 1000/907.18474 = 1.10231 (international yard and
// pound agreement of 1959): what a figure is off by under the name of the other unit.
var unitRatio = math.Log(1000 / 907.18474)

// slipOf returns what of a ratio a wrong unit explains: the unit's ratio, its negative, or nothing.
func slipOf(x float64) float64 {
	switch {
	case x > unitRatio/2:
		return unitRatio
	case x < -unitRatio/2:
		return -unitRatio
	}
	return 0
}

// unitScatter is how many standard deviations the ratio of a pair may lie from that of the units.
const unitScatter = 4

// slipped returns 1 where the loader's figure is as many times too large for the deck's as a tonne has short tons,
// -1 where the deck's is, and 0 else.
func (p *judgedPair) slipped() int {
	s := slipOf(p.x)
	if s == 0 || math.Abs(p.x-s) > unitScatter*p.by.sd {
		return 0
	}
	return int(math.Copysign(1, s))
}

// evidence is the logarithm of how much likelier a ratio is in the other unit than in the right one.
func (p *judgedPair) evidence() float64 {
	s := slipOf(p.x)
	return (p.x*p.x - (p.x-s)*(p.x-s)) / (2 * p.by.sd * p.by.sd)
}

// unitRun is weighings of one instrument one after another that are off by the ratio of the units.
type unitRun struct {
	onDeck bool  // the instrument whose weighings follow one another is a deck scale
	sign   int   // as of judgedPair.slipped
	pairs  []int // in the instrument's order
}

const (
	leastRun = 3
	// runLevel is the probability that a clean month of weights that scatter normally has a run at all.
	runLevel = 0.001
)

// findRuns finds the runs and marks their pairs. A run of a deck scale is broken up in the order of the loaders, and the
// reverse, so the longest is taken first, and no pair belongs to two.
func (j *judged) findRuns(d *screen.Data) {
	candidates := 0
	for i := range j.pairs {
		if j.pairs[i].slipped() != 0 {
			candidates++
		}
	}
	if candidates < leastRun {
		return
	}
	var all []unitRun
	loaders, decks := j.byLoader(d), j.byDeck(d)
	for _, code := range slices.Sorted(maps.Keys(loaders)) {
		all = append(all, j.runsIn(loaders[code], unitRun{})...)
	}
	for _, code := range slices.Sorted(maps.Keys(decks)) {
		all = append(all, j.runsIn(decks[code], unitRun{onDeck: true})...)
	}
	slices.SortStableFunc(all, func(a, b unitRun) int { return cmp.Compare(len(b.pairs), len(a.pairs)) })
	for _, r := range all {
		if slices.ContainsFunc(r.pairs, func(i int) bool { return j.pairs[i].verdict == byUnit }) {
			continue
		}
		for _, i := range r.pairs {
			j.pairs[i].verdict = byUnit
		}
		j.runs = append(j.runs, r)
	}
}

// runsIn returns the runs among the pairs of one instrument that are long and plain enough.
func (j *judged) runsIn(order []int, like unitRun) []unitRun {
	var all []unitRun
	needed := math.Log(float64(len(j.pairs)) / runLevel)
	for first := 0; first < len(order); {
		sign := j.pairs[order[first]].slipped()
		if sign == 0 {
			first++
			continue
		}
		n, sum := j.runFrom(order[first:], sign)
		if n >= leastRun && sum >= needed {
			run := like
			run.sign, run.pairs = sign, order[first:first+n]
			all = append(all, run)
		}
		first += n
	}
	return all
}

// runFrom returns how many pairs from the first on are off in one way, and the evidence of all. In the midst of a run one
// may scatter more, as long as it is nearer to the wrong unit than to the right one.
func (j *judged) runFrom(order []int, sign int) (n int, evidence float64) {
	sum := 0.0
	for k, i := range order {
		p := &j.pairs[i]
		s := slipOf(p.x)
		if s*float64(sign) <= 0 || math.Abs(p.x-s) > unitRatio/2 {
			break
		}
		if sum += p.evidence(); p.slipped() == sign {
			n, evidence = k+1, sum
		}
	}
	return n, evidence
}

// slipped returns the records of both instruments of all runs.
func (j *judged) slipped(d *screen.Data) map[*ledger.Record]bool {
	all := map[*ledger.Record]bool{}
	for _, r := range j.runs {
		for _, i := range r.pairs {
			all[d.MatchLoads[j.pairs[i].Load].Rec], all[d.MatchDeck[j.pairs[i].Deck].Rec] = true, true
		}
	}
	return all
}

// byLoader returns the pairs of each loader in its order.
func (j *judged) byLoader(d *screen.Data) map[string][]int {
	orders := map[string][]int{}
	for i := range j.pairs {
		code := d.MatchLoads[j.pairs[i].Load].Fact.Loader
		orders[code] = append(orders[code], i)
	}
	return orders
}

// byDeck returns the pairs of each deck scale in its order.
func (j *judged) byDeck(d *screen.Data) map[string][]int {
	ofTicket := make([]int, len(d.MatchDeck)) // one more than the pair; 0 for none
	for i := range j.pairs {
		ofTicket[j.pairs[i].Deck] = i + 1
	}
	orders := map[string][]int{}
	for k, i := range ofTicket {
		if i > 0 {
			code := d.MatchDeck[k].Fact.Deck
			orders[code] = append(orders[code], i-1)
		}
	}
	return orders
}
