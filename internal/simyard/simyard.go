// Package simyard invents a quarry yard of any length with a seed: what its piles truly hold, what every
// instrument, test and survey gets wrong, and the faults that were asked for. It writes the tables that such
// a yard would send, so that what a reader of them concludes can be held to the truth.
//
// The yard is the one on which the statistics were worked out: six piles, monthly surveys, two belts, two
// loaders, two transfer routes and seasonal sales. Its errors are drawn source by source as the error model
// has them, each with the uncertainty that the records state, times [Config.Scale]. One source is one draw: a
// density test is wrong by the same fraction in every survey that uses it, a scale in every load of one
// calibration, a moisture in everything weighed at that pile.
//
// The book begins on the day before the first month: with a stated opening stock, and with a survey on the
// same evening. So the first month, as every other, lies between two surveys. All times are UTC.
//
// The stone that truly moves does not depend on the errors, and each error has a stream of chance of its own.
// So a fault leaves the rest of the yard as it was.
//
// Chance is drawn as a real number and rounded at once to parts per billion; everything after that is whole
// grams. So the result does not depend on how a processor rounds.
package simyard

import (
	"fmt"
	"time"
)

// Config says which yard to invent. [Default] returns one that can be used as it is.
type Config struct {
	Seed   uint64
	Start  string // first month, such as "2026-01"; the opening survey is on the evening before it
	Months int    // 1 to 120
	// Scale is what the true errors are in units of the stated ones: 1 where every uncertainty is stated
	// rightly, 0 for a yard that measures without error. 0 to 3.
	Scale float64
	// LoadT is the mass of a truckload in t as weighed, 5 to 500. Larger loads are fewer: the records then
	// hold fewer weighings, each as uncertain as before.
	LoadT int
	// DensityMonths is how many months one density test of a pile serves; 0 for a single test at the opening.
	DensityMonths int
	// KeepBook makes the yard's policy "adjust never"; without it the book always takes the survey.
	KeepBook bool
	Faults   []Fault // 20 at most
}

// Default returns the yard of the given seed over twelve months, with its errors as stated and no fault.
func Default(seed uint64) Config {
	return Config{Seed: seed, Start: "2026-01", Months: 12, Scale: 1, LoadT: 20}
}

// Yard is an invented yard.
type Yard struct {
	Files []File
	Truth Truth
}

// File is one table as it would arrive.
type File struct {
	Name    string // such as loads.csv; the part before the point names its table
	Content []byte
}

// Generate invents a yard. The same configuration gives the same bytes.
func Generate(cfg Config) (*Yard, error) {
	first, err := cfg.check()
	if err != nil {
		return nil, err
	}
	s := newSimulation(cfg, newCalendar(first, cfg.Months))
	s.loadTrucks()
	s.haulTransfers()
	if err := s.applyFaults(); err != nil {
		return nil, err
	}
	if err := s.stockPiles(); err != nil {
		return nil, err
	}
	s.weigh()
	s.numberTickets()
	files, err := s.files()
	if err != nil {
		return nil, err
	}
	return &Yard{Files: files, Truth: s.truth()}, nil
}

// maxFaults keeps what scales read within bounds, were all faults to work on one.
const maxFaults = 20

// check returns the first day of the first month.
func (c Config) check() (first time.Time, err error) {
	first, err = time.Parse(periodLayout, c.Start)
	switch {
	case err != nil || first.Year() < 1950 || first.Year() > 2150:
		return first, fmt.Errorf("start %q: want a month from 1950-01 to 2150-12, such as 2026-01", c.Start)
	case c.Months < 1 || c.Months > 120:
		return first, fmt.Errorf("months %d: want 1 to 120", c.Months)
	case !(c.Scale >= 0 && c.Scale <= 3):
		return first, fmt.Errorf("scale %v: want 0 to 3", c.Scale)
	case c.LoadT < 5 || c.LoadT > 500:
		return first, fmt.Errorf("load of %d t: want 5 to 500 t", c.LoadT)
	case c.DensityMonths < 0:
		return first, fmt.Errorf("density test every %d months: want 0 for a single one, or more", c.DensityMonths)
	}
	if len(c.Faults) > maxFaults {
		return first, fmt.Errorf("%d faults: want %d at most", len(c.Faults), maxFaults)
	}
	for _, f := range c.Faults {
		if err := f.check(); err != nil {
			return first, fmt.Errorf("fault %q: %w", f, err)
		}
		if last := f.Month + max(f.Months, 1) - 1; last > c.Months {
			return first, fmt.Errorf("fault %q: month %d: want one of the yard's %d months", f, last, c.Months)
		}
	}
	return first, nil
}
