package stat

import "math"

// Attribution says which error sources the residuals most likely come from, if from measurement error: the most
// likely errors z = B'V^-1 s, and what each contributes to each residual.
type Attribution struct {
	model *Model
	// Errors is the most likely value of each source's error, in its standard deviations.
	Errors []float64
	// rest is by row the rounding error of the sum of contributions, and the source whose contribution is largest
	// and takes it.
	rest []roundingRest
}

type roundingRest struct {
	source int
	mass   float64
	large  float64
}

// Attribute returns the attribution of the model's residuals.
func (m *Model) Attribute() *Attribution {
	n := len(m.rows)
	solved := make([]float64, n) // V^-1 s
	for i, u := range m.u {
		axpy(u, m.x[i*n:i*n+i+1], solved[:i+1])
	}
	a := &Attribution{model: m, Errors: make([]float64, len(m.sources)), rest: make([]roundingRest, n)}
	for i, r := range m.rows {
		a.rest[i].mass = r.Residual
	}
	for k, s := range m.sources {
		for _, e := range s.Column {
			a.Errors[k] += e.Value * solved[e.Row]
		}
		for _, e := range s.Column {
			rest := &a.rest[e.Row]
			c := e.Value * a.Errors[k]
			rest.mass -= c
			if math.Abs(c) > rest.large {
				rest.source, rest.large = k, math.Abs(c)
			}
		}
	}
	return a
}

// Contribution returns what source k contributes to each residual, in t. Over all sources the contributions to a
// residual sum to it: V V^-1 s = s. What rounding leaves (some 1e-13 of the largest) is in the largest.
func (a *Attribution) Contribution(k int) Vector {
	column := a.model.sources[k].Column
	v := make(Vector, len(column))
	for i, e := range column {
		v[i] = Element{e.Row, e.Value * a.Errors[k]}
		if rest := a.rest[e.Row]; rest.source == k {
			v[i].Value += rest.mass
		}
	}
	return v
}

// ByKind returns for each balance what each kind of source contributes to its residual, in t. The kinds sum to
// the residual.
func (a *Attribution) ByKind() []PerKind {
	kinds := make([]PerKind, len(a.model.rows))
	for k, s := range a.model.sources {
		for _, e := range a.Contribution(k) {
			kinds[e.Row][s.Kind] += e.Value
		}
	}
	return kinds
}

// MeasurementTest returns the most likely error of source k in the standard deviations of that estimate. For
// independent measurements it is the measurement test of data reconciliation, and its square is the generalised
// likelihood ratio of a bias in that measurement.
func (a *Attribution) MeasurementTest(k int) float64 {
	w := a.model.whitenSparse(a.model.sources[k].Column, len(a.model.rows))
	return a.Errors[k] / math.Sqrt(dot(w, w))
}

// remaining returns the standard uncertainty that a sum of terms keeps when the balances are taken into account.
func (m *Model) remaining(terms []Term) float64 {
	variance, seen := 0.0, gather{}
	for _, t := range terms {
		variance += t.Factor * t.Factor
		seen.addAll(m.sources[t.Source].Column, t.Factor)
	}
	w := m.whitenSparse(seen.vector(1), len(m.rows))
	return math.Sqrt(max(variance-dot(w, w), 0))
}

// Reconciled is a balance after every measurement has been corrected by its most likely error. It closes:
// Opening + In - Out - Closing = 0. All masses are in t of solids.
type Reconciled struct {
	Opening, In, Out, Closing float64
	ClosingSigma              float64 // standard uncertainty of Closing
}

// Reconcile returns the reconciled balances: the weighted least squares estimate x = y - S A'H^-1 A y of data
// reconciliation, for the correlated errors of the error-source model. It takes the whole difference
// to be measurement error, so it is for periods without an alarm. m is the model of these observations.
func (o *Observations) Reconcile(m *Model) []Reconciled {
	e, a := o.errorModel(), m.Attribute()
	correct := func(mass float64, terms []Term) float64 {
		for _, t := range terms {
			mass -= t.Factor * a.Errors[t.Source]
		}
		return mass
	}
	balances := make([]Reconciled, len(o.Balances))
	for i, b := range o.Balances {
		r := &balances[i]
		r.Opening = correct(o.Surveys[b.Opening].Mass, e.surveys[b.Opening])
		for j, f := range b.Flows {
			if mass := correct(f.Mass, e.flows[i][j]); f.Mass > 0 {
				r.In += mass
			} else {
				r.Out -= mass
			}
		}
		r.Closing = correct(o.Surveys[b.Closing].Mass, e.surveys[b.Closing]) - correct(0, e.other[i])
		r.ClosingSigma = m.remaining(e.surveys[b.Closing])
	}
	return balances
}
