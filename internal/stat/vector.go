package stat

import "slices"

// Element is one non-zero component of a sparse vector over the balances of a model.
type Element struct {
	Row   int // of the model, from 0
	Value float64
}

// Vector is a sparse vector over the balances of a model: rows ascending, none repeated, no zero values.
type Vector []Element

// gather makes a Vector of values that are summed by row. It is the way every column is built: a source
// that reaches a balance by several flows reaches it once, with their sum.
type gather map[int]float64

func (g gather) add(row int, value float64) { g[row] += value }

// addAll adds a multiple of a vector.
func (g gather) addAll(v Vector, factor float64) {
	for _, e := range v {
		g[e.Row] += e.Value * factor
	}
}

// vector returns what was gathered times a factor.
func (g gather) vector(factor float64) Vector {
	v := make(Vector, 0, len(g))
	for row, value := range g {
		if value*factor != 0 {
			v = append(v, Element{row, value * factor})
		}
	}
	slices.SortFunc(v, func(a, b Element) int { return a.Row - b.Row })
	return v
}
