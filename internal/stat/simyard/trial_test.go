package simyard

import (
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/internal/stat"
)

// The columns of section 7.6 of the method page (2,000 replicates): power of its one-threshold likelihood ratio, of a
// single balance's z and of Page's test.
var page = []struct{ ratio, single, page float64 }{
	{0.044, 0.044, 0.049}, {0.708, 0.205, 0.501}, {0.975, 0.050, 0.939}, {1.000, 0.641, 0.982}, {0.830, 0.097, 0.806},
	{0.826, 0.126, 0.873}, {0.987, 0.526, 0.964}, {1.000, 1.000, 1.000}, {0.497, 0.473, 0.102},
}

// newTrial returns a trial small enough for a test, and smaller with -short: under the race detector a replicate
// takes twenty times as long. Tolerances follow from the number of replicates.
func newTrial(reps int, seed uint64) Trial {
	if testing.Short() {
		reps = max(20, reps/5)
	}
	trial := NewTrial(reps, seed)
	trial.Alarm.Draws = 2000
	return trial
}

// With few replicates the trial can only be near the page; "near" is four standard errors of both, and as much again as
// two yards that are not quite the same may differ. What 5,000 replicates give is in docs/method.md.
func TestTrialIsNearThePage(t *testing.T) {
	const otherYard = 0.06
	trial := newTrial(100, 7)
	limits, err := trial.Limits()
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(limits.Tuned-0.05639) > 0.01 {
		t.Errorf("a rule of %.4f of the book is as rarely wrong as the alarm, want 0.0564", limits.Tuned)
	}
	error4 := func(p float64) float64 { return 4 * math.Sqrt(max(p*(1-p), 0.01)*(1/float64(trial.Reps)+1./2000)) }
	for i, s := range Scenarios(0) {
		o, err := trial.Run(s, limits)
		if err != nil {
			t.Fatal(err)
		}
		want := page[i]
		if o.Fixed != 1 {
			t.Errorf("%s: the 2 %% rule spoke up in %.3f of the years, want all", s.Name, o.Fixed)
		}
		if math.Abs(o.Single-want.single) > error4(want.single)+otherYard {
			t.Errorf("%s: single balance %.3f, want %.3f", s.Name, o.Single, want.single)
		}
		if math.Abs(o.Page-want.page) > error4(want.page)+otherYard {
			t.Errorf("%s: Page %.3f, want %.3f", s.Name, o.Page, want.page)
		}
		if i == 0 {
			continue // for the next test
		}
		if o.Alarm < want.ratio-error4(want.ratio) {
			t.Errorf("%s: alarm in %.3f of the years, want at least %.3f", s.Name, o.Alarm, want.ratio)
		}
		if o.End.Three < 0.95-error4(0.95) || o.End.Place < 0.90-error4(0.90) {
			t.Errorf("%s: true cause among three in %.3f, right place in %.3f, want 0.95 and 0.90", s.Name, o.End.Three, o.End.Place)
		}
	}
}

func TestFalseAlarmsAreAsStated(t *testing.T) {
	trial := newTrial(500, 8)
	limits, err := trial.Limits()
	if err != nil {
		t.Fatal(err)
	}
	o, err := trial.Run(Scenarios(0)[0], limits)
	if err != nil {
		t.Fatal(err)
	}
	if got, tolerance := o.Alarm, 4*math.Sqrt(0.05*0.95/float64(trial.Reps)); math.Abs(got-0.05) > tolerance {
		t.Errorf("%.3f false alarms a year, want 0.05 within %.3f", got, tolerance)
	}
}

// The 95 % interval of a residual covers what is missing, and that of a fitted loss covers the loss, as often as
// they say.
func TestIntervalsCover(t *testing.T) {
	const reps = 200
	fault := Fault{Kind: Loss, Pile: 1, From: 6, Until: 6, Size: 800}
	balances, balancesIn, lossIn := 0, 0, 0
	for rep := range reps {
		o := simulate(t, Standard(12), rand.New(rand.NewPCG(21, uint64(rep))), fault).Observations()
		m := modelOf(t, o)
		for i := range m.Len() {
			missing := 0.0
			if row := m.Row(i); row.Pile == 1 && row.Period == 6 {
				missing = 800
			}
			balances++
			if b := m.Balance(i); math.Abs(b.Residual-missing) <= 1.959964*b.Sigma {
				balancesIn++
			}
		}
		if low, high := m.Fit(stat.Vector{{Row: m.RowsOf(1, 5)[0], Value: 1}}).Interval(0.95); low <= 800 && 800 <= high {
			lossIn++
		}
	}
	if got := float64(balancesIn) / float64(balances); math.Abs(got-0.95) > 0.01 {
		t.Errorf("intervals of residuals cover in %.4f of %d balances, want 0.95", got, balances)
	}
	if got := float64(lossIn) / reps; math.Abs(got-0.95) > 4*math.Sqrt(0.95*0.05/reps) {
		t.Errorf("interval of the loss covers in %.3f of %d years, want 0.95", got, reps)
	}
}

