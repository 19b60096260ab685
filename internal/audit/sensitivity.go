package audit

import (
	"fmt"

	"github.com/shopspring/decimal"

	"repose/ledger"
)

// Quantity is what a closing figure may be sensitive to. The zero value is none.
type Quantity uint8

// The quantities, each with its step.
const (
	QuantityVolume        Quantity = iota + 1 // 1 % of a survey's volume; its deduction stands
	QuantityDensity                           // 1 % of the bulk density that turned the volume into mass
	QuantityMoisture                          // 1 % of every moisture that parted stone from water
	QuantityMoisturePoint                     // 1 percentage point of each
	QuantityBelt                              // 1 % of everything that belts weighed
)

var quantityNames = [...]string{QuantityVolume: "volume, 1 %", QuantityDensity: "density, 1 %", QuantityMoisture: "moisture, 1 %",
	QuantityMoisturePoint: "moisture, 1 point", QuantityBelt: "belt, 1 %"}

// String returns the quantity with its step.
func (q Quantity) String() string { return quantityNames[q] }

// Weighing is stone that came to a pile, or left it if negative, as it was weighed.
type Weighing struct {
	Wet      ledger.Mass
	Moisture ledger.DryBasis
	Belt     string // the belt that weighed it; empty for other instruments
}

// Measured is a survey with the density that turned it into mass.
type Measured struct {
	Survey  ledger.Survey
	Density ledger.DensityTest
}

// Closing is how the closing figure of a pile came about: from a survey, or from what the book held, with what moved since.
type Closing struct {
	Pile, Product string
	Reference     ledger.DryBasis // the moisture of the adjusted mass; it is an agreed figure and has no error
	Survey        *Measured       // nil where the closing figure is the book's
	Base          ledger.Mass     // solids that the book's figure starts from, where Survey is nil
	Weighings     []Weighing      // since the survey, or since the base
}

// Change is by how much a closing figure moves.
type Change struct{ Solids, Adjusted ledger.Mass }

// SensitivityLine is one quantity. Up and Down are the figure reckoned again with the quantity a step more and a step less,
// by the ledger's own functions and rounding, less the figure as it is. Slope is the derivative of the unrounded formula
// times the step, rounded half-even to the gram: the two routes check one another.
type SensitivityLine struct {
	Quantity Quantity
	Up       Change
	Down     *Change // nil where a moisture would fall below bone dry
	Slope    Change
}

// Sensitivity is what one step of each quantity does to a pile.
type Sensitivity struct {
	Pile, Product    string
	Solids, Adjusted ledger.Mass
	Lines            []SensitivityLine // of the quantities that the figure rests on
}

// Sensitivity reckons the table of a pile. A figure of a survey rests on its volume and density, every figure on the
// moisture and the belts of what was weighed since. A density test that states no moisture was dry, and moisture leaves it
// alone.
func (c Closing) Sensitivity() (*Sensitivity, error) {
	now, err := c.figure()
	if err != nil {
		return nil, fmt.Errorf("pile %s: %w", c.Pile, err)
	}
	s := &Sensitivity{Pile: c.Pile, Product: c.Product, Solids: now.Solids, Adjusted: now.Adjusted}
	for q := QuantityVolume; q <= QuantityBelt; q++ {
		if !c.restsOn(q) {
			continue
		}
		l := SensitivityLine{Quantity: q, Slope: c.slope(q)}
		up, err := c.moved(q, 1, now)
		if err != nil {
			return nil, fmt.Errorf("pile %s, %s more: %w", c.Pile, q, err)
		}
		l.Up = *up
		if q != QuantityMoisturePoint || c.driest().GreaterThanOrEqual(decimal.New(1, 0)) {
			if l.Down, err = c.moved(q, -1, now); err != nil {
				return nil, fmt.Errorf("pile %s, %s less: %w", c.Pile, q, err)
			}
		}
		s.Lines = append(s.Lines, l)
	}
	return s, nil
}

func (c Closing) restsOn(q Quantity) bool {
	switch q {
	case QuantityVolume, QuantityDensity:
		return c.Survey != nil
	case QuantityBelt:
		for _, w := range c.Weighings {
			if w.Belt != "" {
				return true
			}
		}
		return false
	}
	return len(c.Weighings) > 0 || c.Survey != nil && !c.Survey.Density.Moisture.Percent().IsZero()
}

// driest returns the lowest moisture that a step of moisture moves, in per cent.
func (c Closing) driest() decimal.Decimal {
	lowest := decimal.New(1000, 0)
	for _, t := range c.terms() {
		if t.moves {
			lowest = decimal.Min(lowest, t.moisture)
		}
	}
	return lowest
}

// figure returns the closing figure.
func (c Closing) figure() (f Change, err error) {
	f.Solids = c.Base
	if c.Survey != nil {
		if f.Solids, err = c.Survey.Survey.Solids(c.Survey.Density); err != nil {
			return f, err
		}
	}
	for _, w := range c.Weighings {
		if f.Solids, err = f.Solids.Add(w.Moisture.Split(w.Wet).Solids); err != nil {
			return f, err
		}
	}
	f.Adjusted, err = c.Reference.Adjusted(f.Solids)
	return f, err
}

// moved returns the change of the figure with a quantity a step more, or with -1 a step less.
func (c Closing) moved(q Quantity, steps int64, now Change) (*Change, error) {
	shifted, err := c.shifted(q, decimal.New(100+steps, -2), decimal.New(steps, 0))
	if err != nil {
		return nil, err
	}
	f, err := shifted.figure()
	if err != nil {
		return nil, err
	}
	return &Change{f.Solids - now.Solids, f.Adjusted - now.Adjusted}, nil
}
