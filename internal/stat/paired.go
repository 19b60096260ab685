package stat

import (
	"fmt"
	"math"
)

// Pairs are weighings of the same loads by two instruments: the one to be judged and the one it is judged by.
// A positive error means that the judged instrument reads high.
type Pairs struct {
	Judged, Reference []float64 // t, the same load at the same place; all above zero
}

// check wants as many values on both sides, enough, and above zero.
func (p Pairs) check(least int) error {
	if len(p.Judged) != len(p.Reference) {
		return fmt.Errorf("%d weighings against %d: want as many of each", len(p.Judged), len(p.Reference))
	}
	if len(p.Judged) < least {
		return fmt.Errorf("%d paired weighings: want at least %d: %w", len(p.Judged), least, errFew)
	}
	for i := range p.Judged {
		if !(p.Judged[i] > 0 && p.Reference[i] > 0) {
			return fmt.Errorf("pair %d: %v and %v: want masses above zero", i, p.Judged[i], p.Reference[i])
		}
	}
	return nil
}

// errors returns judged/reference - 1 of every pair.
func (p Pairs) errors() []float64 {
	q := make([]float64, len(p.Judged))
	for i := range q {
		q[i] = p.Judged[i]/p.Reference[i] - 1
	}
	return q
}

// Bias returns the mean of judged/reference - 1, a fraction. Every load counts the same.
func (p Pairs) Bias() (Estimate, error) {
	if err := p.check(2); err != nil {
		return Estimate{}, err
	}
	q := p.errors()
	return newEstimate(mean(q), deviation(q)/math.Sqrt(float64(len(q))), float64(len(q)-1)).checked()
}

// Ratio returns the ratio of the totals, judged over reference: the figure for the money. Every tonne counts the
// same. Its standard uncertainty is that of a ratio estimator, sqrt(sum (y - R x)^2 / (n (n-1))) / mean x.
func (p Pairs) Ratio() (Estimate, error) {
	if err := p.check(2); err != nil {
		return Estimate{}, err
	}
	n := float64(len(p.Judged))
	x := mean(p.Reference)
	ratio := mean(p.Judged) / x
	square := 0.0
	for i, y := range p.Judged {
		d := y - ratio*p.Reference[i]
		square += d * d
	}
	return newEstimate(ratio, math.Sqrt(square/(n*(n-1)))/x, n-1).checked()
}

// Drift returns the slope of judged/reference - 1 on time, a fraction for each unit of time.
func (p Pairs) Drift(time []float64) (Estimate, error) {
	if err := p.check(3); err != nil {
		return Estimate{}, err
	}
	r, err := FitPolynomial(time, p.errors(), 1)
	if err != nil {
		return Estimate{}, err
	}
	return r.Coefficient(1).checked()
}

// Agreement is the limits of agreement of Bland and Altman (Lancet i (1986) 307): where 95 % of the differences of
// single loads lie.
type Agreement struct {
	Bias      Estimate // of judged - reference
	Deviation float64  // standard deviation of one difference
	Low, High float64  // Bias -+ 1.96 Deviation
	LimitSE   float64  // standard uncertainty of either limit, Deviation sqrt(3/n)
}

// Agreement returns the limits of agreement of differences in t.
func (p Pairs) Agreement() (Agreement, error) {
	return p.agreement(func(judged, reference float64) float64 { return judged - reference })
}

// RelativeAgreement returns the limits of agreement of differences as fractions of each pair's mean, for a spread that
// grows with the load.
func (p Pairs) RelativeAgreement() (Agreement, error) {
	return p.agreement(func(judged, reference float64) float64 { return 2 * (judged - reference) / (judged + reference) })
}

func (p Pairs) agreement(difference func(judged, reference float64) float64) (Agreement, error) {
	if err := p.check(2); err != nil {
		return Agreement{}, err
	}
	d := make([]float64, len(p.Judged))
	for i := range d {
		d[i] = difference(p.Judged[i], p.Reference[i])
	}
	n, sd := float64(len(d)), deviation(d)
	bias := newEstimate(mean(d), sd/math.Sqrt(n), n-1)
	half := NormalQuantile(0.975) * sd
	return Agreement{bias, sd, bias.Value - half, bias.Value + half, sd * math.Sqrt(3/n)}, finite(bias.Value, sd)
}
