package measure

import (
	"fmt"
	"math"

	"repose/internal/stat"
	"repose/ledger"
)

// Figures is the measurement error of one balance, in t of solids.
type Figures struct {
	Residual float64
	Sigma    float64 // standard uncertainty of the residual
	Z        float64 // residual in standard uncertainties
	// MDL is the loss that this balance alone would show in 95 of 100 cases, if a false alarm in 20 is
	// accepted: 3.29 sigma.
	MDL float64

	// Stock is the closing survey's solids, DensityU the relative standard uncertainty of its density. If the
	// density is wrong by that much in both surveys, the stock is wrong by DensityStock, and the residual only
	// by DensityResidual, as long as one test served both.
	Stock, DensityU, DensityStock, DensityResidual float64
}

// insideLimit is how many standard uncertainties a difference may be away from nothing and still be called
// inside measurement error.
const insideLimit = 2

// Inside reports whether the residual is within two standard uncertainties.
func (f Figures) Inside() bool { return math.Abs(f.Z) <= insideLimit }

// Judge returns the figures of each balance by the ID of its survey. kappa multiplies every stated
// uncertainty; 1 takes them as they are.
func (o *Observed) Judge(kappa float64) (map[string]Figures, error) {
	figures := map[string]Figures{}
	if len(o.Balances) == 0 {
		return figures, nil
	}
	m, err := o.Scaled(kappa).Model()
	if err != nil {
		return nil, err
	}
	factor := stat.DetectionFactor(0.05, 0.95, 1)
	for i, record := range o.Records {
		s := m.Balance(i)
		f := Figures{Residual: s.Residual, Sigma: s.Sigma, Z: s.Z(), MDL: factor * s.Sigma}
		opening, closing := o.Surveys[o.Balances[i].Opening], o.Surveys[o.Balances[i].Closing]
		f.Stock = closing.Mass
		if closing.Density != stat.None {
			f.DensityU = kappa * o.Densities[closing.Density].Relative
			f.DensityStock = f.DensityU * closing.Mass
			f.DensityResidual = -f.DensityStock
			if opening.Density == closing.Density {
				f.DensityResidual = f.DensityU * (opening.Mass - closing.Mass)
			}
		}
		figures[record.Survey] = f
	}
	return figures, nil
}

// only keeps the balances of the rows that a test picks.
func (o *Observed) only(keep func(ledger.Balance) bool) *Observed {
	part := *o
	part.Balances, part.Records = nil, nil
	for i, r := range o.Records {
		if keep(r) {
			part.Balances = append(part.Balances, o.Balances[i])
			part.Records = append(part.Records, r)
		}
	}
	return &part
}

// window is how many months are looked at together for causes. What lies before is history.
const window = 12

// split parts the balances into the last twelve months and the history before them.
func (o *Observed) split() (history, present *Observed) {
	first := len(o.Periods) - window
	isPast := func(r ledger.Balance) bool { return o.periodOf(r) < first }
	return o.only(isPast), o.only(func(r ledger.Balance) bool { return !isPast(r) })
}

func (o *Observed) periodOf(r ledger.Balance) int {
	for i, x := range o.Records {
		if x.Survey == r.Survey {
			return o.Balances[i].Period
		}
	}
	return 0
}

// Scale returns how well the stated uncertainties have fitted the history before the last twelve months;
// ok is false where that history has fewer than twelve balances.
func (o *Observed) Scale() (scale stat.Scale, ok bool, err error) {
	history, _ := o.split()
	if len(history.Balances) < stat.MinHistory {
		return stat.Scale{Kappa: 1}, false, nil
	}
	m, err := history.Model()
	if err != nil {
		return scale, false, fmt.Errorf("history: %w", err)
	}
	scale, err = stat.EstimateScale(m.Whitened())
	return scale, err == nil, err
}
