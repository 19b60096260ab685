package simyard

import (
	"fmt"
	"time"
)

// visits are the loads of a truck in a month, in order of time.
type visits struct {
	truck int
	loads []int
}

// visitsOf returns the trucks that come often enough in a month for their tares to be compared, and whose
// loads no fault has touched.
func (s *simulation) visitsOf(month, least int, span time.Duration) []visits {
	var by [truckCount][]int
	touched := [truckCount]bool{}
	for _, k := range s.weighedOn(deckScale, month) {
		truck := s.loads[k].truck
		by[truck] = append(by[truck], k)
		touched[truck] = touched[truck] || s.loads[k].atFault
	}
	var all []visits
	for truck, loads := range by {
		if touched[truck] || len(loads) < least || s.loads[loads[len(loads)-1]].at.Sub(s.loads[loads[0]].at) < span {
			continue
		}
		all = append(all, visits{truck, loads})
	}
	return all
}

// storeTares has the deck take tares that are stored instead of weighed: for a truck that of its first visit,
// or one and the same for several trucks.
func (s *simulation) storeTares(f Fault, d dice, e *effect) error {
	all := s.visitsOf(e.month, 5, 14*oneDay)
	if f.Kind == SameTare {
		all = s.visitsOf(e.month, 2, 0)
	}
	n := f.count()
	if n > len(all) {
		return fmt.Errorf("%d trucks come often enough and are free for it: want no more", len(all))
	}
	var together item
	var tare Grams
	for i, k := range d.some(n, len(all)) {
		v := all[k]
		if i == 0 || f.Kind == OldTare {
			tare = s.loads[v.loads[0]].tare
		}
		for _, k := range v.loads {
			s.loads[k].mishap, s.loads[k].atFault = mishap{kind: f.Kind, tare: tare}, true
		}
		e.loads = append(e.loads, v.loads...)
		together.loads = append(together.loads, v.loads...)
		if f.Kind == OldTare {
			e.items = append(e.items, item{loads: v.loads})
		}
	}
	if f.Kind == SameTare {
		e.items = append(e.items, together)
	}
	return nil
}
