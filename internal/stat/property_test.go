package stat

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// near holds two values to be equal but for rounding, relative to a scale.
func near(a, b, scale float64) bool { return math.Abs(a-b) <= 1e-7*math.Max(1, scale) }

func drawModel(t *rapid.T) (*Observations, *Model) {
	o := drawYard(t)
	m, err := o.Model()
	if err != nil {
		t.Fatal(err)
	}
	return o, m
}

// V is the sum of the sources' outer products, symmetric, and L L'.
func TestCovarianceIsOfTheSources(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, m := drawModel(t)
		n := m.Len()
		direct := make([][]float64, n)
		for i := range direct {
			direct[i] = make([]float64, n)
		}
		for _, s := range m.Sources() {
			for _, a := range s.Column {
				for _, b := range s.Column {
					direct[a.Row][b.Row] += a.Value * b.Value
				}
			}
		}
		for i := range n {
			for j := range n {
				if !near(m.Covariance(i, j), direct[i][j], direct[i][i]+direct[j][j]) || m.Covariance(i, j) != m.Covariance(j, i) {
					t.Fatalf("V[%d][%d] = %v, want %v", i, j, m.Covariance(i, j), direct[i][j])
				}
				product := 0.0
				for k := range min(i, j) + 1 {
					product += m.l[i*n+k] * m.l[j*n+k]
				}
				if !near(product, direct[i][j], direct[i][i]+direct[j][j]) {
					t.Fatalf("(L L')[%d][%d] = %v, want %v", i, j, product, direct[i][j])
				}
			}
		}
	})
}

// A sum of residuals never has a negative variance, and one balance at a time gives what Cumulate gives.
func TestSumsHaveVariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, m := drawModel(t)
		var all []int
		for i := range m.Len() {
			all = append(all, i)
		}
		for k, s := range m.Cumulate(all) {
			residual, variance := 0.0, 0.0
			for i := range k + 1 {
				residual += m.Row(i).Residual
				for j := range k + 1 {
					variance += m.Covariance(i, j)
				}
			}
			if !near(s.Residual, residual, math.Abs(residual)) || !(s.Sigma > 0) || !near(s.Sigma*s.Sigma, variance, 10*variance) {
				t.Fatalf("sum of %d is %+v, want %v with variance %v", k+1, s, residual, variance)
			}
		}
	})
}

// What the sources contribute sums to the residual, and to the same by kind.
func TestContributionsSumToResiduals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, m := drawModel(t)
		a := m.Attribute()
		sums := make([]float64, m.Len())
		for k := range m.Sources() {
			for _, e := range a.Contribution(k) {
				sums[e.Row] += e.Value
			}
		}
		for i, kinds := range a.ByKind() {
			total := 0.0
			for _, mass := range kinds {
				total += mass
			}
			want := m.Row(i).Residual
			if tolerance := 1e-9 * math.Max(1, math.Abs(want)); math.Abs(sums[i]-want) > tolerance || math.Abs(total-want) > tolerance {
				t.Fatalf("contributions to %d sum to %v, kinds to %v, want %v", i, sums[i], total, want)
			}
		}
	})
}

// Reconciled balances close, and their stocks are at least as sure as the surveys were.
func TestReconciledBalancesClose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o, m := drawModel(t)
		e := o.errorModel()
		for i, r := range o.Reconcile(m) {
			if rest := r.Opening + r.In - r.Out - r.Closing; math.Abs(rest) > 1e-6 {
				t.Fatalf("balance %d is open by %v t", i, rest)
			}
			square := 0.0
			for _, term := range e.surveys[o.Balances[i].Closing] {
				square += term.Factor * term.Factor
			}
			if prior := math.Sqrt(square); r.ClosingSigma > prior*(1+1e-9) || r.ClosingSigma <= 0 {
				t.Fatalf("balance %d: reconciled stock has sigma %v, the survey %v", i, r.ClosingSigma, prior)
			}
		}
	})
}

// The numbers of piles mean nothing: other numbers give the same results, in another order.
func TestPilesMayBeRenumbered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o, m := drawModel(t)
		other, places := renumbered(o, func(pile int) int { return 100 - 7*pile })
		n, err := other.Model()
		if err != nil {
			t.Fatal(err)
		}
		if !near(m.Global().Value, n.Global().Value, m.Global().Value) {
			t.Fatalf("chi2 %v and %v", m.Global().Value, n.Global().Value)
		}
		for k, c := range m.PeriodTests() {
			if d := n.PeriodTests()[k]; !near(c.Value, d.Value, c.Value) || c.DF != d.DF {
				t.Fatalf("period %d: chi2 %v and %v", k, c, d)
			}
		}
		e, f := m.Innovations(), n.Innovations()
		for i, to := range places {
			if !near(m.Balance(i).Z(), n.Balance(to).Z(), math.Abs(m.Balance(i).Z())) || !near(e[i], f[to], math.Abs(e[i])) {
				t.Fatalf("balance %d: z %v and %v, innovation %v and %v", i, m.Balance(i).Z(), n.Balance(to).Z(), e[i], f[to])
			}
		}
		last := len(m.Periods()) - 1
		ranked, again := NewScan(m, o.Hypotheses(DefaultPriors())).posterior(last), NewScan(n, other.Hypotheses(DefaultPriors())).posterior(last)
		if len(ranked) != len(again) {
			t.Fatalf("%d causes and %d", len(ranked), len(again))
		}
		for i := range ranked {
			if !near(ranked[i].Share, again[i].Share, 1) {
				t.Fatalf("cause %d has share %v and %v", i, ranked[i].Share, again[i].Share)
			}
		}
	})
}

