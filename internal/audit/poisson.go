package audit

import (
	"fmt"
	"math"

	"repose/ledger"
)

// mostErrors is how many errors a confidence factor is computed for; beyond it a sample says that the book is wrong, and
// not how wrong.
const mostErrors = 200

// ConfidenceFactor returns the mean of a Poisson distribution of which, with the given confidence, a sample would show more
// than so many errors: 3.00 for none at 95 %, 2.30 for none at 90 %. It solves P(errors + 1, factor) = confidence, with P
// the regularised incomplete gamma function; tables print it rounded, some rounded up. Confidence is a fraction, errors
// from 0 to 200.
func ConfidenceFactor(confidence float64, errors int) (float64, error) {
	if err := checkConfidence(confidence); err != nil {
		return 0, err
	}
	if errors < 0 || errors > mostErrors {
		return 0, fmt.Errorf("%d errors: want 0 to %d", errors, mostErrors)
	}
	return solve(confidence, float64(errors), 0), nil
}

func checkConfidence(confidence float64) error {
	if !(confidence > 0 && confidence <= 0.9999) {
		return fmt.Errorf("confidence %v: want a fraction above 0 and up to 0.9999", confidence)
	}
	return nil
}

// Plan is what a sample of mass units has to be able to show.
type Plan struct {
	Population ledger.Mass
	Tolerable  ledger.Mass // the error that must not go unseen
	Expected   ledger.Mass // the error that is expected, at most three quarters of the tolerable one
	Confidence float64     // a fraction, such as 0.95
}

// SampleSize returns the smallest n that a plan needs: if errors of as much as the expected one come up, the upper limit
// is still no more than the tolerable error. The factor f solves
//
//	P(1 + f expected / tolerable, f) = confidence,  n = f population / tolerable, rounded up
//
// so that the expected number of errors need not be whole, and no expansion factor is taken from a table.
func SampleSize(p Plan) (int, error) {
	switch {
	case p.Population <= 0 || p.Tolerable <= 0 || p.Expected < 0:
		return 0, fmt.Errorf("population %v, tolerable error %v, expected error %v: want the first two above zero, the last not below", p.Population, p.Tolerable, p.Expected)
	case p.Expected > p.Tolerable/4*3:
		return 0, fmt.Errorf("expected error %v of %v tolerable: want at most three quarters, or set the book right first", p.Expected, p.Tolerable)
	}
	if err := checkConfidence(p.Confidence); err != nil {
		return 0, err
	}
	f := solve(p.Confidence, 0, float64(p.Expected)/float64(p.Tolerable))
	n := math.Ceil(f * float64(p.Population) / float64(p.Tolerable))
	if n > math.MaxInt32 {
		return 0, fmt.Errorf("tolerable error %v of %v: want more, or no sample", p.Tolerable, p.Population)
	}
	return int(n), nil
}

// solve returns the x at which P(1 + errors + rate x, x) is the confidence, by halving an interval that holds it.
func solve(confidence, errors, rate float64) float64 {
	reached := func(x float64) bool { return gammaP(1+errors+rate*x, x) >= confidence }
	low, high := 0.0, 1.0
	for !reached(high) {
		low, high = high, 2*high
	}
	for range 60 {
		if middle := (low + high) / 2; reached(middle) {
			high = middle
		} else {
			low = middle
		}
	}
	return high
}

// gammaP is the regularised lower incomplete gamma function P(a, x), by its series (NIST Digital Library of Mathematical
// Functions 8.11.4, from memory). It serves x up to some 700, where the first term is still a number.
func gammaP(a, x float64) float64 {
	logGamma, _ := math.Lgamma(a + 1)
	term := math.Exp(a*math.Log(x) - x - logGamma)
	sum := term
	for k := 1.0; term > 1e-17*sum; k++ {
		term *= x / (a + k)
		sum += term
	}
	return sum
}
