package match

import "time"

// What is taken where the records do not say. Common practice, no source.
const (
	usualLag       = 5 * 60 // s
	usualSpread    = 5 * 60 // s, where not even the usual lag is known
	startSpread    = 3 * 60 // s, about a lag that was found
	usualDeviation = 0.03   // of weights, where nothing is known of them
	leastSpread    = 30     // s: stamps are often whole minutes
	leastDeviation = 0.003  // of weights: a display has steps
	longestWay     = 60 * 60
	shortestWindow = 20 * 60
	windowSpreads  = 15

	usualWithout = 0.03 // of the records, without partner
	usualWrong   = 0.01 // of the pairs, with labels that differ
)

// enoughPairs is how many pairs a loader and a deck scale need to have figures of their own.
const enoughPairs = 20

// Learning looks at this many loads at most, in stretches spread evenly over the time.
const (
	learnLoads     = 6000
	learnStretches = 12
	learnRounds    = 2
)

// matcher holds what is known of a yard's records.
type matcher struct {
	loads, deck *side
	settings    Settings
	habits      [][]*habit // by loader and deck
	rates       rates
	odds        odds
}

func newMatcher(in Input) *matcher {
	m := &matcher{settings: in.Settings}
	m.loads, m.deck = readSides(in)
	m.setRates(rates{usualWithout, usualWithout, usualWrong, usualWrong})
	some := m.sample()
	m.start(some)
	for range learnRounds {
		m.learn(some)
	}
	return m
}

func (m *matcher) setRates(r rates) { m.rates, m.odds = r, r.odds() }

func (s *side) kept(i int32) bool { return !s.all[i].void }

// sample returns the kept loads to learn from, in order.
func (m *matcher) sample() []int32 {
	var all []int32
	for i := range m.loads.all {
		if m.loads.kept(int32(i)) {
			all = append(all, int32(i))
		}
	}
	if len(all) <= learnLoads {
		return all
	}
	var some []int32
	const length = learnLoads / learnStretches
	for k := range learnStretches {
		first := k * (len(all) - length) / (learnStretches - 1)
		some = append(some, all[first:first+length]...)
	}
	return some
}

// start takes habits from where lags and ratios heap up.
func (m *matcher) start(some []int32) {
	lanes := m.deck.lanesOf(m.deck.kept)
	bySome := make([][]int32, len(m.loads.scales))
	for _, i := range some {
		l := m.loads.all[i].scale
		bySome[l] = append(bySome[l], i)
	}
	whole := new(votes)
	own := make([][]votes, len(bySome))
	for l, list := range bySome {
		own[l] = make([]votes, len(lanes))
		for d, lane := range lanes {
			own[l][d].count(m.loads, m.deck, list, lane)
			whole.add(&own[l][d])
		}
	}
	common := habit{lag: usualLag, early: usualSpread, late: usualSpread, sd: usualDeviation, window: longestWay}
	if lag, bias, ok := whole.heap(); ok {
		common.lag, common.bias, common.early, common.late = lag, bias, startSpread, startSpread
	}
	m.habits = make([][]*habit, len(bySome))
	for l := range bySome {
		for d := range lanes {
			h := common
			if lag, bias, ok := own[l][d].heap(); ok {
				h.lag, h.bias, h.early, h.late = lag, bias, startSpread, startSpread
			}
			m.habits[l] = append(m.habits[l], &h)
		}
	}
	m.finish()
}

// finish applies the settings and makes the tables.
func (m *matcher) finish() {
	for _, row := range m.habits {
		for _, h := range row {
			if m.settings.Window > 0 {
				h.window = max(int64(m.settings.Window/time.Second), lagStep)
			}
			if m.settings.Tolerance > 0 {
				h.sd = m.settings.Tolerance / 3
			}
			h.tabulate()
		}
	}
}