// Twice the tonnes with the same relative uncertainties are the same evidence; twice the uncertainties are half.
func TestScaling(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o, m := drawModel(t)
		kappa := rapid.Float64Range(0.5, 3).Draw(t, "kappa")
		wide, err := o.Scaled(kappa).Model()
		if err != nil {
			t.Fatal(err)
		}
		double, err := doubled(o).Model()
		if err != nil {
			t.Fatal(err)
		}
		for i := range m.Len() {
			s, w, d := m.Balance(i), wide.Balance(i), double.Balance(i)
			if !near(w.Sigma, kappa*s.Sigma, w.Sigma) || !near(d.Sigma, 2*s.Sigma, d.Sigma) || !near(d.Z(), s.Z(), math.Abs(s.Z())) {
				t.Fatalf("balance %d: %+v, scaled by %v %+v, doubled %+v", i, s, kappa, w, d)
			}
			if !near(wide.u[i]*kappa, m.u[i], math.Abs(m.u[i])) {
				t.Fatalf("u %d is %v, and %v of %v times the uncertainties", i, m.u[i], wide.u[i], kappa)
			}
		}
		// Scaled returns new observations and leaves the old ones alone.
		if again, err := o.Model(); err != nil || again.Balance(0) != m.Balance(0) {
			t.Fatalf("scaling changed the original: %v", err)
		}
	})
}

// doubled returns observations of twice the mass.
func doubled(o *Observations) *Observations {
	d := o.Scaled(1) // a copy
	for i := range d.Surveys {
		d.Surveys[i].Mass *= 2
		d.Surveys[i].Window *= 2
	}
	for i := range d.Bases {
		d.Bases[i].Mass *= 2
	}
	d.Resolution *= 2
	d.Balances = append([]Balance(nil), o.Balances...)
	for i, b := range d.Balances {
		d.Balances[i].Flows = append([]Flow(nil), b.Flows...)
		for j := range d.Balances[i].Flows {
			d.Balances[i].Flows[j].Mass *= 2
		}
	}
	return d
}

// A scan says of each period what a model of the balances to that date says.
func TestScanKnowsOnlyThePast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o, m := drawModel(t)
		set := o.Hypotheses(DefaultPriors())
		scan := NewScan(m, set)
		for at, p := range m.periods {
			past, err := NewModel(m.rows[:p.hi], truncated(m.sources, p.hi))
			if err != nil {
				t.Fatal(err)
			}
			for h := range set.Len() {
				got, want := scan.Fit(h, at), past.Fit(cut(set.Vector(h), p.hi))
				if class := set.At(h).Cause.Class; class != ClassLoss && class != ClassSwap && want.Sigma > maxFraction {
					want = Fit{Sigma: math.Inf(1)} // says nothing
				}
				if math.IsInf(want.Sigma, 1) != math.IsInf(got.Sigma, 1) || !near(got.Z(), want.Z(), math.Abs(want.Z())) {
					t.Fatalf("%+v at period %d: %+v, want %+v", set.At(h), p.period, got, want)
				}
			}
		}
	})
}

func truncated(sources []Source, hi int) []Source {
	var cutSources []Source
	for _, s := range sources {
		if s.Column = cut(s.Column, hi); len(s.Column) > 0 {
			cutSources = append(cutSources, s)
		}
	}
	return cutSources
}

func cut(v Vector, hi int) Vector {
	var c Vector
	for _, e := range v {
		if e.Row < hi && e.Value != 0 {
			c = append(c, e)
		}
	}
	return c
}

// The draws of the Monte Carlo skip swaps that cannot be largest. They must find what a plain search finds.
func TestTallySkipsNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o, m := drawModel(t)
		scan := NewScan(m, o.Hypotheses(DefaultPriors()))
		var got, want PerClass
		c := tally{scan, make([]float64, scan.columns.len())}
		scan.score([][]float64{m.u}, func(at, _ int, scores []float64) { c.add(at, scores, &got) })
		for at := range m.periods {
			for h := range scan.set.entries {
				e, z := scan.set.entries[h], scan.Fit(h, at).Z()
				if !e.OneSided || e.Mean != 0 {
					z = math.Abs(z)
				}
				want[e.Cause.Class] = math.Max(want[e.Cause.Class], z)
			}
		}
		for class := range want {
			if !near(got[class], want[class], want[class]) {
				t.Fatalf("largest %s is %v, want %v", Class(class), got[class], want[class])
			}
		}
	})
}
