package stat

import (
	"errors"
	"math"
)

var errFew = errors.New("too few values")

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

// T returns the distance from a value in standard uncertainties.
func (e Estimate) T(from float64) float64 { return (e.Value - from) / e.SE }

// P returns the two-sided probability of so large a distance from a value, if that were the true one.
func (e Estimate) P(from float64) float64 { return tTwoSidedP(e.T(from), e.DF) }
