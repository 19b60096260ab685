package workbook

import (
	"math"

	"repose/internal/report"
	"repose/ledger"

	"github.com/shopspring/decimal"
)

// Factors of the statistics, as standard uncertainties.
const (
	widthFactor = 2.0 // in half of a 95 % width, of a difference or of a sum of them
	insideLimit = 2.0 // within which a difference is called inside measurement error

	// detectionFactor is twice the 95 % quantile of the normal distribution, 1.6448536270: a loss of so many
	// uncertainties shows in 95 of 100 cases when one false alarm in 20 is accepted.
	detectionFactor = 3.2897072539

	// intervalFactor is the 97.5 % quantile of the normal distribution.
	intervalFactor = 1.959963984540054
)

// The report states masses of the statistics to the kilogram and ratios to four places, so that a formula over
// such figures comes to the program's own only within what the rounding makes of it.
const (
	massRounding  = 0.000_5   // t
	ratioRounding = 0.000_05  // of a ratio
	finalRounding = 0.000_001 // t: the ledger's own, to the gram
	// roundingSlack widens the roundings a little, which keeps a figure that lies on the edge of one from
	// falling to either side as binary fractions go.
	roundingSlack = 1.002
)

// stated returns a ratio to the places that the report states; ok is false for one that is no number.
func stated(r report.Ratio) (f float64, ok bool) {
	f = float64(r)
	return math.RoundToEven(f*1e4) / 1e4, isFinite(f)
}

func isFinite(f float64) bool { return !math.IsNaN(f) && !math.IsInf(f, 0) }

// ratioFigure is a ratio of the report, and a blank cell where there is none.
func ratioFigure(r *report.Ratio) value {
	if r == nil {
		return value{}
	}
	if f, ok := stated(*r); ok {
		return float(f)
	}
	return value{}
}

// shareFigure is a ratio that is shown in per cent.
func shareFigure(r report.Ratio) value {
	f, ok := stated(r)
	if !ok {
		return value{}
	}
	return ratio(f)
}

// inTonnesFloat returns a mass as formulas see it.
func inTonnesFloat(m ledger.Mass) float64 { return gramsToTonnes(int64(m)) }

// times returns what a formula gives for a mass times a factor.
func times(m ledger.Mass, factor float64) value {
	return tonnesOf(decimal.NewFromInt(int64(m)).Mul(decimal.NewFromFloat(factor)))
}

// zTolerance is how far a ratio of two rounded masses may lie from the stated ratio: the residual is known to
// residualRounding, sigma, in t and not zero, to the kilogram.
func zTolerance(own, sigma, residualRounding float64) float64 {
	return ratioRounding + (massRounding*(math.Abs(own)+ratioRounding)+residualRounding)/sigma
}

// stepsUp returns a tolerance in whole steps of a measure.
func stepsUp(tolerance float64, m measure) int64 {
	return int64(math.Ceil(tolerance * m.perUnit * roundingSlack))
}
