package measure

import (
	"math"

	"repose/internal/stat"
	"repose/ledger"
)

// Analysis is what the last twelve months of a yard show together.
type Analysis struct {
	*Observed // of those months
	Scale     stat.Scale
	HasScale  bool // history has judged the stated uncertainties

	HistoryBalances int // before these months

	Alarm   stat.Alarm
	First   ledger.Period // in which an alarm was first raised; zero for none
	Piles   []Cumulated
	History []Step
	Causes  []Cause // most likely first
}

// Cumulated is the sum of a pile's residuals over the months, in t.
type Cumulated struct {
	Pile ledger.PileID
	stat.Sum
	Balances int
}

// Step is one balance, and the sum of its pile's balances up to it.
type Step struct {
	Record     ledger.Balance
	Period     ledger.Period
	Balance    stat.Sum
	Cumulative stat.Sum
}

// Cause is one thing that could explain the differences, or several that the balances cannot tell apart.
type Cause struct {
	Class       stat.Class
	Pile, Other string // codes; empty where the cause is an instrument
	Instrument  string
	From        ledger.Period
	Lasting     bool    // from then on, and not once
	Estimate, U float64 // t of solids in all, with its standard uncertainty
	Low, High   float64 // 95 % interval of the estimate
	Rate        float64 // where it lasts: t a month, or the fraction by which a scale or density is wrong
	Share       float64 // of the belief, with those of Also
	Truckloads  float64 // roughly how many that is; 0 where nothing was loaded
	Also        []Cause
}

// Analyse looks for causes in the last twelve months of the observations.
func Analyse(all *Observed) (*Analysis, error) {
	scale, hasScale, err := all.Scale()
	if err != nil {
		return nil, err
	}
	history, present := all.split()
	a := &Analysis{Observed: present, Scale: scale, HasScale: hasScale, HistoryBalances: len(history.Balances)}
	if len(present.Balances) == 0 {
		return a, nil
	}
	scaled := present.Scaled(scale.Kappa)
	m, err := scaled.Model()
	if err != nil {
		return nil, err
	}
	set := scaled.Hypotheses(stat.DefaultPriors())
	scan := stat.NewScan(m, set)
	policy := stat.DefaultAlarmPolicy()
	if hasScale {
		policy.HistoryDF = scale.DF
	}
	alarms := scan.Alarms(scan.Thresholds(policy))
	a.Alarm = alarms[len(alarms)-1]
	for _, x := range alarms {
		if x.Raised {
			a.First = a.Periods[x.Period]
			break
		}
	}
	a.cumulate(m)
	for _, e := range scan.Rank(len(alarms) - 1) {
		a.Causes = append(a.Causes, a.cause(set, e))
	}
	return a, nil
}

func (a *Analysis) cumulate(m *stat.Model) {
	for i, id := range a.Observed.Piles {
		rows := m.RowsOf(i, -1)
		if len(rows) == 0 {
			continue
		}
		sums := m.Cumulate(rows)
		a.Piles = append(a.Piles, Cumulated{id, sums[len(sums)-1], len(rows)})
		for k, row := range rows {
			a.History = append(a.History, Step{a.Records[row], a.Periods[a.Balances[row].Period], m.Balance(row), sums[k]})
		}
	}
}

// cause gives an explanation its names, and its size in tonnes.
func (a *Analysis) cause(set *stat.Hypotheses, e stat.Explanation) Cause {
	c := Cause{Class: e.Cause.Class, From: a.Periods[e.Onset], Lasting: e.Shape == stat.Step, Rate: e.Fit.Size, Share: e.Share}
	if e.Cause.Pile != stat.None {
		c.Pile = a.Observed.Piles[e.Cause.Pile].Code
	}
	if e.Cause.Other != stat.None {
		c.Other = a.Observed.Piles[e.Cause.Other].Code
	}
	if e.Cause.Instrument != stat.None {
		c.Instrument = a.Names[e.Cause.Instrument]
	}
	unit := effect(e.Cause.Class, set.Vector(e.Index))
	low, high := e.Fit.Interval(0.95)
	c.Estimate, c.U = unit*e.Fit.Size, unit*e.Fit.Sigma
	c.Low, c.High = unit*low, unit*high
	c.Truckloads = math.Abs(c.Estimate) / a.meanLoad(e.Cause.Pile)
	if math.IsInf(c.Truckloads, 0) || math.IsNaN(c.Truckloads) {
		c.Truckloads = 0
	}
	for _, also := range e.Also {
		c.Also = append(c.Also, a.cause(set, also))
	}
	return c
}

// effect returns how many tonnes one unit of a cause stands for. A loss and a scale's error add up over the
// months; an error of a survey or a density is as large as the stock that it is about.
func effect(class stat.Class, v stat.Vector) float64 {
	sum, largest := 0.0, 0.0
	for _, e := range v {
		largest = max(largest, math.Abs(e.Value))
		switch {
		case class == stat.ClassLoss, class == stat.ClassLoader, class == stat.ClassBelt:
			sum += math.Abs(e.Value)
		case class == stat.ClassSwap && e.Value > 0:
			sum += e.Value
		}
	}
	if sum > 0 {
		return sum
	}
	return largest
}

// meanLoad returns the mean mass of a truckload out of a pile, or out of all piles where that is none.
func (a *Analysis) meanLoad(pile int) float64 {
	mass, count := 0.0, 0
	for i, r := range a.Records {
		if pile != stat.None && a.Balances[i].Pile != pile {
			continue
		}
		for s, t := range r.Base.Streams {
			switch s.Way {
			case ledger.ColumnSale, ledger.ColumnInternal, ledger.ColumnFree:
				mass += tonnes(t.Solids.Abs())
				count += t.Weighings
			}
		}
	}
	return mass / float64(count)
}
