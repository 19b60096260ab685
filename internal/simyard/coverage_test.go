package simyard_test

import (
	"math"
	"slices"
	"testing"

	"repose/internal/measure"
	"repose/internal/simyard"
	"repose/ledger"
)

// sigma is the standard uncertainty of the balance of a pile and month, in closed form: what each source of
// error contributes by the stated uncertainties and the true stocks and flows.
func sigma(truth simyard.Truth, pile, month int) float64 {
	p := truth.Piles[pile]
	m := p.Months[month-1]
	before, after := tonnes(p.Surveys[month-1].Solids), tonnes(p.Surveys[month].Solids)
	made := tonnes(m.Made)
	dry := 1e6 / (1e6 + float64(m.MoisturePPM))

	variance := square(0.03*(before-after)) + square(0.0112*before) + square(0.0112*after) + square(0.010*made) + square(0.005*made)
	const moisture = 2 * 0.003 * 0.003 // that of all tests of a pile, and that of the month's
	byLoader := map[string]float64{}
	left := made // what the pile's own moisture errors work on
	for _, w := range m.Weighings {
		solids := tonnes(w.Wet) * dry
		byLoader[w.Loader] += solids
		left -= solids
		variance += square(0.010*solids) / float64(w.Records)
	}
	for _, q := range truth.Piles {
		n := q.Months[month-1]
		for _, w := range n.Weighings {
			if w.To == p.Pile {
				solids := tonnes(w.Wet) * 1e6 / (1e6 + float64(n.MoisturePPM))
				byLoader[w.Loader] -= solids
				variance += square(0.010*solids)/float64(w.Records) + moisture*square(solids)
			}
		}
	}
	for _, solids := range byLoader {
		variance += square(0.007 * solids)
	}
	return math.Sqrt(variance + moisture*square(left))
}

func square(x float64) float64 { return x * x }

// moments holds the mean of squares of numbers that should be standard normal.
type moments struct{ n, sum float64 }

func (m *moments) add(z float64) { m.n++; m.sum += z * z }

// check holds the mean of squares to 1 within four standard errors, each number counted as independent.
func (m *moments) check(t *testing.T, what string) {
	t.Helper()
	if mean := m.sum / m.n; m.n == 0 || math.Abs(mean-1) > 4*math.Sqrt(2/m.n) {
		t.Errorf("%s: mean square of %.0f draws is %.3f, want 1 within %.3f", what, m.n, mean, 4*math.Sqrt(2/m.n))
	}
}

// Over many yards, every source of error has the uncertainty that it states, every balance the closed form's,
// and 95 % of balances lie within 1.96 of it.
func TestErrorsAreAsStated(t *testing.T) {
	const yards = 100
	draws := map[string]*moments{}
	add := func(source string, e simyard.PPB, sigma float64) {
		if draws[source] == nil {
			draws[source] = &moments{}
		}
		draws[source].add(fraction(e) / sigma)
	}
	cells := map[cell]*moments{}
	inside := 0.0
	for seed := range uint64(yards) {
		truth := generate(t, coarse(seed)).Truth
		for i, p := range truth.Piles {
			add("opening", p.OpeningErrorPPB, 0.03)
			add("density", p.DensityTestErrorsPPB[0], 0.03)
			add("moisture of a pile", p.MoistureErrorPPB, 0.003)
			for k, m := range p.Months {
				add("moisture of a month", m.MoistureErrorPPB-p.MoistureErrorPPB, 0.003)
				add("volume", p.Surveys[k].VolumeErrorPPB, 0.0112)
				add("belt, random", m.BeltRandomErrorPPB, 0.005)
				for _, w := range m.Weighings {
					mean := float64(w.Wet) / math.Sqrt(float64(w.Records)) // of n equal loads, 1 % each
					add("weighings", simyard.PPB(math.Round(float64(w.Error)/mean*1e9)), 0.010)
				}
				z := account{truth, nil}.residual(i, k+1) / sigma(truth, i, k+1)
				c := cell{p.Pile, k + 1}
				if cells[c] == nil {
					cells[c] = &moments{}
				}
				cells[c].add(z)
				if math.Abs(z) <= 1.959964 {
					inside++
				}
			}
		}
		for _, in := range truth.Instruments {
			for _, e := range in.CalibrationErrorsPPB {
				add("systematic, "+in.Instrument[:1], e, map[byte]float64{'B': 0.010, 'L': 0.007, 'D': 0.001}[in.Instrument[0]])
			}
		}
	}
	for source, m := range draws {
		m.check(t, source)
	}
	if len(cells) != 72 {
		t.Errorf("%d piles and months, want 72", len(cells))
	}
	for c, m := range cells {
		m.check(t, c.pile)
	}
	// Months of one pile and piles of one belt are not independent, which widens the spread by less than half.
	share, n := inside/(72*yards), 72.0*yards
	if limit := 4 * 1.5 * math.Sqrt(0.95*0.05/n); math.Abs(share-0.95) > limit {
		t.Errorf("%.4f of the balances lie within their 95 %% interval, want 0.95 within %.4f", share, limit)
	}
}

