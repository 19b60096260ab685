package stat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Polynomial is an ordinary least squares fit of y = c0 + c1 x + c2 x^2 + ... where only y has errors. It is not
// for comparing two scales, both of which have: see [Deming].
type Polynomial struct {
	coefficients []float64
	unscaled     [][]float64 // (X'X)^-1
	DF           int
	RSS          float64 // residual sum of squares
	S            float64 // residual standard deviation
	R2           float64 // coefficient of determination
}

// FitPolynomial fits a polynomial of a degree, by QR decomposition of the design matrix with x scaled to at most 1.
func FitPolynomial(x, y []float64, degree int) (Polynomial, error) {
	n, p := len(x), degree+1
	if len(y) != n {
		return Polynomial{}, fmt.Errorf("%d values of x and %d of y: want as many of each", n, len(y))
	}
	if n <= p {
		return Polynomial{}, fmt.Errorf("%d points for %d coefficients: want more points: %w", n, p, errFew)
	}
	scale := 0.0
	for _, v := range x {
		scale = max(scale, math.Abs(v))
	}
	design := mat.NewDense(n, p, nil)
	for i, v := range x {
		power := 1.0
		for j := range p {
			design.Set(i, j, power)
			power *= v / scale
		}
	}
	var qr mat.QR
	qr.Factorize(design)
	var solved mat.VecDense
	if err := qr.SolveVecTo(&solved, false, mat.NewVecDense(n, y)); err != nil {
		return Polynomial{}, fmt.Errorf("x has too few different values for degree %d", degree)
	}
	var fitted mat.VecDense
	fitted.MulVec(design, &solved)
	f := Polynomial{DF: n - p}
	total, m := 0.0, mean(y)
	for i, v := range y {
		f.RSS += (v - fitted.AtVec(i)) * (v - fitted.AtVec(i))
		total += (v - m) * (v - m)
	}
	f.S, f.R2 = math.Sqrt(f.RSS/float64(f.DF)), 1-f.RSS/total
	if err := finite(f.S, solved.AtVec(0)); err != nil {
		return Polynomial{}, err
	}
	return f, f.unscale(&qr, &solved, scale)
}

// unscale turns coefficients and (X'X)^-1 of scaled x into those of x.
func (f *Polynomial) unscale(qr *mat.QR, solved *mat.VecDense, scale float64) error {
	p := solved.Len()
	var r mat.Dense
	qr.RTo(&r)
	var inverse, product mat.Dense
	if err := inverse.Inverse(r.Slice(0, p, 0, p)); err != nil {
		return fmt.Errorf("x has too few different values for degree %d", p-1)
	}
	product.Mul(&inverse, inverse.T())
	for i := range p {
		f.coefficients = append(f.coefficients, solved.AtVec(i)/math.Pow(scale, float64(i)))
		row := make([]float64, p)
		for j := range p {
			row[j] = product.At(i, j) / math.Pow(scale, float64(i+j))
		}
		f.unscaled = append(f.unscaled, row)
	}
	return nil
}

// Coefficient returns the coefficient of x^i.
func (f Polynomial) Coefficient(i int) Estimate {
	return newEstimate(f.coefficients[i], f.S*math.Sqrt(f.unscaled[i][i]), float64(f.DF))
}

// Correlation returns the correlation of two coefficients.
func (f Polynomial) Correlation(i, j int) float64 {
	return f.unscaled[i][j] / math.Sqrt(f.unscaled[i][i]*f.unscaled[j][j])
}

// Predict returns the value of the polynomial at x.
func (f Polynomial) Predict(x float64) Estimate {
	value, variance := 0.0, 0.0
	for i, c := range f.coefficients {
		value += c * math.Pow(x, float64(i))
		for j := range f.coefficients {
			variance += f.unscaled[i][j] * math.Pow(x, float64(i+j))
		}
	}
	return newEstimate(value, f.S*math.Sqrt(variance), float64(f.DF))
}

// JointTest tests all coefficients at once against values: the F statistic and the probability of one as large.
func (f Polynomial) JointTest(values ...float64) (statistic, p float64, err error) {
	k := len(f.coefficients)
	if len(values) != k {
		return 0, 0, fmt.Errorf("%d values for %d coefficients: want one of each", len(values), k)
	}
	d := mat.NewVecDense(k, nil)
	information := mat.NewDense(k, k, nil)
	for i, c := range f.coefficients {
		d.SetVec(i, c-values[i])
		information.SetRow(i, f.unscaled[i])
	}
	var solved mat.VecDense
	if err := solved.SolveVec(information, d); err != nil {
		return 0, 0, fmt.Errorf("the coefficients determine one another: %w", err)
	}
	statistic = mat.Dot(d, &solved) / (float64(k) * f.S * f.S)
	return statistic, distuv.F{D1: float64(k), D2: float64(f.DF)}.Survival(statistic), nil
}
