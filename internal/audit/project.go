package audit

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"repose/ledger"
)

// Projection is what the errors found in a sample mean for the population that it was drawn from.
type Projection struct {
	Method   Method
	Interval ledger.Mass // of mass units
	Findings []Finding   // one for each drawn item, in the order of the sample

	Known ledger.Mass // the sum of the errors found
	Error ledger.Mass // the sum of what they project to
	// Unreached is the part of the population in strata of which no item was drawn: nothing is projected to it.
	Unreached Total
}

// Finding is a drawn item with what the auditor found.
type Finding struct {
	Selected
	Audited   ledger.Mass
	Error     ledger.Mass // booked less audited; positive where the book holds too much
	Projected ledger.Mass // what the error stands for in the population, half-even to the gram
}

// Project carries the errors of a sample to the population. audited holds the mass that was found for each drawn item;
// an item that is missing there is refused, because leaving out what could not be found is how a sample is made to look
// well, and so is one that was not drawn.
//
// Of random and stratified samples, errors are projected by ratio: each is multiplied by the mass of its population, or its
// stratum, over the mass that was drawn of it. Of mass units, an item of an interval or more stands for itself; the error
// of a smaller one is to its mass as what it projects is to the interval (tainting).
func (s *Sample) Project(audited map[string]ledger.Mass) (*Projection, error) {
	p := &Projection{Method: s.Method, Interval: s.Interval}
	for _, d := range s.Selected {
		found, ok := audited[d.ID]
		if !ok || found < 0 {
			return nil, fmt.Errorf("item %q: want the mass that was found, zero or more", d.ID)
		}
		f := Finding{Selected: d, Audited: found, Error: d.Mass - found}
		var err error
		if f.Projected, err = s.project(f); err != nil {
			return nil, fmt.Errorf("item %q: %w", d.ID, err)
		}
		if p.Known, err = p.Known.Add(f.Error); err != nil {
			return nil, err
		}
		if p.Error, err = p.Error.Add(f.Projected); err != nil {
			return nil, err
		}
		p.Findings = append(p.Findings, f)
	}
	if len(audited) != len(s.Selected) {
		return nil, fmt.Errorf("%d items were audited and %d drawn: want the drawn ones and no others", len(audited), len(s.Selected))
	}
	if s.Method == MethodStratified {
		for _, st := range s.Strata {
			if st.Drawn.Count == 0 {
				p.Unreached.Count += st.Population.Count
				p.Unreached.Mass += st.Population.Mass
			}
		}
	}
	return p, nil
}

func (s *Sample) project(f Finding) (ledger.Mass, error) {
	num, den := s.Population.Mass, s.Drawn.Mass
	switch s.Method {
	case MethodStratified:
		st := s.stratum(f.Stratum)
		num, den = st.Population.Mass, st.Drawn.Mass
	case MethodMassUnit:
		num, den = s.Interval, f.Mass
		if f.Mass >= s.Interval {
			return f.Error, nil
		}
	}
	switch {
	case f.Error == 0 || num == den:
		return f.Error, nil
	case den == 0:
		return 0, fmt.Errorf("an error of %v cannot be projected from drawn items without mass", f.Error)
	}
	return proportion(f.Error, num, den)
}

// Upper returns the error that the population holds at most, with the given confidence as a fraction, by a sample of mass
// units: the interval times the factor for no error, plus for each tainting, the largest first, the interval times the step
// to the factor for one error more, plus the errors of items of an interval or more (Stringer's bound with Poisson factors, from memory).
// Items of which the book holds too little are not set off against it. It is computed in floating point and rounded to the
// gram.
func (p *Projection) Upper(confidence float64) (ledger.Mass, error) {
	if p.Method != MethodMassUnit {
		return 0, fmt.Errorf("upper limit of a %v sample: want mass units", p.Method)
	}
	var taints []float64
	var certain ledger.Mass
	for _, f := range p.Findings {
		switch {
		case f.Error <= 0:
		case f.Mass >= p.Interval:
			certain += f.Error
		default:
			taints = append(taints, float64(f.Error)/float64(f.Mass))
		}
	}
	slices.SortFunc(taints, func(a, b float64) int { return cmp.Compare(b, a) })
	sum, before := 0.0, 0.0
	for i, taint := range slices.Insert(taints, 0, 1) { // the first step is that to no error
		factor, err := ConfidenceFactor(confidence, i)
		if err != nil {
			return 0, err
		}
		sum += (factor - before) * taint
		before = factor
	}
	return ledger.Mass(math.Round(sum * float64(p.Interval))).Add(certain)
}
