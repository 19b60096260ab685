package stat

import (
	"errors"
	"math"
)

var (
	errFew       = errors.New("too few values")
	errNotFinite = errors.New("no finite result: want finite values, none so large or so small that their squares are not")
)

// finite returns an error if any of the results of a calculation is not a finite number: its input was not, or was too
// large or too small to be squared.
func finite(results ...float64) error {
	for _, v := range results {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return errNotFinite
		}
	}
	return nil
}

// mean returns the arithmetic mean.
func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// deviation returns the standard deviation of a sample, with n - 1.
func deviation(x []float64) float64 {
	m, sum := mean(x), 0.0
	for _, v := range x {
		sum += (v - m) * (v - m)
	}
	return math.Sqrt(sum / float64(len(x)-1))
}

// Estimate is a value with its standard uncertainty and the limits of its 95 % confidence interval, from Student's t.
type Estimate struct {
	Value, SE float64
	DF        float64
	Low, High float64
}

func newEstimate(value, se, df float64) Estimate {
	half := TQuantile(0.975, df) * se
	return Estimate{value, se, df, value - half, value + half}
}

// checked returns the estimate, or an error if it is not finite.
func (e Estimate) checked() (Estimate, error) { return e, finite(e.Value, e.SE) }

// T returns the distance from a value in standard uncertainties.
func (e Estimate) T(from float64) float64 { return (e.Value - from) / e.SE }

// P returns the two-sided probability of so large a distance from a value, if that were the true one.
func (e Estimate) P(from float64) float64 { return tTwoSidedP(e.T(from), e.DF) }
