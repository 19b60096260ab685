package stat

import (
	"math"
	"slices"
)

// Fit is the size of one hypothesis that fits the residuals best, by generalised least squares.
type Fit struct {
	Size  float64 // b = f'V^-1 s / f'V^-1 f
	Sigma float64 // its standard uncertainty, (f'V^-1 f)^-1/2; infinite where the data say nothing
}

// Z is the size in standard uncertainties: the square root of the generalised likelihood ratio, with the
// size's sign.
func (f Fit) Z() float64 {
	if math.IsInf(f.Sigma, 0) {
		return 0
	}
	return f.Size / f.Sigma
}

// Interval returns the limits between which the size lies with the given confidence, such as 0.95.
func (f Fit) Interval(confidence float64) (low, high float64) {
	half := NormalQuantile(0.5+confidence/2) * f.Sigma
	return f.Size - half, f.Size + half
}

// Detectable returns the smallest size that a test at threshold z finds with 95 % probability: (z + 1.645) sigma. For
// the one-sided test of one named hypothesis at 5 % the threshold is 1.645, and the factor 3.29; for the
// family that an alarm looks through it is that of the class in [Thresholds].
func (f Fit) Detectable(z float64) float64 { return (z + NormalQuantile(0.95)) * f.Sigma }

// Scan holds the generalised likelihood ratio of every hypothesis of a set at the close of every period of a
// model, each with the data to that date only.
//
// With W = L^-1 F a hypothesis h has at period t the ratio z = (W_h'u)/|W_h| over the rows to t, because the
// leading rows of L^-1 depend on nothing later. One inverse serves all hypotheses, and all periods.
type Scan struct {
	model   *Model
	set     *Hypotheses
	columns columns
	singles []single
	pairs   []pair
	runs    []run
	losses  []int32 // signatures that pairs are made of

	// By period: how many of the set, the singles, the pairs and the runs have started.
	active, activeSingles, activePairs, activeRuns []int

	inv     [][]float64 // by period and active hypothesis: 1/|W_h|, 0 where it leaves no trace yet
	lossInv [][]float64 // by period and signature: the same
	least   []float64   // by period: the smallest |a-b|^2/(|a|^2 + |b|^2) of a pair
	scores  [][]float64 // by period and signature: f'V^-1 s of the data to then
}

// NewScan scans a model's residuals for a set of hypotheses over the same balances.
func NewScan(m *Model, set *Hypotheses) *Scan {
	s := &Scan{model: m, set: set, columns: newColumns(set.signatures)}
	s.arrange()
	s.measure()
	s.score([][]float64{m.u}, func(_, _ int, scores []float64) { s.scores = append(s.scores, slices.Clone(scores)) })
	return s
}

// measure computes the norms, |W_h|^2 of the rows to each period. That of a swap follows from its two losses:
// |a-b|^2 = |a|^2 + |b|^2 - 2 a'b. What a period adds depends on its rows alone.
func (s *Scan) measure() {
	squares := make([][]float64, len(s.model.periods))
	products := make([][]float64, len(s.model.periods))
	parallel(len(s.model.periods), func(i int) {
		t := len(squares) - 1 - i // the longest first
		squares[t], products[t] = s.addition(t)
	})
	for t := range squares {
		if t > 0 {
			accumulate(squares[t], squares[t-1])
			accumulate(products[t], products[t-1])
		}
		s.setNorms(t, squares[t], products[t])
	}
}

// maxFraction is the standard uncertainty of the fraction by which a scale, a density or a survey reads high, above which
// the data say nothing of it: what they could show, a few times as much, would be all of it. A density hardly shows
// in a pile whose stock does not change, and must not raise an alarm by being a thousand times too high.
const maxFraction = 0.25

// setNorms fills in what follows from the squared norms at one period.
func (s *Scan) setNorms(t int, squares, products []float64) {
	inv := make([]float64, s.active[t])
	for _, e := range s.singles[:s.activeSingles[t]] {
		if e.class == ClassLoss || squares[e.plus] > 1/(maxFraction*maxFraction) {
			inv[e.entry] = invRoot(squares[e.plus])
		}
	}
	least := 1.0
	for k, q := range s.pairs[:s.activePairs[t]] {
		sum := squares[q.plus] + squares[q.minus]
		square := sum - 2*products[k]
		inv[q.entry] = invRoot(square)
		if inv[q.entry] > 0 {
			least = min(least, square/sum)
		}
	}
	lossInv := make([]float64, len(squares))
	for _, k := range s.losses {
		lossInv[k] = invRoot(squares[k])
	}
	s.inv, s.lossInv, s.least = append(s.inv, inv), append(s.lossInv, lossInv), append(s.least, least)
}

// invRoot returns 1/sqrt(x), and 0 for an x that is not positive.
func invRoot(x float64) float64 {
	if x <= 0 {
		return 0
	}
	return 1 / math.Sqrt(x)
}

// addition returns what the rows of one period add to the squared norms of the signatures and to the products of
// the pairs.
func (s *Scan) addition(t int) (squares, products []float64) {
	n, p := len(s.model.rows), s.model.periods[t]
	pairs := s.pairs[:s.activePairs[t]]
	squares, products = make([]float64, s.columns.len()), make([]float64, len(pairs))
	w := make([]float64, s.columns.len()) // one row of L^-1 F
	for i := p.lo; i < p.hi; i++ {
		s.columns.multiply(s.model.x[i*n:i*n+i+1], w)
		for k, v := range w {
			squares[k] += v * v
		}
		for k, q := range pairs {
			products[k] += w[q.plus] * w[q.minus]
		}
	}
	return squares, products
}

// accumulate adds the elements of before to those of sums, which may be more.
func accumulate(sums, before []float64) {
	for i, v := range before {
		sums[i] += v
	}
}

// Periods returns the ordinals of the model's periods. Elsewhere a period is given by its place in this list.
func (s *Scan) Periods() []int { return s.model.Periods() }

// Fit returns the fit of hypothesis h with the data to the close of the period at place t.
func (s *Scan) Fit(h, t int) Fit {
	if h >= s.active[t] || s.inv[t][h] == 0 {
		return Fit{Sigma: math.Inf(1)}
	}
	e, sigma := s.set.entries[h], s.inv[t][h]
	return Fit{(s.scores[t][e.plus] - s.scores[t][e.minus]) * sigma * sigma, sigma}
}

// score computes the scores f'V^-1 s of every signature at every period, for several draws of whitened residuals
// u at once, so that each row of L^-1 is read once. It is all of a scan that depends on the residuals. The scores
// are overwritten after each visit.
//
// V_t^-1 s_t is the sum of the leading rows of L^-1, each times its element of u, so each period adds its rows
// to the sum of the one before.
func (s *Scan) score(draws [][]float64, visit func(t, draw int, scores []float64)) {
	n := len(s.model.rows)
	solved := make([][]float64, len(draws))
	for d := range draws {
		solved[d] = make([]float64, n)
	}
	scores := make([]float64, s.columns.len())
	for t, p := range s.model.periods {
		for i := p.lo; i < p.hi; i++ {
			row := s.model.x[i*n : i*n+i+1]
			for d, u := range draws {
				axpy(u[i], row, solved[d][:i+1])
			}
		}
		for d := range draws {
			s.columns.multiply(solved[d][:p.hi], scores)
			visit(t, d, scores)
		}
	}
}
