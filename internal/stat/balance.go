package stat

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Len returns the number of balances.
func (m *Model) Len() int { return len(m.rows) }

// Row returns balance i.
func (m *Model) Row(i int) Row { return m.rows[i] }

// Sources returns the error sources. They are not to be changed.
func (m *Model) Sources() []Source { return m.sources }

// Periods returns the ordinals of the periods in which balances close, ascending.
func (m *Model) Periods() []int {
	periods := make([]int, len(m.periods))
	for i, p := range m.periods {
		periods[i] = p.period
	}
	return periods
}

// Covariance returns the covariance of the errors of two balances, in t^2.
func (m *Model) Covariance(i, j int) float64 {
	if i < j {
		i, j = j, i
	}
	return m.v[i*len(m.rows)+j]
}

// Sum is a sum of residuals with its standard uncertainty, both in t.
type Sum struct{ Residual, Sigma float64 }

// Z returns the sum in standard uncertainties.
func (s Sum) Z() float64 { return s.Residual / s.Sigma }

// Balance returns the residual of one balance with its standard uncertainty.
func (m *Model) Balance(i int) Sum { return Sum{m.rows[i].Residual, math.Sqrt(m.Covariance(i, i))} }

// Cumulate returns the running sums of the residuals of some balances, with their standard uncertainties: of one
// pile, say, or of all, since the last balance that was accepted. It is not sqrt(n) times one balance's: the
// error of a survey leaves the sum with the next survey, and that of a scale grows with n.
func (m *Model) Cumulate(rows []int) []Sum {
	sums := make([]Sum, len(rows))
	residual, variance := 0.0, 0.0
	for k, i := range rows {
		residual += m.rows[i].Residual
		variance += m.Covariance(i, i)
		for _, j := range rows[:k] {
			variance += 2 * m.Covariance(i, j)
		}
		sums[k] = Sum{residual, math.Sqrt(max(variance, 0))}
	}
	return sums
}

// RowsOf returns the balances of one pile that close after a period, in order. None takes them all.
func (m *Model) RowsOf(pile, after int) []int {
	var rows []int
	for i, r := range m.rows {
		if r.Pile == pile && r.Period > after {
			rows = append(rows, i)
		}
	}
	return rows
}

// RowsIn returns the balances that close in one period.
func (m *Model) RowsIn(period int) []int {
	var rows []int
	for i, r := range m.rows {
		if r.Period == period {
			rows = append(rows, i)
		}
	}
	return rows
}

// Whitened returns u = L^-1 s. Without faults its elements are independent standard normals. Each is a balance
// less what all balances before it in the model's order foretold of it, in standard deviations.
func (m *Model) Whitened() []float64 { return append([]float64(nil), m.u...) }

// Innovations returns for each balance the residual less what the balances of earlier periods foretold of it,
// in standard deviations. Balances of one pile are then independent standard normals without faults (SITMUF,
// standardised independent transformed material unaccounted for); those of one period are correlated.
func (m *Model) Innovations() []float64 {
	n := len(m.rows)
	e := make([]float64, n)
	for _, p := range m.periods {
		for i := p.lo; i < p.hi; i++ {
			row := m.l[i*n+p.lo : i*n+i+1]
			e[i] = dot(row, m.u[p.lo:i+1]) / math.Sqrt(dot(row, row))
		}
	}
	return e
}

// ChiSquare is a sum of squares with its degrees of freedom.
type ChiSquare struct {
	Value float64
	DF    int
}

// P returns the probability of a value as large or larger without faults.
func (c ChiSquare) P() float64 { return distuv.ChiSquared{K: float64(c.DF)}.Survival(c.Value) }

// Global returns s'V^-1 s of all balances: do the residuals as a whole fit their uncertainties?
func (m *Model) Global() ChiSquare { return ChiSquare{dot(m.u, m.u), len(m.u)} }

// PeriodTests returns for each period the part of the global test that its balances add to those before.
func (m *Model) PeriodTests() []ChiSquare {
	tests := make([]ChiSquare, len(m.periods))
	for i, p := range m.periods {
		tests[i] = ChiSquare{dot(m.u[p.lo:p.hi], m.u[p.lo:p.hi]), p.hi - p.lo}
	}
	return tests
}

// Fit fits one signature to the residuals of all periods.
func (m *Model) Fit(f Vector) Fit {
	w := m.whitenSparse(f, len(m.rows))
	square := dot(w, w)
	if square == 0 {
		return Fit{Sigma: math.Inf(1)}
	}
	return Fit{dot(w, m.u) / square, 1 / math.Sqrt(square)}
}

// Quantile returns the value that a chi2 with these degrees of freedom stays below with probability p.
func (c ChiSquare) Quantile(p float64) float64 {
	return distuv.ChiSquared{K: float64(c.DF)}.Quantile(p)
}
