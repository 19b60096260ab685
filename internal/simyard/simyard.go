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
// A detailed yard ([Config.Detailed]) writes its records as fully as a real one: bucket passes, purposes, tares
// that are weighed at each visit, trucks of one customer each that take 3 to 15 minutes to the deck scale, some
// loads for the yard's own use that never cross it, a belt that is read off its totaliser, stone fed back to
// the crusher, toe areas and dated bases. On it single records can be at fault. For each such fault the truth
// says which records show it, under which rule of the exception register, and what it makes of each pile's
// book less survey ([Finding]).
//
// The kinds of faults, as [ParseFault] reads them, by where they happen:
//
//	pile            loss, density, survey, below-zero, stale-density, stale-moisture, stale-base,
//	                survey-while-loading, toe-jump, wet-for-dry
//	pile>pile       swap, missed-transfer, wrong-pile, wrong-product, one-sided
//	loader          loader, lumped, missing, repeated-number, out-of-order, void-after-exit, void-reissued,
//	                near-twin, no-deck-ticket, no-loader-load, bucket-pass, wrong-truck, split-load,
//	                outside-hours, night-pickup, round-weights, outage-pad
//	loader or deck  unit-slip
//	deck            old-tare, same-tare
//	belt            belt, belt-idle, feed-as-new, totaliser-reset
//
// A fault of records changes nothing but its own records, save for the numbers of later ones where it adds or
// takes a number, and later readings of a totaliser that it sets back or moves. No two faults touch one load.
//
// Chance is drawn as a real number and rounded at once to parts per billion; everything after that is whole
// grams. So the result does not depend on how a processor rounds.
package simyard

import (
	"fmt"
	"slices"
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
	// Traffic is how much stone lies and moves in per cent of the yard's usual, 10 to 100; 0 for all of it,
	// which is about 2,600 loads of 20 t in a month.
	Traffic int
	// Detailed makes the records of loads, deck tickets, belts and surveys as full as a yard's own: bucket
	// passes, tares, purposes, a way to the deck that differs from truck to truck, a totaliser, loads fed to
	// the crusher, toe areas. The stone that is sold and carried and the errors are those of the same yard
	// without them. A fault of single records turns it on.
	Detailed bool
	// DensityMonths is how many months one density test of a pile serves; 0 for a single test at the opening.
	DensityMonths int
	// KeepBook makes the yard's policy "adjust never"; without it the book always takes the survey.
	KeepBook bool
	Faults   []Fault // 40 at most
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
	cfg.Detailed = cfg.Detailed || slices.ContainsFunc(cfg.Faults, func(f Fault) bool { return f.Kind.ofRecords() })
	s := newSimulation(cfg, newCalendar(first, cfg.Months))
	s.loadTrucks()
	s.haulTransfers()
	if cfg.Detailed {
		s.detail()
	}
	s.runBelts()
	if err := s.applyFaults(); err != nil {
		return nil, err
	}
	if err := s.stockPiles(); err != nil {
		return nil, err
	}
	s.weigh()
	s.writeRecords()
	files, err := s.files()
	if err != nil {
		return nil, err
	}
	return &Yard{Files: files, Truth: s.truth()}, nil
}

// maxFaults keeps what scales read within bounds, were all faults to work on one.
const maxFaults = 40

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
	case c.Traffic != 0 && (c.Traffic < 10 || c.Traffic > 100):
		return first, fmt.Errorf("traffic of %d %%: want 10 to 100, or 0 for all of it", c.Traffic)
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

// share returns what the yard has, at its traffic, of a usual mass.
func (c Config) share(usual Grams) Grams {
	if c.Traffic == 0 {
		return usual
	}
	return Grams(mulDiv(int64(usual), int64(c.Traffic), 100))
}
