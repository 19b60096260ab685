package simyard

import (
	"fmt"
	"slices"
	"strings"
)

// effect is what a fault did in one month.
type effect struct {
	month  int
	solids Grams // of a fault in tonnes or in tickets, as much as it came to in whole loads
	loads  []int // into simulation.loads, in order
	hauls  []int // into simulation.hauls
	items  []item
}

// item is what one exception of the register should speak of.
type item struct {
	loads, hauls []int
	ids          []string // of other records
	solids       Grams    // beside that of loads and hauls
	shares       []share  // of differences, beside those that follow from loads and hauls
}

// share is what a fault makes of the difference of one pile in one month: book less survey.
type share struct {
	pile, month int
	missing     Grams
}

// applyFaults lets go wrong what the configuration asks for. What a scale, a density or a survey reads wrongly
// is seen to where they are read.
func (s *simulation) applyFaults() error {
	for i, f := range s.cfg.Faults {
		d := newDice(s.cfg.Seed, faultStream+uint64(i))
		for t := 1; t <= s.cfg.Months; t++ {
			if !f.lasts(t) {
				continue
			}
			e, err := s.apply(f, t, d, faulted{i + 1, t})
			if err != nil {
				return fmt.Errorf("fault %q: month %d: %w", f, t, err)
			}
			s.effects[i] = append(s.effects[i], e)
		}
	}
	return nil
}

func (s *simulation) apply(f Fault, month int, d dice, by faulted) (e effect, err error) {
	e.month = month
	switch f.Kind {
	case Loss:
		e.solids = f.mass()
		s.months[month].lost[pileOf(f.Pile)] += e.solids
	case Swap:
		err = s.swap(f, d, &e)
	case MissedTransfer:
		err = s.missTransfer(f, &e)
	case Lumped:
		err = s.lump(f, d, &e)
	case Missing:
		err = s.dropTickets(f, d, &e)
	default:
		if f.Kind.ofRecords() {
			err = s.applyToRecords(f, d, by, &e)
		}
	}
	return e, err
}

// swap has loads recorded from another pile than they left: one after another, from a load drawn at random.
func (s *simulation) swap(f Fault, d dice, e *effect) error {
	from, to := pileOf(f.Pile), pileOf(f.Other)
	all := s.loadsOf(e.month, func(l load) bool { return l.pile == from })
	if len(all) > 0 {
		first := d.r.IntN(len(all))
		all = slices.Concat(all[first:], all[:first])
	}
	n, sum := nearest(f.mass(), len(all), func(k int) Grams { return s.loads[all[k]].solids })
	if short(f.mass(), sum, s.cfg.LoadT) {
		return fmt.Errorf("%d t of loads from pile %s are free for it: want no more", sum/tonne, f.Pile)
	}
	e.loads, e.solids = all[:n], sum
	for _, k := range e.loads {
		s.loads[k].recorded, s.loads[k].atFault = to, true
	}
	return nil
}

// missTransfer leaves transfers unrecorded, from the first of the month on.
func (s *simulation) missTransfer(f Fault, e *effect) error {
	var all []int
	var names []string
	known := false
	for i, r := range routes {
		names = append(names, piles[r.from].code+">"+piles[r.to].code)
		if r.from != pileOf(f.Pile) || r.to != pileOf(f.Other) {
			continue
		}
		known = true
		for k, h := range s.hauls {
			if h.route == i && h.month == e.month && !h.missed && !h.oneSided {
				all = append(all, k)
			}
		}
	}
	if !known {
		return fmt.Errorf("nothing is carried from %s to %s: want one of %s", f.Pile, f.Other, strings.Join(names, ", "))
	}
	n, sum := nearest(f.mass(), len(all), func(k int) Grams { return s.hauls[all[k]].solids })
	if short(f.mass(), sum, s.cfg.LoadT) {
		return fmt.Errorf("%d t are carried from %s to %s: want no more", sum/tonne, f.Pile, f.Other)
	}
	e.hauls, e.solids = all[:n], sum
	for _, k := range e.hauls {
		s.hauls[k].missed = true
	}
	return nil
}

// lump has a loader write one record for several trucks that it loaded one after another from one pile.
func (s *simulation) lump(f Fault, d dice, e *effect) error {
	size := int(f.Size)
	all := s.loadsOf(e.month, func(l load) bool { return l.loader == loaderOf(f.Instrument) })
	var starts []int
	for k := range all {
		if k+size > len(all) {
			break
		}
		run := all[k : k+size]
		first, last := s.loads[run[0]], s.loads[run[size-1]]
		same := run[size-1]-run[0] == size-1 && first.at.YearDay() == last.at.YearDay()
		for _, j := range run {
			same = same && s.loads[j].pile == first.pile
		}
		if same {
			starts = append(starts, k)
		}
	}
	if len(starts) == 0 {
		return fmt.Errorf("loader %s has no %d loads in a row from one pile: want fewer, or smaller loads", f.Instrument, size)
	}
	k := starts[d.r.IntN(len(starts))]
	e.loads = all[k : k+size]
	for i, j := range e.loads {
		l := &s.loads[j]
		l.atFault = true
		if i < size-1 {
			l.fate = absorbed
		}
		e.solids += l.solids
	}
	return nil
}

// dropTickets takes tickets out of the tables, here and there in the month.
func (s *simulation) dropTickets(f Fault, d dice, e *effect) error {
	all := s.loadsOf(e.month, func(l load) bool { return l.loader == loaderOf(f.Instrument) })
	if s.cfg.Detailed { // nobody misses the number after the last
		all = slices.DeleteFunc(all, func(k int) bool { return !s.neighbours(k, k+1) })
	}
	n := int(f.Size)
	if n > len(all) {
		return fmt.Errorf("loader %s has %d tickets free for it: want no more", f.Instrument, len(all))
	}
	for _, i := range d.some(n, len(all)) {
		l := &s.loads[all[i]]
		l.fate, l.atFault = missed, true
		e.loads = append(e.loads, all[i])
		e.solids += l.solids
	}
	return nil
}

func loaderOf(code string) int { return scaleOf(code) - beltCount }

// loadsOf returns the loads of a month that no fault has touched and that are wanted.
func (s *simulation) loadsOf(month int, wanted func(load) bool) []int {
	var all []int
	for k, l := range s.loads {
		if l.month == month && s.free(k) && wanted(l) {
			all = append(all, k)
		}
	}
	return all
}

// free reports whether a load is to be had for a fault: no fault has touched it, nor, in a detailed yard, its
// loader's loads before and after it, and it has a customer.
func (s *simulation) free(k int) bool {
	if s.loads[k].atFault || s.loads[k].internal {
		return false
	}
	apart := func(other int) bool { return !s.neighbours(k, other) || !s.loads[other].atFault }
	return !s.cfg.Detailed || apart(k-1) && apart(k+1)
}

// nearest returns how many of n masses, from the first on, come nearest to a mass, and their sum.
func nearest(mass Grams, n int, at func(int) Grams) (count int, sum Grams) {
	for count < n && 2*(mass-sum) > at(count) {
		sum += at(count)
		count++
	}
	return count, sum
}

// short reports whether whole loads fell short of a mass by more than they must.
func short(mass, sum Grams, loadT int) bool { return mass-sum > Grams(loadT)*tonne }
