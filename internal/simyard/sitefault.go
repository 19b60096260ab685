package simyard

import (
	"fmt"
	"slices"
	"time"
)

// forgetPile leaves the pile that transfers came to out of their records, here and there in the month.
func (s *simulation) forgetPile(f Fault, d dice, e *effect) error {
	var all []int
	for k, h := range s.hauls {
		r := routes[h.route]
		if h.month == e.month && r.from == pileOf(f.Pile) && r.to == pileOf(f.Other) && !h.missed && !h.oneSided {
			all = append(all, k)
		}
	}
	n := f.count()
	if n > len(all) {
		return fmt.Errorf("%d loads are carried from %s to %s: want no more", len(all), f.Pile, f.Other)
	}
	for _, i := range d.some(n, len(all)) {
		s.hauls[all[i]].oneSided = true
		e.hauls = append(e.hauls, all[i])
		e.items = append(e.items, item{hauls: []int{all[i]}})
	}
	return nil
}

// applyToRuns lets the records of a belt go wrong.
func (s *simulation) applyToRuns(f Fault, d dice, e *effect) error {
	belt := scaleOf(f.Instrument)
	switch f.Kind {
	case BeltIdle:
		return s.runIdly(f, belt, d, e)
	case TotaliserReset:
		return s.resetTotaliser(f, belt, d, e)
	}
	for k := range s.runs {
		r := &s.runs[k]
		if r.month != e.month || r.pile != feedPile || piles[r.pile].belt != belt || r.atFault || !sameDay(r.at, s.cal.feedDay(e.month)) {
			continue
		}
		r.at, r.atFault = clock(s.cal.feedDay(e.month), closeHour-1, 15), true
		it := item{ids: []string{runID(*r)}}
		for _, fed := range s.feeds {
			if fed.month == e.month {
				it.ids = append(it.ids, feedID(fed))
				it.solids += fed.solids
			}
		}
		e.items = append(e.items, it)
		return nil
	}
	return fmt.Errorf("belt %s makes no pile that is fed: want %s", f.Instrument, scales[piles[feedPile].belt].code)
}

// runIdly has a belt count in the night before a working day, with nothing on it.
func (s *simulation) runIdly(f Fault, belt int, d dice, e *effect) error {
	days := s.cal.workdays(e.month)
	at := clock(days[d.r.IntN(len(days))], 2, 0)
	for slices.ContainsFunc(s.runs, func(r run) bool { return r.at.Equal(at) && piles[r.pile].belt == belt }) {
		at = at.Add(10 * time.Minute) // of another such fault
	}
	var served []int
	for i, p := range piles {
		if p.belt == belt {
			served = append(served, i)
		}
	}
	pile := served[d.r.IntN(len(served))]
	net := f.mass().wet(s.months[e.month].moisture[pile]).inSteps(scales[belt].step)
	r := run{at: at, month: e.month, pile: pile, net: net, idle: true, atFault: true}
	s.runs = append(s.runs, r)
	solids := net.dry(s.months[e.month].moisture[pile])
	e.items = append(e.items, item{ids: []string{runID(r)}, solids: solids, shares: []share{{pile, e.month, solids}}})
	return nil
}

// resetTotaliser sets the totaliser to zero before the first run of some days, so that it always falls.
func (s *simulation) resetTotaliser(f Fault, belt int, d dice, e *effect) error {
	if belt != readBelt {
		return fmt.Errorf("belt %s has no totaliser that is read: want %s", f.Instrument, scales[readBelt].code)
	}
	var all []int
	for k, r := range s.runs {
		if r.month == e.month && r.pile == firstRead && !r.atFault && !r.idle && r.at.Day() > 2 {
			all = append(all, k)
		}
	}
	n := f.count()
	if n > len(all) {
		return fmt.Errorf("belt %s has %d runs free for it: want no more", f.Instrument, len(all))
	}
	for _, i := range d.some(n, len(all)) {
		r := &s.runs[all[i]]
		r.reset, r.atFault = true, true
		solids := r.net.dry(s.months[e.month].moisture[r.pile])
		e.items = append(e.items, item{ids: []string{runID(*r)}, solids: solids, shares: []share{{r.pile, e.month, -solids}}})
	}
	return nil
}

func sameDay(a, b time.Time) bool { return a.Format(toDay) == b.Format(toDay) }

// flyEarly has the survey that ends a month begin before the last loads of the pile are gone.
func (s *simulation) flyEarly(f Fault, e *effect) error {
	pile := pileOf(f.Pile)
	var all []int
	for k, l := range s.loads {
		if l.pile == pile && l.fate == written && sameDay(l.at, s.cal.lastDay(e.month)) {
			all = append(all, k)
		}
	}
	n := f.count()
	if n > len(all) {
		return fmt.Errorf("%d loads leave pile %s on the day of its survey: want no more", len(all), f.Pile)
	}
	slices.SortFunc(all, func(a, b int) int { return s.loads[a].at.Compare(s.loads[b].at) })
	e.loads = all[len(all)-n:]
	for _, k := range e.loads {
		if s.loads[k].atFault {
			return fmt.Errorf("the last %d loads of pile %s on the day of its survey are not free for it: want another pile", n, f.Pile)
		}
	}
	for _, k := range e.loads {
		s.loads[k].atFault = true
	}
	s.flights[pile][e.month].start = s.loads[e.loads[0]].at.Truncate(time.Minute)
	slices.Sort(e.loads)
	e.items = append(e.items, item{loads: e.loads, ids: []string{surveyID(e.month, f.Pile)}})
	return nil
}

const oneDay = 24 * time.Hour

// applyToTests lets a test or a survey of a pile go wrong.
func (s *simulation) applyToTests(f Fault, by faulted, e *effect) error {
	pile, old := pileOf(f.Pile), time.Duration(f.count())*oneDay
	ids := []string{surveyID(e.month, f.Pile)}
	_, flown := s.cal.flown(e.month)
	switch f.Kind {
	case StaleBase:
		s.flights[pile][e.month].base = s.baseOf(e.month, f.count())
	case ToeJump:
		toe := &s.flights[pile][e.month].toe
		*toe = PPB(mulDiv(billion+int64(*toe), billion+int64(f.excess()), billion)) - billion
	case StaleDensity:
		if !neglect(s.densities[pile], flown, old, by) {
			return fmt.Errorf("the density of %s is as old already: want more days", f.Pile)
		}
		n := s.densityInForce(pile, e.month)
		ids = append(ids, testID("density", f.Pile, s.densities[pile][n].taken))
	case StaleMoisture:
		if !neglect(s.moistures[pile], s.cal.start(e.month+1), old, by) {
			return fmt.Errorf("the moisture of %s is as old already: want more days", f.Pile)
		}
		n := inForce(s.moistures[pile], s.cal.sampled(e.month))
		ids = []string{testID("moisture", f.Pile, s.moistures[pile][n].taken)}
	case WetForDry:
		m := &s.moistures[pile][e.month]
		if m.dropped || m.by != (faulted{}) {
			return fmt.Errorf("the moisture of %s is another fault's: want another pile", f.Pile)
		}
		m.by = by
		m.moisture = millionths(mulDiv(int64(m.moisture), million, million+int64(m.moisture)))
		ids = []string{testID("moisture", f.Pile, m.taken)}
	}
	e.items = append(e.items, item{ids: ids})
	return nil
}
