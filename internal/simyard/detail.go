package simyard

import (
	"fmt"
	"slices"
	"time"
)

// What trucks are like in a detailed yard: what they weigh empty, how far that differs from one visit to the
// next, and how long they are away before they come again.
const (
	leastTare   = 11_000 * kilogram
	tareRange   = 4_000 * kilogram
	tareScatter = 60 * kilogram
	leastAway   = time.Hour
)

// passT is about what a loader's bucket holds: loads of 20 to 22 t are four of 5.0 to 5.5 t.
const passT = 5_300 * kilogram

// ownUse is how many loads in a hundred of the piles of fill and scalpings the yard uses itself.
const ownUse = 5

// ownTrucks are the yard's own, which no customer has.
const ownTrucks = 2

// attended is when trucks are loaded in a detailed yard: the last of a day crosses the deck before closing.
var attended = shift{openHour*time.Hour + 5*time.Minute, closeHour*time.Hour - 25*time.Minute}

// detail makes of the loads what a detailed yard has of them. What stone they are stays as it was.
func (s *simulation) detail() {
	s.scatterTimes()
	s.useStone()
	s.sendTrucks()
	s.feedCrusher()
}

// scatterTimes has trucks come unevenly, in the same order.
func (s *simulation) scatterTimes() {
	d := newDice(s.cfg.Seed, momentStream)
	for first := 0; first < len(s.loads); {
		n := s.sameSeries(first)
		days := s.cal.workdays(s.loads[first].month)
		for i := range n {
			e := PPB(d.r.Int64N(billion*8/10+1) - billion*4/10) // of the time between two, so that none overtakes
			s.loads[first+i].at = attended.slot(days, i, n, e)
		}
		first += n
	}
}

// sameSeries returns how many loads from one on are of its month and its loader.
func (s *simulation) sameSeries(first int) int {
	n := 1
	for first+n < len(s.loads) && s.neighbours(first, first+n) {
		n++
	}
	return n
}

// neighbours reports whether two loads are of one month and loader.
func (s *simulation) neighbours(a, b int) bool {
	return a >= 0 && b >= 0 && a < len(s.loads) && b < len(s.loads) &&
		s.loads[a].month == s.loads[b].month && s.loads[a].loader == s.loads[b].loader
}

// useStone has the yard take some loads for its own roads.
func (s *simulation) useStone() {
	d := newDice(s.cfg.Seed, purposeStream)
	for i := range s.loads {
		l := &s.loads[i]
		l.internal = d.r.IntN(100) < ownUse && (l.pile == pileE || l.pile == pileF)
	}
}

// sendTrucks has trucks come for the loads, each for a customer of its own, and go over the deck scale.
func (s *simulation) sendTrucks() {
	trucks, lags, tares := newDice(s.cfg.Seed, truckStream), newDice(s.cfg.Seed, lagStream), newDice(s.cfg.Seed, tareStream)
	var empty [truckCount]Grams
	for i := range empty {
		empty[i] = leastTare + Grams(tares.r.Int64N(int64(tareRange)))
	}
	var last [truckCount]time.Time
	for _, l := range s.inTime() {
		truck := trucks.r.IntN(truckCount)
		for k := 0; k < truckCount && l.at.Sub(last[truck]) < leastAway; k++ {
			truck = (truck + 1) % truckCount
		}
		lag := 180 + lags.r.IntN(361) + lags.r.IntN(361) // seconds: 3 to 15 min
		scatter := Grams(float64(tareScatter) * tares.r.NormFloat64())
		if l.internal {
			l.truck = truckCount + truck%ownTrucks
			continue
		}
		last[truck] = l.at
		l.truck, l.customer = truck, truck%customerCount
		l.lag = time.Duration(lag) * time.Second
		l.tare = (empty[truck] + scatter).inSteps(scales[deckScale].step)
	}
}

// inTime returns the loads in order of time.
func (s *simulation) inTime() []*load {
	all := make([]*load, len(s.loads))
	for i := range s.loads {
		all[i] = &s.loads[i]
	}
	slices.SortStableFunc(all, func(a, b *load) int { return a.at.Compare(b.at) })
	return all
}

// truckName returns the name of a truck or of one of the yard's own.
func truckName(i int) string {
	if i >= truckCount {
		return fmt.Sprintf("Y-%d", 1+i-truckCount)
	}
	return truckCode(i)
}

// passes returns in how many buckets a loader loads a mass.
func passes(net Grams) int { return max(int(mulDiv(int64(net), 1, int64(passT))), 1) }
