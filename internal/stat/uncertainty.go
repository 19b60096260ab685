package stat

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Clauses are of JCGM 100:2008, Evaluation of measurement data: Guide to the expression of uncertainty in
// measurement (GUM).

// Rectangular returns the standard uncertainty of a value that lies within +-a, with nothing else known: a/sqrt 3
// (4.3.7). It is what a tolerance or a maximum permissible error says of an instrument known to be within
// it, and so the least that can be said of one that has been in use.
func Rectangular(a float64) float64 { return a / math.Sqrt(3) }

// Triangular returns the standard uncertainty of a value within +-a and more likely near the middle: a/sqrt 6 (4.3.9).
func Triangular(a float64) float64 { return a / math.Sqrt(6) }

// Arcsine returns the standard uncertainty of a value that swings between +-a: a/sqrt 2 (H.1.3.4).
func Arcsine(a float64) float64 { return a / math.Sqrt2 }

// Resolution returns the standard uncertainty of an indication rounded to steps of d: d/sqrt 12 (F.2.2.1).
func Resolution(d float64) float64 { return d / math.Sqrt(12) }

// Even returns the standard uncertainty of a value that is as likely to be within +-a as not: 1.48 a (4.3.5).
func Even(a float64) float64 { return 1.48 * a }

// FromExpanded returns the standard uncertainty of an expanded one with coverage factor k (4.3.3).
func FromExpanded(u, k float64) float64 { return u / k }

// Component is one contribution to a combined uncertainty: a standard uncertainty times its sensitivity coefficient.
type Component struct {
	U  float64 // in the unit of the result
	DF float64 // degrees of freedom; +Inf for one that is taken as known
}

// Combine combines independent contributions: u^2 = sum u_i^2 (5.1.2, equation 10), with the effective degrees of
// freedom of Welch and Satterthwaite, u^4 / sum u_i^4/nu_i (G.4.1, equation G.2b), not rounded.
func Combine(components ...Component) Component {
	square, fourth := 0.0, 0.0
	for _, c := range components {
		square += c.U * c.U
		fourth += math.Pow(c.U, 4) / c.DF
	}
	return Component{math.Sqrt(square), square * square / fourth}
}

// Expanded returns the coverage factor and the expanded uncertainty for a level of confidence such as 0.95.
// Degrees of freedom are cut down to the next lower integer (G.4.1).
func (c Component) Expanded(confidence float64) (k, u float64) {
	k = TQuantile(0.5+confidence/2, math.Floor(c.DF))
	return k, k * c.U
}

// TQuantile returns the t below which Student's distribution with df degrees of freedom has probability p; for
// infinite df it is the normal's.
func TQuantile(p, df float64) float64 {
	if math.IsInf(df, 1) {
		return NormalQuantile(p)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(p)
}

// tTwoSidedP returns the probability that |t| is at least as large.
func tTwoSidedP(t, df float64) float64 {
	return 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.CDF(-math.Abs(t))
}

// CovarianceOf returns the covariance matrix of standard uncertainties u with correlation coefficients r.
func CovarianceOf(u []float64, r [][]float64) [][]float64 {
	v := make([][]float64, len(u))
	for i := range u {
		v[i] = make([]float64, len(u))
		for j := range u {
			v[i][j] = u[i] * u[j] * r[i][j]
		}
	}
	return v
}

// Propagate returns the covariance matrix C V C' of results whose sensitivity coefficients to inputs with
// covariance matrix V are the rows of C (5.2.2, equation 13, and H.2.3). Degrees of freedom do not combine where
// inputs are correlated: Welch and Satterthwaite's formula is not valid then.
func Propagate(c, v [][]float64) [][]float64 {
	out := make([][]float64, len(c))
	for i := range c {
		out[i] = make([]float64, len(c))
		for j := range c {
			for k, a := range c[i] {
				out[i][j] += a * dot(v[k], c[j])
			}
		}
	}
	return out
}

// MeanCovariance returns the means of simultaneous observations, one slice for each quantity, and the covariance
// matrix of the means (4.2.3 and 5.2.3, equation 17).
func MeanCovariance(observed [][]float64) (means []float64, v [][]float64) {
	for _, x := range observed {
		means = append(means, mean(x))
	}
	for i, x := range observed {
		row := make([]float64, len(observed))
		n := float64(len(x))
		for j, y := range observed {
			for k := range x {
				row[j] += (x[k] - means[i]) * (y[k] - means[j]) / (n * (n - 1))
			}
		}
		v = append(v, row)
	}
	return means, v
}
