package simyard_test

import (
	"math"
	"strings"
	"testing"

	"repose/internal/simyard"
)

// account reckons from the truth what the tables must show.
type account struct {
	truth  simyard.Truth
	faults []simyard.Fault
}

// high returns the factor by which faults make something read high in a month.
func (a account) high(kind simyard.FaultKind, where string, month int) float64 {
	factor := 1.0
	for _, f := range a.faults {
		last := f.Month + f.Months - 1
		if f.Kind == kind && (f.Pile == where || f.Instrument == where) && month >= f.Month && (f.Months == 0 || month <= last) {
			factor *= 1 + f.Size
		}
	}
	return factor
}

// scale returns what an instrument shows for each tonne in a month, single weighings aside.
func (a account) scale(code string, month int) float64 {
	for _, i := range a.truth.Instruments {
		if i.Instrument == code {
			kind := map[byte]simyard.FaultKind{'B': simyard.Belt, 'L': simyard.Loader}[code[0]]
			return (1 + fraction(i.CalibrationErrorsPPB[(month-1)/3])) * a.high(kind, code, month)
		}
	}
	return math.NaN()
}

// survey returns what a survey of a pile with the density in use finds.
func (a account) survey(p simyard.PileTruth, month int) float64 {
	s := p.Surveys[month]
	return tonnes(s.Solids) * (1 + fraction(s.VolumeErrorPPB)) * (1 + fraction(p.DensityTestErrorsPPB[s.DensityTest])) *
		a.high(simyard.Survey, p.Pile, month) * a.high(simyard.Density, p.Pile, month)
}

// weighed returns the solids that the records have of one loader's weighings from a pile.
func (a account) weighed(m simyard.MonthOfPile, w simyard.Weighings, month int) float64 {
	wet := tonnes(w.Wet)*a.scale(w.Loader, month) + tonnes(w.Error) + tonnes(w.Slip)
	return wet / (1 + float64(m.MoisturePPM)/1e6) * entered(m)
}

// entered returns the solids that the records have of each true tonne weighed rightly.
func entered(m simyard.MonthOfPile) float64 {
	if m.MoistureInForcePPM != 0 {
		return (1e6 + float64(m.MoisturePPM)) / (1e6 + float64(m.MoistureInForcePPM))
	}
	return 1 + fraction(m.MoistureErrorPPB)
}

// residual returns what the balance of a pile and month must leave.
func (a account) residual(pile, month int) float64 {
	p := a.truth.Piles[pile]
	m := p.Months[month-1]
	belt := "B1"
	if strings.Contains("DEF", p.Pile) {
		belt = "B2"
	}
	sum := a.survey(p, month-1) - a.survey(p, month)
	sum += tonnes(m.Made) * a.scale(belt, month) * (1 + fraction(m.BeltRandomErrorPPB)) * entered(m)
	sum += tonnes(m.BeltSlip) / (1 + float64(m.MoisturePPM)/1e6) * entered(m)
	for _, w := range m.Weighings {
		sum -= a.weighed(m, w, month)
	}
	for _, q := range a.truth.Piles {
		for _, w := range q.Months[month-1].Weighings {
			if w.To == p.Pile {
				sum += a.weighed(q.Months[month-1], w, month)
			}
		}
	}
	return sum
}

var everyFault = []string{"loss:B:6:800t", "loss:D:5-:40t", "swap:C>B:7:1000t", "loader:L1:4-:+3%", "belt:B2:2-5:-3%",
	"density:E:8-:+6%", "survey:A:6:+5%", "missed-transfer:F>E:9:2200t", "lumped:L1:5:3", "missing:L2:7-8:4"}

// Every balance in the tables is what the truth says of it: stock, flows, each realised error and each fault.
func TestTablesFollowFromTruth(t *testing.T) {
	retested := coarse(3, everyFault...)
	retested.DensityMonths = 4
	fine := coarse(5, everyFault...)
	fine.LoadT = 30
	long := coarse(7)
	long.Months, long.Start = 27, "2027-07"
	for name, cfg := range map[string]simyard.Config{"clean": coarse(1), "every fault": coarse(2, everyFault...),
		"densities tested again": retested, "loads of 30 t": fine, "27 months": long} {
		t.Run(name, func(t *testing.T) {
			y := generate(t, cfg)
			got := balancesOf(t, y)
			want := account{y.Truth, cfg.Faults}
			for i, p := range y.Truth.Piles {
				for month := 1; month <= cfg.Months; month++ {
					g, w := got.residual(cell{p.Pile, month}), want.residual(i, month)
					if math.Abs(g-w) > 0.1 { // moistures, densities and volumes are written rounded
						t.Errorf("%s, month %d: residual %.3f t, want %.3f t", p.Pile, month, g, w)
					}
				}
			}
		})
	}
}

// The truth's own book is exact: nothing but what moved changes a pile.
func TestStonesAreConserved(t *testing.T) {
	conserved(t, generate(t, coarse(2, everyFault...)))
	for _, faults := range recordFaults {
		conserved(t, generate(t, with(simyard.Quick(2), faults...)))
	}
}

func conserved(t *testing.T, y *simyard.Yard) {
	t.Helper()
	var in, out simyard.Grams
	for _, p := range y.Truth.Piles {
		for k, m := range p.Months {
			if want := p.Surveys[k].Solids + m.Made + m.CarriedIn - m.CarriedOut - m.Sold - m.Lost - m.Fed; p.Surveys[k+1].Solids != want {
				t.Errorf("%s %s ends with %d g, want %d g", p.Pile, m.Period, p.Surveys[k+1].Solids, want)
			}
			in, out = in+m.CarriedIn, out+m.CarriedOut
		}
	}
	if in != out || in == 0 {
		t.Errorf("%d g carried in, %d g carried out", in, out)
	}
}

// Without errors a balance leaves the true shrinkage and nothing else, to the steps of the displays.
func TestErrorlessBalanceIsShrinkage(t *testing.T) {
	for _, faults := range [][]string{nil, {"loss:B:6:800t", "swap:C>B:7:1000t", "missed-transfer:F>E:9:2200t", "lumped:L1:5:3", "missing:L2:7-8:4"}} {
		cfg := with(simyard.Default(4), faults...)
		cfg.LoadT, cfg.Scale = 60, 0
		y := generate(t, cfg)
		got := balancesOf(t, y)
		for _, p := range y.Truth.Piles {
			for k, m := range p.Months {
				if g, w := got.residual(cell{p.Pile, k + 1}), tonnes(m.Shrinkage); math.Abs(g-w) > 0.5 {
					t.Errorf("%s %s: residual %.3f t, want %.3f t", p.Pile, m.Period, g, w)
				}
			}
		}
	}
}
