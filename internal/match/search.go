package match

import (
	"math"
	"slices"
)

// search tries the sets of parts whose masses add up to the host's. Sets are cut off as soon as the lightest part that
// is left would make them too heavy.
type search struct {
	g     *grouping
	index int32
	host  *weighing
	habit *habit
	parts []part  // the partner first if there is one, then by mass
	fixed int     // 1 if the partner must be in the set
	least float64 // what a group must be worth more than
	found []group // the likeliest, at most mostGroups, the best first

	chosen    []int
	low, high float64 // of the sum, t
}

// run leaves what it finds in found, the likeliest set first.
func (s *search) run() {
	mass, t := math.Exp(s.host.log), min(s.habit.tolerance(), math.Log(mostOver))
	s.low, s.high = mass*math.Exp(-t), mass*math.Exp(t)
	if s.fixed == 1 {
		s.chosen = append(s.chosen, 0)
		s.extend(1, s.parts[0].mass, s.parts[0].odds)
	} else {
		s.extend(0, 0, 0)
	}
	s.compare()
}

// compare finds by how much each set is likelier than any other of the host.
func (s *search) compare() {
	for k := range s.found {
		other := 0
		if k == 0 {
			other = 1
		}
		s.found[k].margin = s.found[k].weight
		if other < len(s.found) {
			s.found[k].margin -= s.found[other].weight
		}
	}
}

// extend adds parts from one on to those chosen, whose masses and odds sum to so much.
func (s *search) extend(from int, mass, odds float64) {
	if len(s.chosen) >= 2 && mass >= s.low {
		s.judge(mass, odds)
	}
	if len(s.chosen) == s.g.most {
		return
	}
	for k := from; k < len(s.parts); k++ {
		p := &s.parts[k]
		if mass+p.mass > s.high {
			return // and so are all heavier ones
		}
		s.chosen = append(s.chosen, k)
		s.extend(k+1, mass+p.mass, odds+p.odds)
		s.chosen = s.chosen[:len(s.chosen)-1]
	}
}

// mostGroups is how many sets are remembered for a host: it may have to leave its best to another.
const mostGroups = 12

// judge keeps the set if it is one of the likeliest.
func (s *search) judge(mass, odds float64) {
	difference := s.host.log - math.Log(mass)
	count := len(s.chosen)
	w := odds + s.g.share + math.Log(partShares[count]) + logFactorial(count) - s.g.m.odds.claim +
		s.habit.mass(difference) - s.host.chance + s.truck() - s.least
	at := len(s.found)
	for at > 0 && s.found[at-1].weight < w {
		at--
	}
	if w <= 0 || at == mostGroups {
		return
	}
	x := group{host: s.index, weight: w, z: difference / s.habit.sd}
	for _, k := range s.chosen {
		x.parts = append(x.parts, s.parts[k].index)
	}
	slices.Sort(x.parts)
	if len(s.found) == mostGroups {
		s.found = s.found[:mostGroups-1]
	}
	s.found = slices.Insert(s.found, at, x)
}

// truck is what the label of a loader record says of the several trucks on it: it is one of theirs.
func (s *search) truck() float64 {
	if !s.g.ofLoads() {
		return 0 // counted part by part
	}
	o, unknown := &s.g.m.odds, false
	for _, k := range s.chosen {
		switch s.parts[k].label {
		case Yes:
			return o.sameTruck + s.parts[k].rare - math.Log(float64(len(s.chosen)))
		case Unknown:
			unknown = true
		}
	}
	if unknown {
		return 0
	}
	return o.otherTruck
}

// logFactorial is the logarithm of the number of orders of n things.
func logFactorial(n int) float64 {
	v, _ := math.Lgamma(float64(n + 1))
	return v
}
