package stat

import (
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func scanOf(t *testing.T, o *Observations, p Priors) *Scan {
	t.Helper()
	return NewScan(must(o.Model())(t), o.Hypotheses(p))
}

func TestThresholdsWhateverTheProcessors(t *testing.T) {
	scan := scanOf(t, regularYard(6, 5, 0), DefaultPriors())
	policy := DefaultAlarmPolicy()
	policy.Draws = 500
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	alone := scan.Thresholds(policy)
	runtime.GOMAXPROCS(4)
	if together := scan.Thresholds(policy); together != alone {
		t.Errorf("thresholds %v with one processor, %v with four", alone, together)
	}
	policy.Seed++
	if scan.Thresholds(policy) == alone {
		t.Error("another seed gives the same thresholds to the last bit")
	}
}

// Draws that the thresholds were not made from exceed any of them as often as was asked, and each class's in
// proportion to its share.
func TestThresholdsHoldTheirLevel(t *testing.T) {
	scan := scanOf(t, regularYard(8, 4, 0), DefaultPriors())
	policy := DefaultAlarmPolicy()
	policy.Draws = 6000
	th := scan.Thresholds(policy)
	const draws = 6000
	any := 0
	var each PerClass
	for _, z := range scan.maxima(draws, AlarmPolicy{Seed: 99}) {
		exceeds := false
		for class := range z {
			if z[class] > th.Z[class] {
				each[class]++
				exceeds = true
			}
		}
		if exceeds {
			any++
		}
	}
	// Four standard errors of the two Monte Carlos together.
	if got, tolerance := float64(any)/draws, 4*math.Sqrt(2*0.05*0.95/draws); math.Abs(got-0.05) > tolerance {
		t.Errorf("%.4f of the draws raise an alarm, want 0.05 within %.4f", got, tolerance)
	}
	if each[ClassSurvey] < 4*each[ClassSwap] || each[ClassSwap] == 0 {
		t.Errorf("surveys exceed %v times and swaps %v, want a ratio near 16", each[ClassSurvey], each[ClassSwap])
	}
}

func TestThresholdsGrowWithDoubt(t *testing.T) {
	scan := scanOf(t, regularYard(6, 4, 0), DefaultPriors())
	policy := DefaultAlarmPolicy()
	policy.Draws = 2000
	known, sidak := scan.Thresholds(policy), scan.Sidak(policy)
	policy.HistoryDF = 24
	estimated := scan.Thresholds(policy)
	for c := ClassLoss; c <= ClassSurvey; c++ {
		if estimated.Z[c] <= known.Z[c] {
			t.Errorf("%s: threshold %.3f with 24 balances of history, want more than %.3f", c, estimated.Z[c], known.Z[c])
		}
		if sidak.Z[c] <= known.Z[c] {
			t.Errorf("%s: Sidak's threshold %.3f, want more than %.3f", c, sidak.Z[c], known.Z[c])
		}
	}
	one := scanOf(t, regularYard(6, 1, 0), DefaultPriors())
	if z := one.Thresholds(policy).Z[ClassSwap]; !math.IsInf(z, 1) {
		t.Errorf("threshold for swaps of one pile %v, want +Inf", z)
	}
	if z := one.Sidak(policy).Z[ClassSwap]; !math.IsInf(z, 1) {
		t.Errorf("Sidak's threshold for swaps of one pile %v, want +Inf", z)
	}
}

// The page's figure for independent tests of all hypotheses and months: 4.604 for 12,384 at 5 %, two-sided.
func TestSidakOfThePage(t *testing.T) {
	shown(t, "z", NormalQuantile(1-Sidak(0.05, 12384)/2), "4.604")
}

func TestAlarmOfALoss(t *testing.T) {
	th := Thresholds{Z: PerClass{0, 4, 4.5, 4, 4, 4, 4}}
	if a := scanOf(t, regularYard(6, 4, 0), DefaultPriors()).Alarms(th); a[5].Raised {
		t.Errorf("alarm without a fault: %+v", a[5])
	}
	scan := scanOf(t, regularYard(6, 4, 900), DefaultPriors())
	alarms := scan.Alarms(th)
	if alarms[3].Raised || !alarms[4].Raised {
		t.Errorf("alarms %+v, want the first in period 5", alarms)
	}
	best := scan.Rank(5)[0]
	want := Cause{ClassLoss, 1, None, None}
	if best.Cause != want || best.Shape != Pulse || best.Onset != 5 {
		t.Errorf("likeliest %+v from %d, want a loss of pile 1 in period 5", best.Cause, best.Onset)
	}
	if low, high := best.Fit.Interval(0.95); !(low < 900 && 900 < high) {
		t.Errorf("loss of %.0f..%.0f t, want 900 within", low, high)
	}
}

// At the survey that first shows it a loss is a density that has fallen is a survey that is low: one class.
func TestLossIsPrintedWithDensity(t *testing.T) {
	scan := scanOf(t, regularYard(6, 4, 900), DefaultPriors())
	best := scan.Rank(4)[0] // in the month of the loss
	classes := map[Class]bool{best.Cause.Class: true}
	for _, also := range best.Also {
		classes[also.Cause.Class] = true
		if math.Abs(scan.Cosine(best.Index, also.Index, 4)) < sameCosine {
			t.Errorf("%+v is in the class of %+v, with cosine %v", also.Cause, best.Cause, scan.Cosine(best.Index, also.Index, 4))
		}
	}
	if !classes[ClassLoss] || !classes[ClassDensity] || !classes[ClassSurvey] {
		t.Errorf("the first explanation has classes %v, want loss, density and survey", classes)
	}
}

func TestSharesAreShares(t *testing.T) {
	scan := scanOf(t, regularYard(6, 4, 700), DefaultPriors())
	total := 0.0
	last := math.Inf(1)
	for _, x := range scan.Rank(5) {
		total += x.Share
		if x.Share > last {
			t.Errorf("share %v after %v", x.Share, last)
		}
		last = x.Share
		own := 0.0
		for _, also := range x.Also {
			own += also.Share
		}
		if own > x.Share {
			t.Errorf("%+v has share %v, of which %v are others'", x.Cause, x.Share, own)
		}
	}
	if math.Abs(total-1) > 1e-9 {
		t.Errorf("shares sum to %v", total)
	}
}

// A declared route makes a missed transfer of its usual mass likelier than without, and no other mass.
func TestRouteIsPriorKnowledge(t *testing.T) {
	o := regularYard(6, 4, 0)
	for _, b := range []struct {
		pile int
		sign float64
	}{{1, -1}, {2, 1}} { // 600 t go from 1 to 2 unrecorded in period 6
		for i := range o.Balances {
			if o.Balances[i].Pile == b.pile && o.Balances[i].Period == 6 {
				o.Surveys[o.Balances[i].Closing].Mass += b.sign * 600
			}
		}
	}
	share := func(routes ...Route) float64 {
		p := DefaultPriors()
		p.Routes = routes
		for _, x := range scanOf(t, o, p).posterior(5) {
			if x.Cause == (Cause{ClassSwap, 1, 2, None}) {
				return x.Share
			}
		}
		return 0
	}
	none, usual, other, away := share(), share(Route{1, 2, 600}), share(Route{1, 2, 9000}), share(Route{9, 2, 600})
	if !(usual > none && other < usual) {
		t.Errorf("share %v without a route, %v with one of 600 t, %v with one of 9,000 t", none, usual, other)
	}
	if away != none {
		t.Errorf("share %v with a route from a pile that is not there, want %v", away, none)
	}
}

// The Bayes factor against the integral that it stands for.
func TestBayesFactor(t *testing.T) {
	for _, h := range []Hypothesis{{Tau: 2}, {Tau: 2, OneSided: true}, {Tau: 0.5, Mean: 3, OneSided: true}} {
		for _, fit := range []Fit{{0, 1}, {3, 1}, {-3, 1}, {4, 2.5}} {
			want := 0.0
			for _, width := range []float64{1, 3, 10} {
				tau := width * h.Tau
				mass, evidence := 0.0, 0.0
				for k := -5000; k < 5000; k++ {
					b := (float64(k) + 0.5) * 0.02
					prior := normalDensity((b - h.Mean) / tau)
					if h.OneSided && b < 0 {
						prior = 0
					}
					mass += prior
					evidence += prior * normalDensity((fit.Size-b)/fit.Sigma) / normalDensity(fit.Size/fit.Sigma)
				}
				want += evidence / mass / 3
			}
			if got := math.Exp(h.logBayesFactor(fit)); math.Abs(got-want) > 5e-4*want {
				t.Errorf("%+v of %+v: %v, want %v", h, fit, got, want)
			}
		}
	}
	if got := (Hypothesis{Tau: 1}).logBayesFactor(Fit{Sigma: math.Inf(1)}); got != 0 {
		t.Errorf("data that say nothing change the odds by %v", got)
	}
	// Far beyond what a float64 holds as odds.
	if got := (Hypothesis{Tau: 1, OneSided: true}).logBayesFactor(Fit{-500, 1}); math.IsNaN(got) || got > 0 {
		t.Errorf("log odds of a loss of -500 sigma %v, want a finite or infinite negative", got)
	}
}

func TestSecondFault(t *testing.T) {
	th := Thresholds{Z: PerClass{0, 4, 4.5, 4, 4, 4, 4}}
	one := regularYard(8, 5, 1500)
	if p, found := scanOf(t, one, DefaultPriors()).SecondFault(7, th); found {
		t.Errorf("second fault %+v where there is one", p)
	}
	two := regularYard(8, 5, 1500)
	for i, b := range two.Balances { // 1,200 t more of pile 3, in period 3
		if b.Pile == 3 && b.Period >= 3 {
			two.Surveys[two.Balances[i].Closing].Mass -= 1200
		}
	}
	scan := scanOf(t, two, DefaultPriors())
	p, found := scan.SecondFault(7, th)
	if !found {
		t.Fatalf("no second fault: %+v", p)
	}
	got := map[Cause]float64{
		scan.set.At(p.First).Cause:  math.Round(p.FirstFit.Size / 100),
		scan.set.At(p.Second).Cause: math.Round(p.SecondFit.Size / 100),
	}
	want := map[Cause]float64{{ClassLoss, 1, None, None}: 15, {ClassLoss, 3, None, None}: 12}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("faults, in hundreds of tonnes (-want +got):\n%s", diff)
	}
	if math.Abs(p.Gain-(p.Chi2-maxSquare(scan, 7))) > 1e-9*p.Chi2 {
		t.Errorf("gain %v of chi2 %v", p.Gain, p.Chi2)
	}
}

