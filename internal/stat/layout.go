package stat

import "slices"

// columns are the signatures in one piece of memory.
type columns struct {
	rest  []int32
	start []int32 // of each signature's own elements, and the end of the last
	row   []int32
	value []float64
}

func newColumns(signatures []signature) columns {
	c := columns{start: []int32{0}}
	for _, s := range signatures {
		for _, e := range s.own {
			c.row = append(c.row, int32(e.Row))
			c.value = append(c.value, e.Value)
		}
		c.rest = append(c.rest, int32(s.rest))
		c.start = append(c.start, int32(len(c.row)))
	}
	return c
}

func (c *columns) len() int { return len(c.rest) }

// multiply sets out to the product of each signature with x, which may hold leading rows only; the others are
// zero.
func (c *columns) multiply(x, out []float64) {
	out[0] = 0
	for k, rest := range c.rest {
		sum := out[rest]
		for i := c.start[k]; i < c.start[k+1]; i++ {
			if row := int(c.row[i]); row < len(x) {
				sum += c.value[i] * x[row]
			}
		}
		out[k] = sum
	}
}

// single, pair and run hold what the inner loops need of an entry, and no more, so that they stay in the cache.
type (
	// single is a hypothesis with a signature of its own.
	single struct {
		entry, plus int32
		class       Class
		oneSided    bool
	}
	// pair is a swap.
	pair struct{ entry, plus, minus int32 }
	// run is the pairs lo up to but not including hi, which have one loss in common.
	run struct{ plus, lo, hi int32 }
)

// arrange sets out the hypotheses by period, singles and pairs apart, and pairs by their first loss.
func (s *Scan) arrange() {
	n := 0
	used := make([]bool, s.columns.len())
	for _, p := range s.model.periods {
		started := len(s.pairs)
		for ; n < len(s.set.first) && s.set.first[n] < p.hi; n++ {
			if e := s.set.entries[n]; e.minus == 0 {
				s.singles = append(s.singles, single{int32(n), int32(e.plus), e.Cause.Class, e.OneSided})
			} else {
				s.pairs = append(s.pairs, pair{int32(n), int32(e.plus), int32(e.minus)})
				used[e.plus], used[e.minus] = true, true
			}
		}
		slices.SortStableFunc(s.pairs[started:], func(a, b pair) int { return int(a.plus) - int(b.plus) })
		for k := started; k < len(s.pairs); k++ {
			if k == started || s.pairs[k].plus != s.pairs[k-1].plus {
				s.runs = append(s.runs, run{s.pairs[k].plus, int32(k), int32(k)})
			}
			s.runs[len(s.runs)-1].hi = int32(k + 1)
		}
		s.active = append(s.active, n)
		s.activeSingles = append(s.activeSingles, len(s.singles))
		s.activePairs = append(s.activePairs, len(s.pairs))
		s.activeRuns = append(s.activeRuns, len(s.runs))
	}
	for k, u := range used {
		if u {
			s.losses = append(s.losses, int32(k))
		}
	}
}