// Uncertainties stated 1.5 times too small make every rule cry wolf; a clean year before repairs it.
func TestHistoryRepairsUncertainties(t *testing.T) {
	reps := 0
	alarms := func(history int) float64 {
		trial := newTrial(80, 11)
		reps = trial.Reps
		trial.Yard = Standard(12 + history)
		trial.Yard.ErrorScale = 1.5
		trial.History = history
		limits, err := trial.Limits()
		if err != nil {
			t.Fatal(err)
		}
		o, err := trial.Run(Scenarios(history)[0], limits)
		if err != nil {
			t.Fatal(err)
		}
		return o.Alarm
	}
	if got := alarms(0); got < 0.70 {
		t.Errorf("%.3f false alarms without history, want the page's 0.914", got)
	}
	if got := alarms(12); got > 0.10+3*math.Sqrt(0.05*0.95/float64(reps)) {
		t.Errorf("%.3f false alarms with twelve clean months, want at most 0.10", got)
	}
}

func TestTrialWhateverTheProcessors(t *testing.T) {
	run := func(processors int) Outcome {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(processors))
		trial := NewTrial(20, 3)
		trial.Alarm.Draws = 400
		limits, err := trial.Limits()
		if err != nil {
			t.Fatal(err)
		}
		o, err := trial.Run(Scenarios(0)[1], limits)
		if err != nil {
			t.Fatal(err)
		}
		return o
	}
	if diff := cmp.Diff(run(1), run(4)); diff != "" {
		t.Errorf("one processor and four (-one +four):\n%s", diff)
	}
}

func TestTrialRefuses(t *testing.T) {
	if _, err := NewTrial(0, 1).Limits(); err == nil {
		t.Error("a trial of no replicates has limits")
	}
	short := NewTrial(2, 1)
	short.Yard, short.History = Standard(13), 1 // six balances of history
	if _, err := short.Run(Scenarios(1)[0], Limits{}); err == nil {
		t.Error("a scale was estimated from six balances")
	}
	if _, err := NewTrial(2, 1).Run(Scenario{Faults: []Fault{{Kind: Loss, Pile: 9, From: 1, Until: 1}}}, Limits{}); err == nil {
		t.Error("a loss of pile 9 was simulated")
	}
}

func TestScenariosAreOfTheYard(t *testing.T) {
	for _, s := range append(Scenarios(12), HeldOut(12)...) {
		simulate(t, Standard(24), nil, s.Faults...)
		if len(s.Faults) > 0 && s.onset(13) <= 12 {
			t.Errorf("%s: begins in month %d, want it after twelve of history", s.Name, s.onset(13))
		}
	}
}

func TestPlace(t *testing.T) {
	pile := func(class stat.Class, i, j int) stat.Cause {
		return stat.Cause{Class: class, Pile: i, Other: j, Instrument: stat.None}
	}
	belt := stat.Cause{Class: stat.ClassBelt, Pile: stat.None, Other: stat.None, Instrument: 0}
	none := stat.None
	for _, c := range []struct {
		named, truth stat.Cause
		want         bool
	}{
		{pile(stat.ClassDensity, 1, none), pile(stat.ClassLoss, 1, none), true},
		{pile(stat.ClassSwap, 1, 2), pile(stat.ClassLoss, 1, none), false},
		{pile(stat.ClassLoss, 2, none), pile(stat.ClassSwap, 1, 2), true},
		{pile(stat.ClassSwap, 2, 1), pile(stat.ClassSwap, 1, 2), true},
		{pile(stat.ClassSwap, 1, 3), pile(stat.ClassSwap, 1, 2), false},
		{belt, belt, true},
		{belt, pile(stat.ClassLoss, 0, none), false},
		{pile(stat.ClassLoss, 0, none), belt, false},
	} {
		if got := sharesPlace(c.named, c.truth); got != c.want {
			t.Errorf("%+v names the place of %+v: %v", c.named, c.truth, got)
		}
	}
}
