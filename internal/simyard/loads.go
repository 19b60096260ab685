package simyard

import (
	"fmt"
	"slices"
	"time"
)

// load is one truckload out of a pile.
type load struct {
	at          time.Time
	month       int
	loader      int
	pile        int   // that it truly left
	recorded    int   // that the loader's record names
	solids, wet Grams // truly
	shown       Grams // by the loader, wet
	weighed     Grams // by the deck scale, wet
	truck       int
	customer    int
	fate        fate
	atFault     bool   // a fault concerns it, and no second one may
	ticket      string // empty for one that has no record of its own
	deckTicket  string
}

// fate is what became of a load's record.
type fate uint8

const (
	written  fate = iota
	missed        // it has a ticket number and is not in the tables
	absorbed      // it is on the record of a later load
)

// haul is one load from a pile to another.
type haul struct {
	at          time.Time
	month       int
	route       int
	solids, wet Grams
	shown       Grams
	missed      bool // nobody recorded it
	ticket      string
}

// loadTrucks sells what the season asks for, truck by truck. The loaders work evenly through the staffed
// hours of a month, from one pile to another as trucks come.
func (s *simulation) loadTrucks() {
	d := newDice(s.cfg.Seed, trafficStream)
	for t := 1; t <= s.cfg.Months; t++ {
		days := s.cal.workdays(t)
		for l := range loaderCount {
			var month []load
			for i, p := range piles {
				solids := p.soldBy(l, sold(i, s.cal.season(t)))
				for _, part := range solids.split(d.weights(s.trucks(solids, i, t)), 1) {
					month = append(month, load{month: t, loader: l, pile: i, recorded: i,
						solids: part, wet: part.wet(s.months[t].moisture[i])})
				}
			}
			d.r.Shuffle(len(month), func(i, j int) { month[i], month[j] = month[j], month[i] })
			for i := range month {
				month[i].at = slot(days, i, len(month))
				month[i].customer = d.r.IntN(customerCount)
			}
			s.loads = append(s.loads, month...)
		}
	}
}

// trucks returns how many loads of the usual size solids of a pile make.
func (s *simulation) trucks(solids Grams, pile, month int) int {
	wet := solids.wet(s.months[month].moisture[pile])
	return max(int(mulDiv(int64(wet), 1, int64(s.cfg.LoadT)*int64(tonne))), 1)
}

// haulTransfers carries what goes from pile to pile.
func (s *simulation) haulTransfers() {
	d := newDice(s.cfg.Seed, routeStream)
	for t := 1; t <= s.cfg.Months; t++ {
		days := s.cal.workdays(t)
		for i, r := range routes {
			solids := r.carried(t)
			if solids == 0 {
				continue
			}
			parts := solids.split(d.weights(s.trucks(solids, r.from, t)), 1)
			for k, part := range parts {
				s.hauls = append(s.hauls, haul{at: slot(days, k, len(parts)), month: t, route: i,
					solids: part, wet: part.wet(s.months[t].moisture[r.from])})
			}
		}
	}
}

// weigh lets the scales weigh every load. What no record holds is weighed as well, so that a fault does not
// move the errors of other loads.
func (s *simulation) weigh() {
	loader, deck, hauling := newDice(s.cfg.Seed, weighingStream), newDice(s.cfg.Seed, deckStream), newDice(s.cfg.Seed, haulingStream)
	for i := range s.loads {
		l := &s.loads[i]
		l.shown = s.weighed(loader, loaderScale(l.loader), l.month, l.wet)
		l.weighed = s.weighed(deck, deckScale, l.month, l.wet)
	}
	for i := range s.hauls {
		h := &s.hauls[i]
		h.shown = s.weighed(hauling, loaderScale(routes[h.route].loader), h.month, h.wet)
	}
}

// weighed returns what a scale shows for one load.
func (s *simulation) weighed(d dice, scale, month int, wet Grams) Grams {
	in := scales[scale]
	e := d.normal(in.random.times(s.cfg.Scale))
	return s.reading(scale, month, wet).with(e).inSteps(in.step)
}

// numberTickets gives every record its number, in order of time: of each loader's loads, of each loader's
// transfers, and of the deck scale, which weighs every truck that a loader has loaded. A load on another's
// record has no number of its own.
func (s *simulation) numberTickets() {
	var loads, hauls [loaderCount]int
	s.byTime = make([]*load, len(s.loads))
	for i := range s.loads {
		l := &s.loads[i]
		s.byTime[i] = l
		if l.fate != absorbed {
			loads[l.loader]++
			l.ticket = fmt.Sprintf("%s-%06d", scales[loaderScale(l.loader)].code, loads[l.loader])
		}
	}
	slices.SortStableFunc(s.byTime, func(a, b *load) int { return a.at.Compare(b.at) })
	for i, l := range s.byTime {
		l.truck = i % truckCount
		l.deckTicket = fmt.Sprintf("W%06d", i+1)
	}
	for i := range s.hauls {
		if h := &s.hauls[i]; !h.missed {
			loader := routes[h.route].loader
			hauls[loader]++
			h.ticket = fmt.Sprintf("%s-T%05d", scales[loaderScale(loader)].code, hauls[loader])
		}
	}
}
