package stat

import (
	"fmt"
	"slices"
)

// None stands for "no such thing" in an index into a list of [Observations].
const None = -1

// InstrumentKind says how an instrument weighs.
type InstrumentKind uint8

// The kinds of instruments.
const (
	BeltWeigher InstrumentKind = iota + 1 // a belt: one random error for each pile and period
	LoaderScale                           // a loader or deck scale: a random error for each load
)

// Instrument is one calibration epoch of one weighing instrument. A recalibration starts a new element
// with the same ID, because its systematic error is drawn anew.
type Instrument struct {
	ID         int
	Kind       InstrumentKind
	Systematic float64 // relative standard uncertainty, 0.01 for 1 %
	Random     float64 // relative standard uncertainty of one weighing, or of a belt's period
}

// Survey is one surveyed (or stated) stock of one pile.
type Survey struct {
	Pile    int
	Mass    float64 // t of solids
	Volume  float64 // relative standard uncertainty of the volume and that day's compaction
	Density int     // into Densities; None for a stock that was not converted from a volume
	Window  float64 // t, standard uncertainty from movements while it was flown
	Base    int     // into Bases, or None
}

// Density is one density test, as long as it is in force.
type Density struct {
	Relative float64 // relative standard uncertainty
}

// Base is one surface under a pile, as long as volumes are taken from it.
type Base struct {
	Mass float64 // t of solids, standard uncertainty
}

// Moisture is one moisture in force for one pile, as it converts wet tonnes to solids. The uncertainty of
// a moisture of m (dry basis) with standard uncertainty u(m) makes solids uncertain by u(m)/(1+m), relative.
type Moisture struct {
	Systematic float64 // relative standard uncertainty of solids, shared by everything it converts
	Random     float64 // relative standard uncertainty of solids, fresh each period
}

// Flow is what one instrument weighed into or out of one pile in one period.
type Flow struct {
	Period     int
	Instrument int     // into Instruments, or None for a mass without weighing error
	Mass       float64 // t of solids: positive into the pile, negative out of it
	Weighings  float64 // number of single weighings; ignored for belts, 0 stands for 1
	Moisture   int     // into Moistures, or None; for a transfer that of the pile it came from, at both ends
	// Batch is a number above zero that the two ends of a transfer share: they are the same weighings.
	// Zero for anything else.
	Batch int
}

// Balance is one pile from one survey to the next.
type Balance struct {
	Pile, From, Period int     // as in Row
	Months             float64 // as in Row
	Opening, Closing   int     // into Surveys
	Flows              []Flow
}

// row returns the balance as a row of a model, without its residual.
func (b Balance) row() Row {
	return Row{Pile: b.Pile, From: b.From, Period: b.Period, Months: b.Months}
}

// onset returns the first period that a balance covers.
func (b Balance) onset() int { return min(b.From+1, b.Period) }

// Observations is what a yard measured, with the uncertainties its records state. It holds no names: piles
// and instruments are numbers that the caller gave them.
type Observations struct {
	Instruments []Instrument
	Surveys     []Survey
	Densities   []Density
	Bases       []Base
	Moistures   []Moisture
	Balances    []Balance // in order of Period, then Pile
	// Resolution in t is an error of each balance of its own, so that an empty pile has one too; 0 for none.
	Resolution float64
}

// Rows returns the balances as rows of a model.
func (o *Observations) Rows() []Row {
	rows := make([]Row, len(o.Balances))
	for i, b := range o.Balances {
		residual := o.Surveys[b.Opening].Mass
		for _, f := range b.Flows {
			residual += f.Mass
		}
		rows[i] = b.row()
		rows[i].Residual = residual - o.Surveys[b.Closing].Mass
	}
	return rows
}

// Model returns the error-source model of the observations.
func (o *Observations) Model() (*Model, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	return NewModel(o.Rows(), o.errorModel().sources)
}

// Scaled returns the observations with every standard uncertainty multiplied by kappa, for uncertainties that
// history has shown to be kappa times what was stated. See [EstimateScale].
func (o *Observations) Scaled(kappa float64) *Observations {
	scaled := *o
	scaled.Instruments, scaled.Surveys = slices.Clone(o.Instruments), slices.Clone(o.Surveys)
	scaled.Densities, scaled.Bases, scaled.Moistures = slices.Clone(o.Densities), slices.Clone(o.Bases), slices.Clone(o.Moistures)
	for i := range scaled.Instruments {
		scaled.Instruments[i].Systematic *= kappa
		scaled.Instruments[i].Random *= kappa
	}
	for i := range scaled.Surveys {
		scaled.Surveys[i].Volume *= kappa
		scaled.Surveys[i].Window *= kappa
	}
	for i := range scaled.Densities {
		scaled.Densities[i].Relative *= kappa
	}
	for i := range scaled.Bases {
		scaled.Bases[i].Mass *= kappa
	}
	for i := range scaled.Moistures {
		scaled.Moistures[i].Systematic *= kappa
		scaled.Moistures[i].Random *= kappa
	}
	scaled.Resolution *= kappa
	return &scaled
}

// Between returns the observations with the balances that close after one period and not after another: a
// history and a present, say, to be judged by it.
func (o *Observations) Between(after, last int) *Observations {
	part := *o
	part.Balances = nil
	for _, b := range o.Balances {
		if after < b.Period && b.Period <= last {
			part.Balances = append(part.Balances, b)
		}
	}
	return &part
}

// check holds every index and uncertainty to its list.
func (o *Observations) check() error {
	for i, s := range o.Surveys {
		if !within(s.Density, len(o.Densities)) || !within(s.Base, len(o.Bases)) {
			return fmt.Errorf("survey %d: density %d, base %d: want indices below %d and %d, or None",
				i, s.Density, s.Base, len(o.Densities), len(o.Bases))
		}
	}
	for i, b := range o.Balances {
		if b.Opening < 0 || b.Opening >= len(o.Surveys) || b.Closing < 0 || b.Closing >= len(o.Surveys) || b.Opening == b.Closing {
			return fmt.Errorf("balance %d: surveys %d and %d: want two of the %d there are", i, b.Opening, b.Closing, len(o.Surveys))
		}
		if o.Surveys[b.Opening].Pile != b.Pile || o.Surveys[b.Closing].Pile != b.Pile {
			return fmt.Errorf("balance %d: surveys of piles %d and %d: want pile %d", i, o.Surveys[b.Opening].Pile, o.Surveys[b.Closing].Pile, b.Pile)
		}
		for j, f := range b.Flows {
			if !within(f.Instrument, len(o.Instruments)) || !within(f.Moisture, len(o.Moistures)) {
				return fmt.Errorf("balance %d, flow %d: instrument %d, moisture %d: want indices below %d and %d, or None",
					i, j, f.Instrument, f.Moisture, len(o.Instruments), len(o.Moistures))
			}
		}
	}
	return nil
}

// within reports whether an index is None or of a list of n elements.
func within(index, n int) bool { return index >= None && index < n }
