package simyard

import "time"

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
	internal    bool          // the yard uses it itself: no customer, and no way over the deck
	lag         time.Duration // from the loader to the deck scale
	tare        Grams         // of the truck on this visit
	fate        fate
	atFault     bool // a fault concerns it, and no second one may
	mishap      mishap
	records     []record // that the loader has of it
	slip        Grams    // what records that count state beyond what the loader showed, wet
	ticket      string   // of the first of them, or the number that is missing
	deckTicket  string   // empty where the deck scale has none
}

// fate is what became of a load's record.
type fate uint8

const (
	written  fate = iota
	missed        // it has a ticket number and is not in the tables
	absorbed      // it is on the record of a later load
	unseen        // it has no record and no number
	voided        // its record is there and counts for nothing
)

// counted reports whether a record has a load leave a pile.
func (f fate) counted() bool { return f == written || f == absorbed }

// haul is one load from a pile to another.
type haul struct {
	at          time.Time
	month       int
	route       int
	solids, wet Grams
	shown       Grams
	missed      bool // nobody recorded it
	oneSided    bool // its record does not say where it went
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
				solids := p.soldBy(l, s.cfg.share(sold(i, s.cal.season(t))))
				for _, part := range solids.split(d.weights(s.trucks(solids, i, t)), 1) {
					month = append(month, load{month: t, loader: l, pile: i, recorded: i,
						solids: part, wet: part.wet(s.months[t].moisture[i])})
				}
			}
			d.r.Shuffle(len(month), func(i, j int) { month[i], month[j] = month[j], month[i] })
			for i := range month {
				month[i].at = slot(days, i, len(month))
				month[i].lag = toDeck
				month[i].customer = d.r.IntN(customerCount)
			}
			s.loads = append(s.loads, month...)
		}
	}
	for i, l := range s.inTime() {
		l.truck = i % truckCount
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
			solids := s.cfg.share(r.carried(t))
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
	feeding := newDice(s.cfg.Seed, feedStream)
	for i := range s.feeds {
		f := &s.feeds[i]
		f.shown = s.weighed(feeding, loaderScale(feedLoader), f.month, f.wet)
	}
}

// weighed returns what a scale shows for one load.
func (s *simulation) weighed(d dice, scale, month int, wet Grams) Grams {
	in := scales[scale]
	e := d.normal(in.random.times(s.cfg.Scale))
	return s.reading(scale, month, wet).with(e).inSteps(in.step)
}
