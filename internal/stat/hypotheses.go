package stat

import (
	"cmp"
	"maps"
	"slices"
)

// Hypotheses returns what could explain the residuals of these observations: a loss of each pile in each
// balance and from each balance on; the same swapped between each two piles; each scale reading high from
// each period on; each survey wrong once; and each pile's density wrong from each survey on.
func (o *Observations) Hypotheses(p Priors) *Hypotheses {
	periods := o.periods()
	b := &hypothesisBuilder{o: o, p: p, periods: periods, piles: o.pileHistories(periods), set: &Hypotheses{signatures: make([]signature, 1)}}
	b.addLosses()
	b.addSwaps()
	b.addRoutes()
	b.addScales()
	b.addDensities()
	b.addSurveys()
	b.order()
	return b.set
}

type hypothesisBuilder struct {
	o       *Observations
	p       Priors
	set     *Hypotheses
	piles   []pileHistory
	periods []int
}

// pileHistory is the balances of one pile in order.
type pileHistory struct {
	pile        int
	rows        []int
	monthlyOut  float64 // t; what came in where nothing went out
	pulse, step []int   // signatures of a loss in each balance, and from each balance on
	covering    []int   // by period: the place in rows of the balance that covers it, or None
}

// periods returns the ordinals of the periods in which balances close, ascending.
func (o *Observations) periods() []int {
	var periods []int
	for _, b := range o.Balances {
		if n := len(periods); n == 0 || periods[n-1] != b.Period {
			periods = append(periods, b.Period)
		}
	}
	return periods
}

// pileHistories returns the history of each pile, in order of the piles' numbers.
func (o *Observations) pileHistories(periods []int) []pileHistory {
	byPile := map[int]*pileHistory{}
	months, in, out := map[int]float64{}, map[int]float64{}, map[int]float64{}
	for r, b := range o.Balances {
		if byPile[b.Pile] == nil {
			byPile[b.Pile] = &pileHistory{pile: b.Pile}
		}
		byPile[b.Pile].rows = append(byPile[b.Pile].rows, r)
		months[b.Pile] += b.row().length()
		for _, f := range b.Flows {
			in[b.Pile] += max(0, f.Mass)
			out[b.Pile] += max(0, -f.Mass)
		}
	}
	histories := make([]pileHistory, 0, len(byPile))
	for _, pile := range slices.Sorted(maps.Keys(byPile)) {
		h := *byPile[pile]
		h.monthlyOut = cmp.Or(out[pile], in[pile]) / max(months[pile], 1)
		for _, period := range periods {
			h.covering = append(h.covering, slices.IndexFunc(h.rows, func(r int) bool {
				return o.Balances[r].From < period && period <= o.Balances[r].Period
			}))
		}
		histories = append(histories, h)
	}
	return histories
}

// signature keeps a signature of rows in ascending order, of which there is at least one, and returns its place.
func (b *hypothesisBuilder) signature(rest int, own ...Element) int {
	first := own[0].Row
	if rest > 0 {
		first = min(first, b.set.signatures[rest].first)
	}
	b.set.signatures = append(b.set.signatures, signature{rest, own, first})
	return len(b.set.signatures) - 1
}

// group starts a group with a weight within its class and returns its place.
func (b *hypothesisBuilder) group(class Class, weight float64) int {
	b.set.groups = append(b.set.groups, group{class, weight})
	return len(b.set.groups) - 1
}

func (b *hypothesisBuilder) addLosses() {
	for i := range b.piles {
		h := &b.piles[i]
		g := b.group(ClassLoss, 1)
		hyp := Hypothesis{Cause: Cause{ClassLoss, h.pile, None, None}, OneSided: true, Tau: b.p.Loss * h.monthlyOut}
		h.pulse, h.step = make([]int, len(h.rows)), make([]int, len(h.rows))
		onward := 0
		for k, r := range slices.Backward(h.rows) {
			h.pulse[k] = b.signature(0, Element{r, 1})
			onward = b.signature(onward, Element{r, b.o.Balances[r].row().length()})
			h.step[k] = onward
			hyp.Onset, hyp.Shape = b.o.Balances[r].onset(), Pulse
			b.add(entry{hyp, g, h.pulse[k], 0})
			if k < len(h.rows)-1 { // a step in the last balance is a pulse
				hyp.Shape = Step
				b.add(entry{hyp, g, h.step[k], 0})
			}
		}
	}
}

