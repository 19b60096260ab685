package stat

import (
	"fmt"
	"math"
)

// Line is a straight line y = Intercept + Slope x fitted where both x and y have errors. A slope that differs from 1
// is a proportional error, an intercept that differs from 0 a constant one.
type Line struct {
	Intercept, Slope Estimate
	// Chi2 is the weighted sum of squares about the line, near n - 2 if the weights are right; 0 for Deming's line.
	Chi2 float64
}

// Deming fits a line of y on x with lambda = V(error of y)/V(error of x); 1 for two equal scales. (Some programs
// call the inverse the ratio.) Standard uncertainties are the jackknife's, with n - 2 degrees of freedom.
// Ordinary least squares would attenuate the slope.
func Deming(x, y []float64, lambda float64) (Line, error) {
	n := len(x)
	switch {
	case len(y) != n:
		return Line{}, fmt.Errorf("%d values of x and %d of y: want as many of each", n, len(y))
	case n < 4:
		return Line{}, fmt.Errorf("%d pairs: want at least 4: %w", n, errFew)
	case !(lambda > 0) || math.IsInf(lambda, 0):
		return Line{}, fmt.Errorf("ratio of variances %v: want a number above zero", lambda)
	}
	a, b := demingLine(x, y, lambda, None)
	pseudoA, pseudoB := make([]float64, n), make([]float64, n)
	for i := range x {
		ai, bi := demingLine(x, y, lambda, i)
		pseudoA[i], pseudoB[i] = float64(n)*a-float64(n-1)*ai, float64(n)*b-float64(n-1)*bi
	}
	root := math.Sqrt(float64(n))
	seA, seB := deviation(pseudoA)/root, deviation(pseudoB)/root
	if err := finite(a, b, seA, seB); err != nil {
		return Line{}, fmt.Errorf("%d pairs do not lie along one line, with any of them left out: %w", n, err)
	}
	return Line{Intercept: newEstimate(a, seA, float64(n-2)), Slope: newEstimate(b, seB, float64(n-2))}, nil
}

// demingLine returns intercept and slope without the pair at one place.
func demingLine(x, y []float64, lambda float64, without int) (a, b float64) {
	n, mx, my := 0.0, 0.0, 0.0
	for i := range x {
		if i != without {
			n++
			mx += x[i]
			my += y[i]
		}
	}
	mx, my = mx/n, my/n
	sxx, syy, sxy := 0.0, 0.0, 0.0
	for i := range x {
		if i != without {
			sxx += (x[i] - mx) * (x[i] - mx)
			syy += (y[i] - my) * (y[i] - my)
			sxy += (x[i] - mx) * (y[i] - my)
		}
	}
	d := syy - lambda*sxx
	b = (d + math.Sqrt(d*d+4*lambda*sxy*sxy)) / (2 * sxy)
	return my - b*mx, b
}

// Weighted fits a line where every x and y has its own weight, 1/variance, and their errors are independent (York,
// Canadian Journal of Physics 44 (1966) 1079, in the form of York and others, American Journal of Physics 72
// (2004) 367). Standard uncertainties are those of the weights; if the weights are only relative, multiply them
// by sqrt(Chi2/(n-2)).
func Weighted(x, y, wx, wy []float64) (Line, error) {
	n := len(x)
	if len(y) != n || len(wx) != n || len(wy) != n {
		return Line{}, fmt.Errorf("%d values of x, %d of y, %d and %d weights: want as many of each", n, len(y), len(wx), len(wy))
	}
	if n < 3 {
		return Line{}, fmt.Errorf("%d pairs: want at least 3: %w", n, errFew)
	}
	for i := range wx {
		if !(wx[i] > 0 && wy[i] > 0) {
			return Line{}, fmt.Errorf("pair %d: weights %v and %v: want numbers above zero", i, wx[i], wy[i])
		}
	}
	_, slope := demingLine(x, y, 1, None)
	for range 200 {
		next := yorkStep(x, y, wx, wy, slope)
		if math.Abs(next.slope-slope) <= 1e-15*math.Abs(next.slope) {
			return next.line(n), finite(next.intercept, next.offsetSE, next.slopeSE, next.chi2)
		}
		slope = next.slope
	}
	return Line{}, fmt.Errorf("the weighted line of %d pairs does not settle: want pairs that lie nearer to a line", n)
}

// yorkFit is one step of York's iteration.
type yorkFit struct {
	slope, intercept  float64
	slopeSE, offsetSE float64
	chi2              float64
}

func (f yorkFit) line(n int) Line {
	return Line{newEstimate(f.intercept, f.offsetSE, float64(n-2)), newEstimate(f.slope, f.slopeSE, float64(n-2)), f.chi2}
}

// yorkStep returns the fit that follows from a slope.
func yorkStep(x, y, wx, wy []float64, slope float64) yorkFit {
	w := make([]float64, len(x))
	total, mx, my := 0.0, 0.0, 0.0
	for i := range x {
		w[i] = wx[i] * wy[i] / (wx[i] + slope*slope*wy[i])
		total += w[i]
		mx += w[i] * x[i]
		my += w[i] * y[i]
	}
	mx, my = mx/total, my/total
	beta := make([]float64, len(x))
	up, down, shift := 0.0, 0.0, 0.0
	for i := range x {
		u, v := x[i]-mx, y[i]-my
		beta[i] = w[i] * (u/wy[i] + slope*v/wx[i])
		up += w[i] * beta[i] * v
		down += w[i] * beta[i] * u
		shift += w[i] * beta[i]
	}
	f := yorkFit{slope: up / down}
	f.intercept = my - f.slope*mx
	adjusted := mx + shift/total // mean of the adjusted x
	square := 0.0
	for i := range x {
		u := mx + beta[i] - adjusted
		square += w[i] * u * u
		d := y[i] - f.intercept - f.slope*x[i]
		f.chi2 += w[i] * d * d
	}
	f.slopeSE = 1 / math.Sqrt(square)
	f.offsetSE = math.Sqrt(1/total + adjusted*adjusted/square)
	return f
}
