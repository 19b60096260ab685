package stat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// Row is one balance of one pile: from one survey to the next.
type Row struct {
	Pile   int
	From   int     // ordinal of the period in which the opening survey closed a balance
	Period int     // ordinal of the period in which this balance closes; more than From + 1 where surveys were missed
	Months float64 // length, for losses by the month; 0 stands for Period - From
	// Residual is opening + in - out - closing in t of solids; positive means that stone is missing.
	Residual float64
}

// length returns the length of a balance in months.
func (r Row) length() float64 {
	if r.Months > 0 {
		return r.Months
	}
	return float64(r.Period - r.From)
}

// span is the rows lo up to but not including hi of one period.
type span struct{ period, lo, hi int }

// Model is the residuals s of a yard's balances with the covariance V = B B' of their measurement errors,
// where each column of B is one independent [Source]. Without faults s is normal with mean zero.
//
// A Model is immutable and safe for concurrent use.
type Model struct {
	rows    []Row
	sources []Source
	periods []span
	v       []float64 // V, lower triangle, row major, n x n
	l       []float64 // V = L L', lower triangle
	x       []float64 // L^-1, lower triangle
	u       []float64 // L^-1 s
}

// NewModel returns the model of balances in the order of period, then pile. The order matters: whatever is
// said of a period uses only the rows of that period and of those before it.
//
// It costs n^3/2 multiplications for n balances, and 3 n^2 numbers of memory. The sources are only ever
// used as sparse columns. Rows and sources are kept and must not be changed afterwards.
func NewModel(rows []Row, sources []Source) (*Model, error) {
	if err := checkRows(rows); err != nil {
		return nil, err
	}
	n := len(rows)
	m := &Model{rows: rows, sources: sources, v: make([]float64, n*n)}
	for i, r := range rows {
		if i == 0 || rows[i-1].Period != r.Period {
			m.periods = append(m.periods, span{r.Period, i, i})
		}
		m.periods[len(m.periods)-1].hi = i + 1
	}
	for i, s := range sources {
		if err := m.addSource(s); err != nil {
			return nil, fmt.Errorf("error source %d (%s): %w", i, s.Kind, err)
		}
	}
	if err := m.factorise(); err != nil {
		return nil, err
	}
	return m, nil
}

// Bounds on what a model is made of, far outside any yard: masses in t, so that no figure of a model is infinite, and
// balances, so that it takes less than 1 GB.
const (
	maxMass  = 1e12
	minSigma = 1e-9
	maxRows  = 6000
)

func checkRows(rows []Row) error {
	if len(rows) == 0 || len(rows) > maxRows {
		return fmt.Errorf("%d balances: want at least one and at most %d", len(rows), maxRows)
	}
	for i, r := range rows {
		switch {
		case !(math.Abs(r.Residual) <= maxMass):
			return fmt.Errorf("balance %d: residual %v: want a number of tonnes up to %g", i, r.Residual, maxMass)
		case r.From > r.Period:
			return fmt.Errorf("balance %d: opens in period %d: want one not after period %d, in which it closes", i, r.From, r.Period)
		case i > 0 && (r.Period < rows[i-1].Period || r.Period == rows[i-1].Period && r.Pile < rows[i-1].Pile):
			return fmt.Errorf("balance %d: period %d, pile %d after period %d, pile %d: want the order of period, then pile",
				i, r.Period, r.Pile, rows[i-1].Period, rows[i-1].Pile)
		}
	}
	return nil
}

// addSource adds the outer product of a source's column to V.
func (m *Model) addSource(s Source) error {
	n := len(m.rows)
	for i, a := range s.Column {
		if a.Row < 0 || a.Row >= n || i > 0 && a.Row <= s.Column[i-1].Row {
			return fmt.Errorf("element %d: row %d: want ascending rows below %d", i, a.Row, n)
		}
		if !(math.Abs(a.Value) <= maxMass) {
			return fmt.Errorf("element %d: value %v: want a number of tonnes up to %g", i, a.Value, maxMass)
		}
		row := m.v[a.Row*n:]
		for _, b := range s.Column[:i+1] {
			row[b.Row] += a.Value * b.Value
		}
	}
	return nil
}

// factorise computes L, L^-1 and L^-1 s.
func (m *Model) factorise() error {
	n := len(m.rows)
	for i, r := range m.rows {
		if m.v[i*n+i] < minSigma*minSigma {
			return fmt.Errorf("balance %d (pile %d, period %d) has no measurement error: want at least one source", i, r.Pile, r.Period)
		}
	}
	m.l = append([]float64(nil), m.v...)
	_, ok := lapack64.Potrf(blas64.Symmetric{N: n, Stride: n, Data: m.l, Uplo: blas.Lower})
	if !ok {
		return fmt.Errorf("the errors of some of the %d balances determine one another exactly: want an error of its own for each", n)
	}
	m.x = invertLower(m.l, n)
	m.u = m.Whiten(m.residuals())
	return nil
}

func (m *Model) residuals() []float64 {
	s := make([]float64, len(m.rows))
	for i, r := range m.rows {
		s[i] = r.Residual
	}
	return s
}

// Whiten returns L^-1 y for any y with one value a balance.
func (m *Model) Whiten(y []float64) []float64 {
	n := len(m.rows)
	w := make([]float64, n)
	for i := range w {
		w[i] = dot(m.x[i*n:i*n+i+1], y[:i+1])
	}
	return w
}

// whitenSparse returns L^-1 f of a sparse vector, for the rows below hi.
func (m *Model) whitenSparse(f Vector, hi int) []float64 {
	n := len(m.rows)
	w := make([]float64, hi)
	for i := range w {
		for _, e := range f {
			if e.Row > i {
				break
			}
			w[i] += e.Value * m.x[i*n+e.Row]
		}
	}
	return w
}

func dot(a, b []float64) float64 {
	return blas64.Dot(blas64.Vector{N: len(a), Inc: 1, Data: a}, blas64.Vector{N: len(b), Inc: 1, Data: b})
}

// axpy adds a times x to y.
func axpy(a float64, x, y []float64) {
	blas64.Axpy(a, blas64.Vector{N: len(x), Inc: 1, Data: x}, blas64.Vector{N: len(y), Inc: 1, Data: y})
}