// addSwaps pairs the balances of two piles that cover the same period.
func (b *hypothesisBuilder) addSwaps() {
	for i := range b.piles {
		for j := i + 1; j < len(b.piles); j++ {
			x, y := &b.piles[i], &b.piles[j]
			g := b.group(ClassSwap, 1)
			hyp := Hypothesis{Cause: Cause{ClassSwap, x.pile, y.pile, None}, Tau: b.p.Swap * min(x.monthlyOut, y.monthlyOut)}
			lastK, lastL := None, None
			for t, period := range b.periods {
				k, l := x.covering[t], y.covering[t]
				if k == None || l == None || k == lastK && l == lastL {
					continue
				}
				lastK, lastL = k, l
				hyp.Onset, hyp.Shape = period, Pulse
				b.add(entry{hyp, g, x.pulse[k], y.pulse[l]})
				if k < len(x.rows)-1 || l < len(y.rows)-1 {
					hyp.Shape = Step
					b.add(entry{hyp, g, x.step[k], y.step[l]})
				}
			}
		}
	}
}

// addRoutes adds missed transfers of the usual size, and shares the swaps' weight between declared routes and
// all pairs of piles.
func (b *hypothesisBuilder) addRoutes() {
	var pairs, routes []int // groups
	for i, g := range b.set.groups {
		if g.class == ClassSwap {
			pairs = append(pairs, i)
		}
	}
	for _, r := range b.p.Routes {
		from := slices.IndexFunc(b.piles, func(h pileHistory) bool { return h.pile == r.From })
		to := slices.IndexFunc(b.piles, func(h pileHistory) bool { return h.pile == r.To })
		if from < 0 || to < 0 {
			continue // not surveyed in these periods
		}
		g := b.group(ClassSwap, 1)
		routes = append(routes, g)
		hyp := Hypothesis{Cause: Cause{ClassSwap, r.From, r.To, None}, Shape: Pulse, OneSided: true, Mean: r.Mass, Tau: routeSpread * r.Mass}
		for t, period := range b.periods {
			k, l := b.piles[from].covering[t], b.piles[to].covering[t]
			if k == None || l == None {
				continue
			}
			hyp.Onset = period
			b.add(entry{hyp, g, b.piles[from].pulse[k], b.piles[to].pulse[l]})
		}
	}
	if len(routes) == 0 {
		return
	}
	for _, g := range pairs {
		b.set.groups[g].weight = (1 - b.p.RouteShare) / float64(len(pairs))
	}
	for _, g := range routes {
		b.set.groups[g].weight = b.p.RouteShare / float64(len(routes))
	}
}

// add puts a hypothesis into the set.
func (b *hypothesisBuilder) add(e entry) { b.set.entries = append(b.set.entries, e) }

// order sorts the hypotheses by the row where they start, so that those known at a period come first, and
// turns the weights of groups within their class into weights among all.
func (b *hypothesisBuilder) order() {
	byRow := make([][]entry, len(b.o.Balances))
	for _, e := range b.set.entries {
		row := b.set.start(e)
		byRow[row] = append(byRow[row], e)
		b.set.first = append(b.set.first, row)
	}
	slices.Sort(b.set.first)
	b.set.entries = slices.Concat(byRow...)
	var total PerClass
	for _, g := range b.set.groups {
		total[g.class] += g.weight
	}
	for i, g := range b.set.groups {
		b.set.groups[i].weight *= b.p.Classes[g.class] / total[g.class]
	}
}
