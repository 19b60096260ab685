package stat

import (
	"math"
	"slices"
	"strings"
	"testing"
)

func TestModelRefuses(t *testing.T) {
	own := func(row int, mass float64) Source { return Source{Kind: OtherError, Column: Vector{{row, mass}}} }
	two := []Row{{Pile: 1, Period: 1}, {Pile: 2, Period: 1}}
	for name, c := range map[string]struct {
		rows    []Row
		sources []Source
		says    string
	}{
		"nothing":          {nil, nil, "0 balances: want at least one"},
		"too many":         {make([]Row, maxRows+1), nil, "at most 6000"},
		"no error":         {two, []Source{own(0, 1)}, "balance 1 (pile 2, period 1) has no measurement error"},
		"one error of two": {two, []Source{{Kind: OtherError, Column: Vector{{0, 1}, {1, 1}}}}, "determine one another"},
		"periods":          {[]Row{{Period: 2}, {Period: 1}}, nil, "want the order of period, then pile"},
		"piles":            {[]Row{{Pile: 2, Period: 1}, {Pile: 1, Period: 1}}, nil, "want the order of period, then pile"},
		"opens later":      {[]Row{{From: 2, Period: 1}}, nil, "opens in period 2"},
		"not a number":     {[]Row{{Period: 1, Residual: math.NaN()}}, nil, "residual NaN"},
		"no such row":      {two, []Source{own(2, 1)}, "want ascending rows below 2"},
		"rows descend":     {two, []Source{{Kind: OtherError, Column: Vector{{1, 1}, {0, 1}}}}, "want ascending rows"},
		"infinite":         {two, []Source{own(0, math.Inf(1))}, "want a number of tonnes up to 1e+12"},
	} {
		_, err := NewModel(c.rows, c.sources)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: error %v, want one that says %q", name, err, c.says)
		}
	}
}

func TestObservationsRefuse(t *testing.T) {
	for name, c := range map[string]struct {
		change func(o *Observations)
		says   string
	}{
		"density":    {func(o *Observations) { o.Surveys[0].Density = 2 }, "survey 0: density 2"},
		"base":       {func(o *Observations) { o.Surveys[0].Base = 0 }, "base 0"},
		"no survey":  {func(o *Observations) { o.Balances[0].Closing = 8 }, "want two of the 8"},
		"one survey": {func(o *Observations) { o.Balances[0].Closing = 0 }, "want two of the 8"},
		"pile":       {func(o *Observations) { o.Balances[0].Pile = 3 }, "want pile 3"},
		"instrument": {func(o *Observations) { o.Balances[1].Flows[0].Instrument = 2 }, "balance 1, flow 0: instrument 2"},
		"moisture":   {func(o *Observations) { o.Balances[1].Flows[1].Moisture = -2 }, "moisture -2"},
	} {
		o := twoPiles()
		c.change(o)
		_, err := o.Model()
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: error %v, want one that says %q", name, err, c.says)
		}
	}
}

// An empty pile weighs nothing and has no error, but for the resolution.
func TestEmptyPile(t *testing.T) {
	o := twoPiles()
	for i := range o.Surveys[:4] {
		o.Surveys[i].Mass = 0
	}
	for i := range o.Balances {
		if o.Balances[i].Pile == 1 {
			o.Balances[i].Flows = nil
		}
	}
	if _, err := o.Model(); err == nil {
		t.Error("a balance without any error was accepted")
	}
	o.Resolution = 0.5
	m := must(o.Model())(t)
	if s := m.Balance(0); s.Residual != 0 || math.Abs(s.Sigma-0.5) > 1e-12 {
		t.Errorf("empty pile %+v, want 0 with sigma 0.5", s)
	}
	NewScan(m, o.Hypotheses(DefaultPriors())).Rank(2) // its hypotheses leave no trace, and nothing breaks
}

// A pile whose stock hardly changes says nothing of a density that was wrong all along: a thousandth of the stock in
// four sigma would be a density a thousand times too high.
func TestUnmovingPileSaysNothingOfItsDensity(t *testing.T) {
	o := twoPiles()
	for i := range 4 {
		o.Surveys[4+i].Mass = 6000 + 0.001*float64(i)
	}
	scan := NewScan(must(o.Model())(t), o.Hypotheses(DefaultPriors()))
	always := find(t, scan.set, Cause{ClassDensity, 2, None, None}, 0, Step)
	if fit := scan.Fit(always, 2); !math.IsInf(fit.Sigma, 1) {
		t.Errorf("density wrong all along fits as %+v", fit)
	}
	from1 := find(t, scan.set, Cause{ClassDensity, 2, None, None}, 1, Step)
	if fit := scan.Fit(from1, 2); !(fit.Sigma < 0.02) {
		t.Errorf("density wrong from survey 1 fits as %+v, want an uncertainty below 2 %%", fit)
	}
}

