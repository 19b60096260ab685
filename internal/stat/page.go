package stat

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"
)

// CUSUM returns the two cumulative sums of Page (1954) of a series: upward, C+ = max(C+ + x - target - k, 0), and
// downward, C- = max(C- + target - x - k, 0), both beginning at zero. k is half the shift to be found, in
// the unit of the series.
//
// Page's test of innovations is CUSUM with target 0 and k 0.5, with an alarm where a sum exceeds [PageLimit].
func CUSUM(x []float64, target, k float64) (up, down []float64) {
	up, down = make([]float64, len(x)), make([]float64, len(x))
	u, d := 0.0, 0.0
	for i, v := range x {
		u, d = max(u+v-target-k, 0), max(d+target-v-k, 0)
		up[i], down[i] = u, d
	}
	return up, down
}

// pageNodes is the number of nodes of the quadrature below; with it the run lengths of h up to 10 are exact to
// better than 1e-9.
const pageNodes = 48

// pageChain is the chain of Brook and Evans (Biometrika 59 (1972) 539) for one cumulative sum of standard normals
// with mean shift. Its states are zero and, in place of their equal cells, the nodes of a Gauss-Legendre
// quadrature between zero and h, on which the chain converges far faster.
type pageChain struct {
	next [][]float64 // probability weight of going from state to state without passing h
}

func newPageChain(h, k, shift float64) *pageChain {
	states, weights := make([]float64, pageNodes+1), make([]float64, pageNodes+1)
	quad.Legendre{}.FixedLocations(states[1:], weights[1:], 0, h)
	c := &pageChain{}
	for _, from := range states {
		row := make([]float64, len(states))
		row[0] = NormalCDF(k - shift - from)
		for j := 1; j < len(states); j++ {
			row[j] = weights[j] * normalDensity(states[j]-from+k-shift)
		}
		c.next = append(c.next, row)
	}
	return c
}

func normalDensity(z float64) float64 { return math.Exp(-0.5*z*z) / math.Sqrt(2*math.Pi) }

// survival returns the probability that n steps from zero pass no h.
func (c *pageChain) survival(n int) float64 {
	alive := make([]float64, len(c.next))
	for i := range alive {
		alive[i] = 1
	}
	for range n {
		before := make([]float64, len(alive))
		for i, row := range c.next {
			before[i] = dot(row, alive)
		}
		alive = before
	}
	return alive[0]
}

// PageRunLength returns the mean number of steps until one cumulative sum with reference value k exceeds h, for
// independent normals of standard deviation 1 and mean shift. That of a two-sided test is 1/(1/a + 1/b) of
// those for shift and -shift.
func PageRunLength(h, k, shift float64) float64 {
	// The mean run lengths a of all states solve a = 1 + Q a.
	c := newPageChain(h, k, shift)
	n := len(c.next)
	system, ones := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
	for i, row := range c.next {
		for j, p := range row {
			system.Set(i, j, -p)
		}
		system.Set(i, i, 1-row[i])
		ones.SetVec(i, 1)
	}
	var lengths mat.VecDense
	if err := lengths.SolveVec(system, ones); err != nil {
		return math.Inf(1) // no step is ever seen to pass h
	}
	return lengths.AtVec(0)
}

// PageLimit returns the h that the cumulative sums of several independent series exceed anywhere within n steps
// with probability level, without a fault. A two-sided test counts as two series.
func PageLimit(level, k float64, n, series int) float64 {
	each := Sidak(level, series)
	low, high := 0.0, 1.0
	for 1-newPageChain(high, k, 0).survival(n) > each {
		low, high = high, 2*high
	}
	for range 60 {
		if mid := (low + high) / 2; 1-newPageChain(mid, k, 0).survival(n) > each {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}
