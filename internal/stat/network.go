package stat

import "fmt"

// Network is data reconciliation in its classical form: measurements y of streams with independent errors, and balances
// A x = 0 of nodes that the true values keep. Its model has one balance for each node, with residual A y, and one
// error source for each stream, with column A e_j sigma_j. So all that a [Model] offers is here too.
//
// After Narasimhan and Jordache, Data Reconciliation and Gross Error Detection (2000), chapter 7.
type Network struct {
	*Model
	a           [][]float64
	y, sigma    []float64
	attribution *Attribution
}

// NewNetwork returns the network of an incidence matrix, measurements and their standard uncertainties. The rows of
// A are the nodes, its columns the streams: 1 for a stream into the node, -1 for one out of it.
func NewNetwork(a [][]float64, y, sigma []float64) (*Network, error) {
	rows := make([]Row, len(a))
	for k, coefficients := range a {
		if len(coefficients) != len(y) || len(y) != len(sigma) {
			return nil, fmt.Errorf("node %d: %d coefficients, %d measurements, %d uncertainties: want as many of each",
				k, len(coefficients), len(y), len(sigma))
		}
		rows[k] = Row{Pile: k, Period: 1, Residual: dot(coefficients, y)}
	}
	n := &Network{a: a, y: y, sigma: sigma}
	sources := make([]Source, len(y))
	for j := range y {
		sources[j] = Source{Kind: OtherError, Index: j, Column: n.column(j, sigma[j])}
	}
	var err error
	if n.Model, err = NewModel(rows, sources); err != nil {
		return nil, err
	}
	n.attribution = n.Attribute()
	return n, nil
}

// column returns what an error of stream j does to the residuals.
func (n *Network) column(j int, mass float64) Vector {
	var v Vector
	for k := range n.a {
		if c := n.a[k][j] * mass; c != 0 {
			v = append(v, Element{k, c})
		}
	}
	return v
}

// Stream is a measured stream after reconciliation.
type Stream struct {
	Adjusted, Sigma float64
	// Measurement is the measurement test: the adjustment in the standard deviations of an adjustment.
	Measurement float64
	Bias        Fit // of this measurement alone; its z^2 is the generalised likelihood ratio
}

// Streams returns the reconciled streams.
func (n *Network) Streams() []Stream {
	streams := make([]Stream, len(n.y))
	for j := range n.y {
		streams[j] = Stream{
			Adjusted:    n.y[j] - n.sigma[j]*n.attribution.Errors[j],
			Sigma:       n.remaining([]Term{{j, n.sigma[j]}}),
			Measurement: n.attribution.MeasurementTest(j),
			Bias:        n.Fit(n.column(j, 1)),
		}
	}
	return streams
}

// Leak returns the fit of a leak at node k. Its z is also the maximum power test of that balance; the nodal test is
// the z of Balance(k).
func (n *Network) Leak(k int) Fit { return n.Fit(Vector{{k, 1}}) }
