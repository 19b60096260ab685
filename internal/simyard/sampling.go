package simyard

import "time"

// test is a test of a pile's moisture, or of its density.
type test struct {
	taken    time.Time
	moisture millionths // as entered
	dropped  bool       // it was never taken
	by       faulted    // what made it another one than it should be
}

// faulted names a fault by its place in the configuration, counted from 1, and one of its months; zero for no
// fault.
type faulted struct{ fault, month int }

// flight is the survey of one pile at the end of a month.
type flight struct {
	start, end time.Time
	base       string
	toe        PPB // by which the toe area differs from that of other piles of the volume
}

// takeTests has every test taken that the yard should have.
func (s *simulation) takeTests() {
	for i := range piles {
		for month := range s.months {
			s.moistures[i] = append(s.moistures[i], test{taken: s.cal.sampled(month), moisture: s.tested(i, month)})
		}
		for n := range s.errors.density[i] {
			s.densities[i] = append(s.densities[i], test{taken: s.densityTaken(n)})
		}
	}
}

// inForce returns which of a pile's tests is the last at an instant. The first stands for what is before it.
func inForce(tests []test, at time.Time) int {
	last := 0
	for n, t := range tests {
		if !t.dropped && !t.taken.After(at) && (tests[last].dropped || !t.taken.Before(tests[last].taken)) {
			last = n
		}
	}
	return last
}

// moistureInForce returns the moisture at which the records of a month are entered.
func (s *simulation) moistureInForce(pile, month int) millionths {
	return s.moistures[pile][inForce(s.moistures[pile], s.cal.sampled(month))].moisture
}

// densityInForce returns the density test, counted from 0, by which the survey of a month is reckoned.
func (s *simulation) densityInForce(pile, month int) int {
	_, end := s.cal.flown(month)
	return inForce(s.densities[pile], end)
}

// neglect leaves tests untaken, so that at an instant the last one is as old as an age or older. Where the
// book has none that old, the oldest that is left out was taken so long ago.
// It returns false where the last test is as old already.
func neglect(tests []test, at time.Time, age time.Duration, by faulted) bool {
	from := at.Add(-age)
	oldest, older := -1, false
	for n, t := range tests {
		switch {
		case t.dropped || t.taken.After(at):
		case t.taken.After(from):
			tests[n].dropped, tests[n].by = true, by
			if oldest < 0 {
				oldest = n
			}
		default:
			older = true
		}
	}
	if oldest >= 0 && !older {
		tests[oldest].taken, tests[oldest].dropped = from, false
	}
	return oldest >= 0
}

// The surfaces that surveys take volumes from.
const (
	plainBase = "ground"
	baseDay   = "ground 2006-01-02" // with the day it was measured
)

// planFlights has every pile surveyed at the end of every month, from a base that was measured anew when the
// book began and in every half year since.
func (s *simulation) planFlights() {
	d := newDice(s.cfg.Seed, toeStream)
	for month := range s.months {
		for i := range piles {
			start, end := s.cal.flown(month)
			f := flight{start: start, end: end, base: plainBase, toe: d.normal(toeScatter)}
			if s.cfg.Detailed {
				f.base = s.baseOf(month, 0)
			}
			s.flights[i] = append(s.flights[i], f)
		}
	}
}

// baseMonths is how long a base serves.
const baseMonths = 6

// baseOf returns the name of the base in use at the survey of a month, or of one that was measured so many
// days before the survey.
func (s *simulation) baseOf(month, days int) string {
	day := s.cal.lastDay(month / baseMonths * baseMonths)
	if days > 0 {
		day = s.cal.lastDay(month).AddDate(0, 0, -days)
	}
	return day.Format(baseDay)
}

// toeScatter is by how much piles of one volume differ in the area they stand on.
const toeScatter = 2 * percent

// coneTan is the tangent of the angle at which stone comes to rest, about 37 degrees: common practice, no
// source.
const coneTan = 0.7536