// The true errors are as many times the stated ones as is asked for, in the same yard.
func TestScale(t *testing.T) {
	cfg := coarse(9)
	one := generate(t, cfg).Truth
	cfg.Scale = 1.5
	wide := generate(t, cfg).Truth
	for i, p := range one.Piles {
		q := wide.Piles[i]
		for k, s := range p.Surveys {
			if q.Surveys[k].Solids != s.Solids {
				t.Errorf("%s %s: true stock differs", p.Pile, s.Survey)
			}
			if d := float64(q.Surveys[k].VolumeErrorPPB) - 1.5*float64(s.VolumeErrorPPB); math.Abs(d) > 2 {
				t.Errorf("%s %s: volume error %d ppb, want 1.5 times %d", p.Pile, s.Survey, q.Surveys[k].VolumeErrorPPB, s.VolumeErrorPPB)
			}
		}
	}
}

// What the program itself reckons from the tables fits too: what residuals leave of the true shrinkage against
// their covariance, and the true shrinkage against the 95 % interval of a residual.
func TestProgramsUncertaintiesFit(t *testing.T) {
	const yards = 20
	var global moments
	inside, n := 0.0, 0.0
	for seed := range uint64(yards) {
		cfg := coarse(1000 + seed)
		cfg.LoadT = 500
		if seed%2 == 1 {
			cfg = with(cfg, "loss:B:6:800t", "swap:C>B:7:1000t", "missed-transfer:F>E:9:2200t")
		}
		y := generate(t, cfg)
		reg, months := derive(t, takeIn(t, y), cfg.Months)
		var balances []ledger.Balance
		for _, m := range months {
			for _, c := range m.Comparisons {
				if b, ok := c.Balance(); ok {
					balances = append(balances, b)
				}
			}
		}
		observed, err := measure.Build(reg, "SIM", balances, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range observed.Assumptions {
			if a.What != "opening stock" { // which only a policy can state
				t.Errorf("%s is assumed to be uncertain by %s, want it stated", a.What, a.Value)
			}
		}
		model, err := observed.Model()
		if err != nil {
			t.Fatal(err)
		}
		errs := make([]float64, model.Len())
		for i := range errs {
			r := model.Row(i)
			errs[i] = r.Residual
			month := slices.Index(y.Truth.Periods, observed.Periods[r.Period].String())
			if month < 0 {
				continue // the opening against the first survey
			}
			errs[i] -= tonnes(y.Truth.Piles[r.Pile].Months[month].Shrinkage)
			n++
			if math.Abs(errs[i]) <= 1.959964*model.Balance(i).Sigma {
				inside++
			}
		}
		for _, u := range model.Whiten(errs) {
			global.add(u)
		}
	}
	if n != 72*yards {
		t.Fatalf("%.0f balances, want %d", n, 72*yards)
	}
	global.check(t, "errors of residuals against their covariance")
	if limit := 4 * 1.5 * math.Sqrt(0.95*0.05/n); math.Abs(inside/n-0.95) > limit {
		t.Errorf("%.4f of the intervals hold the true shrinkage, want 0.95 within %.4f", inside/n, limit)
	}
}
