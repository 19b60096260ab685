package simyard

import (
	"math"
	"slices"

	"repose/internal/stat"
)

// Outcome is how often a scenario's fault was found in a trial: shares of the replicates in which a rule spoke up in
// the fault's first month or after. A chance alarm counts.
type Outcome struct {
	Scenario                         Scenario
	Reps                             int
	Fixed, Tuned, Single, Page, Chi2 float64
	Alarm                            float64
	Delay                            float64 // months from the onset to the alarm, mean of the replicates with one
	First, End                       Ranking // of the causes at the alarm, and at the end
}

// Ranking is how often the causes were ranked right, of the replicates with an alarm.
type Ranking struct {
	Top   float64 // the true cause is first
	Three float64 // it is among the first three explanations, or cannot be told from one of them
	Place float64 // the first names no pile or instrument but the true ones
}

// replicate is what one simulated year gave.
type replicate struct {
	fixed, tuned, single, page, chi2, alarmed bool
	delay                                     int
	first, end                                hit
}

type hit struct{ top, three, place bool }

// balances applies the rules that look at balances and not at causes.
func (r *replicate) balances(o *stat.Observations, m *stat.Model, l Limits, onset int) {
	share, innovations := shares(o), m.Innovations()
	for _, first := range m.RowsIn(m.Periods()[0]) { // every pile is surveyed every month
		rows := m.RowsOf(m.Row(first).Pile, stat.None)
		series := make([]float64, len(rows))
		for k, i := range rows {
			series[k] = innovations[i]
		}
		up, down := stat.CUSUM(series, 0, 0.5)
		for k, i := range rows {
			if m.Row(i).Period < onset {
				continue
			}
			r.fixed = r.fixed || share[i] > l.Fixed
			r.tuned = r.tuned || share[i] > l.Tuned
			r.single = r.single || math.Abs(m.Balance(i).Z()) > l.Single
			r.page = r.page || up[k] > l.Page || down[k] > l.Page
		}
	}
	for k, c := range m.PeriodTests() {
		r.chi2 = r.chi2 || m.Periods()[k] >= onset && c.Value > l.Chi2
	}
}

// alarm applies the likelihood ratio of all hypotheses, and holds the ranking to the truth.
func (r *replicate) alarm(s *stat.Scan, l Limits, onset int, scenario Scenario) {
	for t, a := range s.Alarms(l.Alarm) {
		if a.Period < onset || !a.Raised {
			continue
		}
		r.alarmed, r.delay = true, a.Period-onset
		if len(scenario.Faults) > 0 {
			truth := scenario.Faults[0].Cause()
			r.first = judge(s.Rank(t), truth)
			r.end = judge(s.Rank(len(s.Periods())-1), truth)
		}
		return
	}
}

// judge holds a ranking to the true cause.
func judge(ranked []stat.Explanation, truth stat.Cause) hit {
	h := hit{top: ranked[0].Cause == truth, place: sharesPlace(ranked[0].Cause, truth)}
	for _, x := range ranked[:min(3, len(ranked))] {
		h.three = h.three || x.Cause == truth ||
			slices.ContainsFunc(x.Also, func(y stat.Explanation) bool { return y.Cause == truth })
	}
	return h
}

// sharesPlace reports whether a cause names the true instrument, or the true piles and no other.
func sharesPlace(c, truth stat.Cause) bool {
	if c.Instrument != stat.None || truth.Instrument != stat.None {
		return c == truth
	}
	of := func(pile int) bool { return pile == truth.Pile || pile == truth.Other }
	return of(c.Pile) && (c.Other == stat.None || of(c.Other))
}

// summarise turns replicates into shares.
func summarise(s Scenario, results []replicate) Outcome {
	o := Outcome{Scenario: s, Reps: len(results)}
	alarms := 0
	share := func(of int, is func(r replicate) bool) float64 {
		n := 0
		for _, r := range results {
			if is(r) {
				n++
			}
		}
		return float64(n) / float64(max(of, 1))
	}
	for _, r := range results {
		if r.alarmed {
			alarms++
			o.Delay += float64(r.delay)
		}
	}
	o.Delay /= float64(max(alarms, 1))
	all := len(results)
	o.Fixed = share(all, func(r replicate) bool { return r.fixed })
	o.Tuned = share(all, func(r replicate) bool { return r.tuned })
	o.Single = share(all, func(r replicate) bool { return r.single })
	o.Page = share(all, func(r replicate) bool { return r.page })
	o.Chi2 = share(all, func(r replicate) bool { return r.chi2 })
	o.Alarm = share(all, func(r replicate) bool { return r.alarmed })
	ranking := func(of func(r replicate) hit) Ranking {
		return Ranking{
			Top:   share(alarms, func(r replicate) bool { return r.alarmed && of(r).top }),
			Three: share(alarms, func(r replicate) bool { return r.alarmed && of(r).three }),
			Place: share(alarms, func(r replicate) bool { return r.alarmed && of(r).place }),
		}
	}
	o.First = ranking(func(r replicate) hit { return r.first })
	o.End = ranking(func(r replicate) hit { return r.end })
	return o
}