// A base under both surveys of a balance cancels; a new base does not (section 7.1 of the method page).
func TestBaseCancels(t *testing.T) {
	o := twoPiles()
	before := must(o.Model())(t).Balance(0).Sigma
	o.Bases = []Base{{100}, {100}}
	o.Surveys[0].Base, o.Surveys[1].Base = 0, 0
	if same := must(o.Model())(t).Balance(0).Sigma; math.Abs(same-before) > 1e-9 {
		t.Errorf("sigma %v on one base, want %v", same, before)
	}
	o.Surveys[1].Base = 1
	if other := must(o.Model())(t).Balance(0).Sigma; math.Abs(other-math.Sqrt(before*before+2*100*100)) > 1e-9 {
		t.Errorf("sigma %v on two bases, want %v", other, math.Sqrt(before*before+2*100*100))
	}
}

// What one transfer weighs wrong one pile loses and the other gains.
func TestTransferIsOneWeighing(t *testing.T) {
	m := must(twoPiles().Model())(t)
	for _, s := range m.Sources() {
		if s.Kind != TransferWeighings {
			continue
		}
		want := 0.010 * 200 / math.Sqrt(10) // ten loads
		if len(s.Column) != 2 || math.Abs(s.Column[0].Value-want) > 1e-9 || math.Abs(s.Column[1].Value+want) > 1e-9 {
			t.Errorf("transfer column %v, want %v and its opposite", s.Column, want)
		}
		return
	}
	t.Error("no source for the transfer's weighings")
}

func TestBetween(t *testing.T) {
	o := twoPiles()
	part := o.Between(1, 2)
	if n := len(part.Balances); n != 2 || part.Balances[0].Period != 2 {
		t.Errorf("%d balances between 1 and 2, want the two of period 2", n)
	}
	if len(o.Balances) != 6 {
		t.Error("the original has lost balances")
	}
}

// Hypotheses of an irregular yard: a survey missed joins two months; a pile opened late has no earlier onset.
func TestIrregularHypotheses(t *testing.T) {
	o := twoPiles()
	// Pile 2 is not surveyed in month 2: its balances of months 2 and 3 become one.
	o.Balances[5].Flows = append(slices.Clone(o.Balances[3].Flows), o.Balances[5].Flows...)
	o.Balances[5].From, o.Balances[5].Opening = 1, 5
	o.Balances = append(slices.Clone(o.Balances[:3]), o.Balances[4:]...)
	set := o.Hypotheses(DefaultPriors())
	vectors := map[string]Vector{
		"loss in the joined months": set.Vector(find(t, set, Cause{ClassLoss, 2, None, None}, 2, Pulse)),
		"loss of 1, month 2 on":     set.Vector(find(t, set, Cause{ClassLoss, 1, None, None}, 2, Step)),
		"swap in month 2":           set.Vector(find(t, set, Cause{ClassSwap, 1, 2, None}, 2, Pulse)),
		"swap in month 3":           set.Vector(find(t, set, Cause{ClassSwap, 1, 2, None}, 3, Pulse)),
		"swap from month 2 on":      set.Vector(find(t, set, Cause{ClassSwap, 1, 2, None}, 2, Step)),
		"loader from month 3 on":    set.Vector(find(t, set, Cause{ClassLoader, None, None, 1}, 3, Step)),
		"survey 1 of pile 2":        set.Vector(find(t, set, Cause{ClassSurvey, 2, None, None}, 1, Pulse)),
		"density of pile 2 from 1":  set.Vector(find(t, set, Cause{ClassDensity, 2, None, None}, 1, Step)),
		"density of pile 2 from 0":  set.Vector(find(t, set, Cause{ClassDensity, 2, None, None}, 0, Step)),
	}
	// Rows: 0 and 1 are month 1, 2 is pile 1 in month 2, 3 pile 1 in month 3, 4 pile 2 in months 2 and 3.
	for name, want := range map[string]Vector{
		"loss in the joined months": {{4, 1}},
		"loss of 1, month 2 on":     {{2, 1}, {3, 1}},
		"swap in month 2":           {{2, 1}, {4, -1}},
		"swap in month 3":           {{3, 1}, {4, -1}},
		"swap from month 2 on":      {{2, 1}, {3, 1}, {4, -2}},
		"loader from month 3 on":    {{3, -2650 + 200}, {4, -1700 - 200}},
		"survey 1 of pile 2":        {{1, -5800}, {4, 5800}},
		"density of pile 2 from 1":  {{1, -5800}, {4, 5800 - 5450}},
		"density of pile 2 from 0":  {{1, 6000 - 5800}, {4, 5800 - 5450}},
	} {
		if !slices.Equal(vectors[name], want) {
			t.Errorf("%s: %v, want %v", name, vectors[name], want)
		}
	}
}

func TestNames(t *testing.T) {
	if got := ClassSwap.String() + " " + Step.String() + " " + DensityError.String(); got != "swap step density" {
		t.Errorf("names %q", got)
	}
	if got := Class(0).String() + " " + Kind(99).String(); got != "unknown unknown" {
		t.Errorf("names of nothing %q", got)
	}
}
