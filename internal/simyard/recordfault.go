package simyard

import (
	"fmt"
	"slices"
	"time"
)

// applyToRecords lets single records go wrong.
func (s *simulation) applyToRecords(f Fault, d dice, by faulted, e *effect) error {
	switch f.Kind {
	case UnitSlip, RoundWeights, OutagePad:
		return s.spoilRow(f, d, e)
	case OldTare, SameTare:
		return s.storeTares(f, d, e)
	case OutsideHours, NightPickup:
		return s.loadLate(f, d, e)
	case SurveyWhileLoading:
		return s.flyEarly(f, e)
	case OneSided:
		return s.forgetPile(f, d, e)
	case BeltIdle, FeedAsNew, TotaliserReset:
		return s.applyToRuns(f, d, e)
	case StaleDensity, StaleMoisture, StaleBase, ToeJump, WetForDry:
		return s.applyToTests(f, by, e)
	}
	return s.spoilLoads(f, d, e)
}

// spoilLoads lets something go wrong with single loads, here and there in the month, no two of them one after
// another.
func (s *simulation) spoilLoads(f Fault, d dice, e *effect) error {
	all := s.loadsOf(e.month, func(l load) bool {
		if f.Instrument != "" {
			return l.loader == loaderOf(f.Instrument)
		}
		return l.pile == pileOf(f.Pile)
	})
	d.r.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	for _, k := range all {
		if len(e.loads) == f.count() {
			break
		}
		if together := s.with(f.Kind, k); together != nil && s.spoilLoad(f, k, d) {
			for _, j := range together {
				s.loads[j].atFault = true
			}
			e.loads = append(e.loads, k)
		}
	}
	if len(e.loads) < f.count() {
		return fmt.Errorf("%d loads are free for it: want no more", len(e.loads))
	}
	slices.Sort(e.loads)
	for _, k := range e.loads {
		e.items = append(e.items, item{loads: s.with(f.Kind, k)})
	}
	return nil
}

// with returns a load with the neighbour that it needs for some kinds of fault, nil where one of them is not
// free or not there. A load that is at fault itself is with the same neighbour.
func (s *simulation) with(kind FaultKind, k int) []int {
	together := []int{k}
	switch kind {
	case RepeatedNumber:
		together = []int{k - 1, k}
	case OutOfOrder:
		together = []int{k, k + 1}
	}
	for _, j := range together {
		if s.loads[k].mishap.kind != kind && s.loads[k].fate == written && (!s.neighbours(k, j) || !s.free(j)) {
			return nil
		}
	}
	return together
}

// spoilLoad lets something go wrong with a load, if it can with this one.
func (s *simulation) spoilLoad(f Fault, k int, d dice) bool {
	l := &s.loads[k]
	m := mishap{kind: f.Kind, sign: f.sign()}
	switch f.Kind {
	case VoidAfterExit:
		l.fate = voided
	case NoLoaderLoad:
		l.fate = unseen
	case VoidReissued, NearTwin, SplitLoad:
		if m.after = s.gapAfter(k) / 2; m.after < 20*time.Second {
			return false
		}
		m.after = min(m.after, 150*time.Second).Truncate(time.Second)
	case BucketPass:
		m.e = d.normal(4 * percent)
	case WrongPile:
		l.recorded = pileOf(f.Other)
	case WrongProduct:
		m.other = pileOf(f.Other)
	case WrongTruck:
		m.other = s.idleTruck(l.at, d)
	}
	l.mishap = m
	return true
}

// gapAfter returns the time from a load to its loader's next, an hour after the last of a month.
func (s *simulation) gapAfter(k int) time.Duration {
	if !s.neighbours(k, k+1) {
		return time.Hour
	}
	return s.loads[k+1].at.Sub(s.loads[k].at)
}

// idleTruck returns a truck that is not loaded for three hours before and after an instant.
func (s *simulation) idleTruck(at time.Time, d dice) int {
	var busy [truckCount]bool
	for _, l := range s.loads {
		if !l.internal && l.at.Sub(at).Abs() < 3*time.Hour {
			busy[l.truck] = true
		}
	}
	truck := d.r.IntN(truckCount)
	for k := 0; k < truckCount && busy[truck]; k++ {
		truck = (truck + 1) % truckCount
	}
	return truck
}

// spoilRow lets something go wrong with as many records of a scale as are wanted, one after another.
func (s *simulation) spoilRow(f Fault, d dice, e *effect) error {
	scale, n := scaleOf(f.Instrument), f.count()
	order := s.weighedOn(scale, e.month)
	var starts []int
	for i := 0; i+n <= len(order); i++ {
		row := order[i : i+n]
		fits := s.loads[row[0]].at.YearDay() == s.loads[row[n-1]].at.YearDay() || f.Kind != OutagePad
		for _, k := range row {
			fits = fits && !s.loads[k].atFault
		}
		if fits {
			starts = append(starts, i)
		}
	}
	if len(starts) == 0 {
		return fmt.Errorf("%s has no %d records in a row that are free for it: want fewer", f.Instrument, n)
	}
	i := starts[d.r.IntN(len(starts))]
	e.loads = order[i : i+n]
	m := mishap{kind: f.Kind, scale: scale, sign: f.sign()}
	for _, k := range e.loads {
		s.loads[k].mishap, s.loads[k].atFault = m, true
	}
	slices.Sort(e.loads)
	e.items = append(e.items, item{loads: e.loads})
	return nil
}

// weighedOn returns the loads of a month that a loader or the deck weighs, in order of its time.
func (s *simulation) weighedOn(scale, month int) []int {
	var all []int
	for k, l := range s.loads {
		if l.month == month && l.fate == written && (loaderScale(l.loader) == scale || scale == deckScale && l.crosses()) {
			all = append(all, k)
		}
	}
	if scale == deckScale {
		slices.SortStableFunc(all, func(a, b int) int {
			x, y := &s.loads[a], &s.loads[b]
			return x.at.Add(x.lag).Compare(y.at.Add(y.lag))
		})
	}
	return all
}

// loadLate has customers come after closing, or late in the evening: those that are the last of their day.
func (s *simulation) loadLate(f Fault, d dice, e *effect) error {
	last := map[string]int{} // of a day, over all loaders
	for k, l := range s.loads {
		day := l.at.Format(toDay)
		if j, ok := last[day]; l.month == e.month && (!ok || l.at.After(s.loads[j].at)) {
			last[day] = k
		}
	}
	var all []int
	for k, l := range s.loads {
		day := l.at.Format(toDay)
		if j, ok := last[day]; ok && j == k && l.loader == loaderOf(f.Instrument) && s.free(k) && day != s.cal.lastDay(e.month).Format(toDay) {
			all = append(all, k)
		}
	}
	n := f.count()
	if n > len(all) {
		return fmt.Errorf("loader %s ends %d days that are free for it: want no more", f.Instrument, len(all))
	}
	for _, i := range d.some(n, len(all)) {
		l := &s.loads[all[i]]
		start := clock(l.at.Truncate(oneDay), closeHour, 40)
		if f.Kind == NightPickup {
			start = clock(l.at.Truncate(oneDay), 22, 10)
		}
		l.at = start.Add(time.Duration(d.r.IntN(3_600)) * time.Second)
		l.mishap.kind, l.atFault = f.Kind, true
		e.loads = append(e.loads, all[i])
		e.items = append(e.items, item{loads: []int{all[i]}})
	}
	return nil
}