// maxSquare returns the largest z^2 of the causes that SecondFault looks at.
func maxSquare(s *Scan, t int) float64 {
	most := 0.0
	for _, x := range s.posterior(t)[:secondFaultCandidates] {
		most = max(most, x.Fit.Z()*x.Fit.Z())
	}
	return most
}

func TestDetectable(t *testing.T) {
	fit := Fit{100, 50}
	shown(t, "one named test", fit.Detectable(NormalQuantile(0.95)), "164.485")
	shown(t, "at threshold 4", fit.Detectable(4), "282.243")
	if z := (Fit{5, math.Inf(1)}).Z(); z != 0 {
		t.Errorf("z of a size that the data say nothing of is %v, want 0", z)
	}
}

// An estimated scale comes with its doubt: over many histories its interval covers the truth as stated.
func TestEstimateScale(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	covered := 0
	const histories, balances, truth = 2000, 30, 1.5
	for range histories {
		u := make([]float64, balances)
		for i := range u {
			u[i] = truth * rng.NormFloat64()
		}
		s := must(EstimateScale(u))(t)
		if s.DF != balances || !(s.Low < s.Kappa && s.Kappa < s.High) {
			t.Fatalf("scale %+v", s)
		}
		if s.Low <= truth && truth <= s.High {
			covered++
		}
	}
	if got := float64(covered) / histories; math.Abs(got-0.95) > 0.02 {
		t.Errorf("the interval covers the truth in %.3f of histories, want 0.95", got)
	}
	for name, u := range map[string][]float64{"eleven": make([]float64, MinHistory-1), "zeros": make([]float64, MinHistory), "none": nil} {
		if s, err := EstimateScale(u); err == nil {
			t.Errorf("%s: accepted as %+v", name, s)
		}
	}
}
