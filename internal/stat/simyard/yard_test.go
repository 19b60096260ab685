package simyard

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/internal/stat"
)

func simulate(t *testing.T, y Yard, rng *rand.Rand, faults ...Fault) *Year {
	t.Helper()
	year, err := Simulate(y, rng, faults...)
	if err != nil {
		t.Fatal(err)
	}
	return year
}

func modelOf(t *testing.T, o *stat.Observations) *stat.Model {
	t.Helper()
	m, err := o.Model()
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// The yard must be the one of section 7.5 of the method page, as far as that is printed: mean stock, mean sigma of a
// month and sigma of twelve of each pile.
func TestStandardYardIsThePages(t *testing.T) {
	o := simulate(t, Standard(12), nil).Observations()
	m := modelOf(t, o)
	within := func(what string, got, want, part float64) {
		t.Helper()
		if math.Abs(got-want) > part*math.Abs(want) {
			t.Errorf("%s = %.4g, want %.4g within %.1f %%", what, got, want, 100*part)
		}
	}
	for i, want := range []struct{ stock, sigma, cumulative float64 }{
		{34741, 580.6, 1133}, {18046, 302.1, 583}, {21596, 363.7, 730}, {9274, 152.8, 261}, {41962, 690.1, 1151}, {12168, 199.6, 344},
	} {
		rows := m.RowsOf(i, stat.None)
		sums := m.Cumulate(rows)
		stock, sigma := 0.0, 0.0
		for _, r := range rows {
			stock += o.Surveys[o.Balances[r].Closing].Mass / 12
			sigma += m.Balance(r).Sigma / 12
		}
		name := Standard(12).Piles[i].Name
		within("mean stock of "+name, stock, want.stock, 1e-9)
		within("sigma of "+name, sigma, want.sigma, 0.02)
		within("sigma of twelve months of "+name, sums[11].Sigma, want.cumulative, 0.03)
	}
	var all []int
	for i := range m.Len() {
		all = append(all, i)
	}
	sums := m.Cumulate(all)
	within("sigma of the site in month 1", sums[5].Sigma, 1049.2, 0.01)
	within("sigma of the site in twelve", sums[71].Sigma, 2872.3, 0.01)

	b6 := m.RowsOf(1, 5)[0]
	within("sigma of B in month 6", m.Balance(b6).Sigma, 321.11, 0.01)
	shares := map[stat.Kind]float64{}
	for _, s := range m.Sources() {
		for _, e := range s.Column {
			if e.Row == b6 {
				shares[s.Kind] += 100 * e.Value * e.Value / m.Covariance(b6, b6)
			}
		}
	}
	for kind, want := range map[stat.Kind]float64{stat.SurveyVolume: 88.71, stat.BeltSystematic: 5.92, stat.LoaderSystematic: 2.62,
		stat.BeltRandom: 1.48, stat.DensityError: 1.24} {
		if math.Abs(shares[kind]-want) > 0.2 {
			t.Errorf("variance of B in month 6 is %.2f %% %s, want %.2f", shares[kind], kind, want)
		}
	}
}

// The page's cosines of whitened signatures over twelve months.
func TestStandardYardTellsApartWhatThePagesDoes(t *testing.T) {
	o := simulate(t, Standard(12), nil).Observations()
	set := o.Hypotheses(stat.DefaultPriors())
	if set.Len() != 687 {
		t.Errorf("%d hypotheses, want 687: the page's 1,032, with the 345 that only name a swap the other way round as one", set.Len())
	}
	scan := stat.NewScan(modelOf(t, o), set)
	find := func(c stat.Cause, onset int, shape stat.Shape) int {
		for i := range set.Len() {
			if h := set.At(i); h.Cause == c && h.Onset == onset && h.Shape == shape {
				return i
			}
		}
		t.Fatalf("no hypothesis %+v", c)
		return 0
	}
	pile := func(class stat.Class, i int) stat.Cause {
		return stat.Cause{Class: class, Pile: i, Other: stat.None, Instrument: stat.None}
	}
	swap := func(i, j int) stat.Cause {
		return stat.Cause{Class: stat.ClassSwap, Pile: i, Other: j, Instrument: stat.None}
	}
	scale := func(class stat.Class, i int) stat.Cause {
		return stat.Cause{Class: class, Pile: stat.None, Other: stat.None, Instrument: i}
	}
	lossB6 := find(pile(stat.ClassLoss, 1), 6, stat.Pulse)
	for _, c := range []struct {
		what      string
		g, h      int
		want, tol float64
	}{
		{"loss B 6, density B from 6", lossB6, find(pile(stat.ClassDensity, 1), 6, stat.Step), -0.992, 0.01},
		{"loss B 6, loss B 5-12", lossB6, find(pile(stat.ClassLoss, 1), 5, stat.Step), 0.683, 0.04},
		{"loss B 6, swap B>C 7", lossB6, find(swap(1, 2), 7, stat.Pulse), 0.595, 0.04},
		{"loader 1, belt 1", find(scale(stat.ClassLoader, 0), 4, stat.Step), find(scale(stat.ClassBelt, 0), 4, stat.Step), -0.511, 0.06},
		{"swap E>F 9, density E from 8", find(swap(4, 5), 9, stat.Pulse), find(pile(stat.ClassDensity, 4), 8, stat.Step), -0.402, 0.06},
	} {
		if got := scan.Cosine(c.g, c.h, 11); math.Abs(got-c.want) > c.tol {
			t.Errorf("cosine of %s = %.3f, want %.3f", c.what, got, c.want)
		}
	}
}

// Stone is neither made nor lost by the simulation: stocks follow from movements.
func TestStocksFollowFromMovements(t *testing.T) {
	loss := Fault{Kind: Loss, Pile: 1, From: 3, Until: 5, Size: 250}
	year := simulate(t, Standard(12), rand.New(rand.NewPCG(1, 2)), loss)
	stock := map[int]float64{}
	next := 0
	for _, s := range year.Stocks {
		if s.Month == 0 {
			stock[s.Pile] = s.True
			continue
		}
		for ; next < len(year.Movements) && year.Movements[next].Month == s.Month; next++ {
			m := year.Movements[next]
			switch m.Kind {
			case Produced:
				stock[m.Pile] += m.True
			case Sold:
				stock[m.Pile] -= m.True
			case Transferred:
				stock[m.Pile] -= m.True
				stock[m.Other] += m.True
			}
		}
		stock[s.Pile] -= s.Lost
		if math.Abs(stock[s.Pile]-s.True) > 1e-6 {
			t.Fatalf("pile %d at the end of month %d holds %.6f t, want %.6f", s.Pile, s.Month, s.True, stock[s.Pile])
		}
	}
}

// Without errors a year balances but for its fault, and the fault's own hypothesis fits with its size.
func TestEveryFaultIsAHypothesis(t *testing.T) {
	clean := modelOf(t, simulate(t, Standard(12), nil).Observations())
	for i := range clean.Len() {
		if r := clean.Row(i).Residual; math.Abs(r) > 1e-6 {
			t.Fatalf("balance %d of a year without errors is open by %v t", i, r)
		}
	}
	for _, c := range []struct {
		fault Fault
		size  float64
		turn  float64 // -1 where the set has the swap the other way round
	}{
		{Fault{Kind: Loss, Pile: 1, From: 6, Until: 6, Size: 800}, 800, 1},
		{Fault{Kind: Loss, Pile: 1, From: 5, Until: forGood, Size: 200}, 200, 1},
		{Fault{Kind: MissingRecords, Pile: 0, From: 3, Until: 3, Size: 140}, 140, 1},
		{Fault{Kind: Swap, Pile: 2, Other: 1, From: 7, Until: 7, Size: 1000}, 1000, -1},
		{Fault{Kind: MissedTransfer, Pile: 5, Other: 4, From: 9, Until: 9}, 2200, -1},
		{Fault{Kind: LoaderBias, Instrument: 0, From: 4, Until: forGood, Size: 0.03}, 0.03 / 1.03, 1},
		{Fault{Kind: BeltBias, Instrument: 1, From: 4, Until: forGood, Size: -0.03}, -0.03 / 0.97, 1},
		{Fault{Kind: WrongDensity, Pile: 4, From: 8, Until: forGood, Size: 0.06}, 0.06 / 1.06, 1},
		{Fault{Kind: WrongSurvey, Pile: 0, From: 6, Until: 6, Size: 0.05}, 0.05 / 1.05, 1},
	} {
		o := simulate(t, Standard(12), nil, c.fault).Observations()
		m := modelOf(t, o)
		set := o.Hypotheses(stat.DefaultPriors())
		truth := c.fault.Cause()
		if c.turn < 0 {
			truth.Pile, truth.Other = truth.Other, truth.Pile
		}
		found := false
		for h := range set.Len() {
			hyp := set.At(h)
			lasting := c.fault.Until > c.fault.From
			if hyp.Cause != truth || hyp.Onset != c.fault.From || lasting != (hyp.Shape == stat.Step) {
				continue
			}
			found = true
			fit := m.Fit(set.Vector(h))
			if math.Abs(c.turn*fit.Size-c.size) > 1e-6*c.size*c.turn && math.Abs(c.turn*fit.Size-c.size) > 1e-6*math.Abs(c.size) {
				t.Errorf("%s: size %v, want %v", c.fault.Kind, c.turn*fit.Size, c.size)
			}
			if rest := m.Global().Value - fit.Z()*fit.Z(); rest > 1e-6*m.Global().Value {
				t.Errorf("%s: leaves %v of chi2 %v unexplained", c.fault.Kind, rest, m.Global().Value)
			}
		}
		if !found {
			t.Errorf("%s: no hypothesis %+v", c.fault.Kind, truth)
		}
	}
}

// Records a month late are missing in one balance and too many in the next.
func TestLumpedRecords(t *testing.T) {
	m := modelOf(t, simulate(t, Standard(12), nil, Fault{Kind: LumpedRecords, Pile: 1, From: 4, Until: 4, Size: 900}).Observations())
	for k, i := range m.RowsOf(1, stat.None) {
		want := map[int]float64{3: 900, 4: -900}[k]
		if got := m.Row(i).Residual; math.Abs(got-want) > 1e-6 {
			t.Errorf("residual of month %d is %v, want %v", k+1, got, want)
		}
	}
}

func TestSameSeedSameYear(t *testing.T) {
	seeded := func(seed uint64, faults ...Fault) *Year {
		return simulate(t, Standard(12), rand.New(rand.NewPCG(seed, 0)), faults...)
	}
	if diff := cmp.Diff(seeded(1), seeded(1)); diff != "" {
		t.Errorf("one seed, two years:\n%s", diff)
	}
	if cmp.Equal(seeded(1).Stocks, seeded(2).Stocks) {
		t.Error("two seeds, one year")
	}
	// A fault changes what it touches and no error.
	faulty := seeded(1, Fault{Kind: Swap, Pile: 2, Other: 1, From: 7, Until: 7, Size: 1000})
	changed := 0
	for i, m := range seeded(1).Movements {
		if m != faulty.Movements[i] {
			changed++
		}
	}
	if diff := cmp.Diff(seeded(1).Stocks, faulty.Stocks); diff != "" || changed != 2 {
		t.Errorf("%d records changed, want 2; stocks:\n%s", changed, diff)
	}
}

func TestFaultsAreChecked(t *testing.T) {
	for _, c := range []struct {
		fault Fault
		says  string
	}{
		{Fault{Kind: Loss, Pile: 6, From: 1, Until: 1}, "loss: pile 6"},
		{Fault{Kind: Swap, Pile: 1, Other: 1, From: 1, Until: 1}, "swap: piles 1 and 1"},
		{Fault{Kind: MissedTransfer, Pile: -1, From: 1, Until: 1}, "transfer: piles -1 and 0"},
		{Fault{Kind: BeltBias, Instrument: 2, From: 1, Until: 1}, "belt: instrument 2"},
		{Fault{Kind: LoaderBias, Instrument: -1, From: 1, Until: 1}, "loader: instrument -1"},
		{Fault{Kind: WrongSurvey, From: 3, Until: 2}, "months 3 to 2"},
		{Fault{From: 1, Until: 1}, "unknown kind"},
	} {
		if _, err := Simulate(Standard(12), nil, c.fault); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%+v: error %v, want one that says %q", c.fault, err, c.says)
		}
	}
	if _, err := Simulate(Standard(0), nil); err == nil {
		t.Error("a yard of no months was simulated")
	}
}

func TestFaultNames(t *testing.T) {
	for k := Loss; k <= WrongSurvey; k++ {
		if got, err := ParseFaultKind(k.String()); err != nil || got != k {
			t.Errorf("%s: read back as %s, %v", k, got, err)
		}
	}
	for _, name := range []string{"", "unknown", "theft"} {
		if k, err := ParseFaultKind(name); err == nil {
			t.Errorf("%q: read as %s", name, k)
		}
	}
	if got := FaultKind(0).String(); got != "unknown" {
		t.Errorf("no fault is called %q", got)
	}
}
