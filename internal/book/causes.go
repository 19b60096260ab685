package book

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"repose/internal/measure"
	"repose/internal/report"
	"repose/internal/stat"
	"repose/ledger"
)

// Causes reports what the twelve months through a period show together.
func (r *Reader) Causes(ctx context.Context, yard string, through ledger.Period) (*report.Causes, error) {
	return r.causes(ctx, &Month{Register: r.reg}, yard, through)
}

// causes is Causes with the uncertainties that the register of a month knew. Where the month has been derived, it is not
// derived again.
func (r *Reader) causes(ctx context.Context, m *Month, yard string, through ledger.Period) (*report.Causes, error) {
	h, err := r.history(ctx, yard)
	if err != nil {
		return nil, err
	}
	if through.Before(h.first) {
		return nil, fmt.Errorf("%w: %s, yard %s: its records begin in %s", ErrPeriod, through, yard, h.first)
	}
	balances, months, err := r.past(ctx, m, yard, through)
	if err != nil {
		return nil, err
	}
	observed, err := measure.Build(m.Register, yard, balances, months)
	if err != nil {
		return nil, err
	}
	a, err := measure.Analyse(observed)
	if err != nil {
		return nil, err
	}
	zone, _ := m.Register.Zone(yard)
	return causesReport(yard, through, zone, a), nil
}

// LastSurveyed returns the month of the last survey of a yard that a balance ends with; zero for none.
func (r *Reader) LastSurveyed(ctx context.Context, yard string, through ledger.Period) (ledger.Period, error) {
	balances, err := r.Balances(ctx, yard, through)
	if err != nil || len(balances) == 0 {
		return ledger.Period{}, err
	}
	ledger.SortBalances(balances)
	zone, _ := r.reg.Zone(yard)
	return ledger.PeriodOf(balances[len(balances)-1].At, zone), nil
}

func causesReport(yard string, through ledger.Period, zone *time.Location, a *measure.Analysis) *report.Causes {
	c := &report.Causes{Schema: report.Schema, Yard: yard, Through: through.String(), Balances: len(a.Records), Alarm: a.Alarm.Raised,
		Since: a.First.String(), Causes: []report.Cause{}, Cumulative: []report.CumulativeLine{}, History: []report.HistoryLine{}, Loaders: []report.LoaderLine{}, KappaFrom: a.HistoryBalances, Assumed: []report.AssumedLine{}}
	if len(a.Records) > 0 && !math.IsInf(a.Alarm.Threshold, 0) {
		c.Statistic, c.Threshold = new(report.Ratio(math.Abs(a.Alarm.Fit.Z()))), new(report.Ratio(a.Alarm.Threshold))
	}
	if a.HasScale {
		c.Kappa = new(report.Ratio(a.Scale.Kappa))
	}
	for i, x := range a.Causes {
		c.Causes = append(c.Causes, causeLine(i+1, x))
	}
	for _, p := range a.Piles {
		c.Cumulative = append(c.Cumulative, report.CumulativeLine{Pile: p.Pile.Code, Balances: p.Balances,
			Residual: report.Mass(p.Residual), Sigma: report.Mass(p.Sigma), Z: report.Ratio(p.Z())})
	}
	for _, h := range a.History {
		survey, _, _ := strings.Cut(strings.TrimPrefix(h.Record.Survey, ledger.KindSurveyRecord.String()+":"+yard+":"), "/")
		c.History = append(c.History, report.HistoryLine{Pile: h.Record.Pile.Code, Period: h.Period.String(), Survey: survey,
			Residual: report.Mass(h.Balance.Residual), Sigma: report.Mass(h.Balance.Sigma), Z: report.Ratio(h.Balance.Z()),
			Cumulative: report.Mass(h.Cumulative.Residual), CumulativeSigma: report.Mass(h.Cumulative.Sigma)})
	}
	for _, l := range a.Loaders {
		c.Loaders = append(c.Loaders, loaderLine(l, zone))
	}
	for _, s := range a.Assumptions {
		c.Assumed = append(c.Assumed, report.AssumedLine(s))
	}
	return c
}

func loaderLine(l measure.LoaderCheck, zone *time.Location) report.LoaderLine {
	line := report.LoaderLine{Loader: l.Loader, Deck: l.Deck, Trucks: l.Count, LeftOut: l.Unlike,
		BiasPct: report.Ratio(100 * l.Bias), UPct: report.Ratio(100 * l.U), DeckUPct: report.Ratio(100 * l.DeckU)}
	if !l.Epoch.IsZero() {
		since := report.Day(l.Epoch.In(zone))
		line.Since = &since
	}
	if l.HasDrift {
		line.DriftPct, line.DriftUPct = new(report.Ratio(100*l.Drift)), new(report.Ratio(100*l.DriftU))
	}
	return line
}

func causeLine(rank int, x measure.Cause) report.Cause {
	line := report.Cause{Rank: rank, Class: x.Class.String(), Pile: x.Pile, OtherPile: x.Other, Instrument: x.Instrument, From: x.From.String(),
		Lasting: x.Lasting, Estimate: report.Mass(x.Estimate), U: report.Mass(x.U), Low: report.Mass(x.Low), High: report.Mass(x.High),
		Share: report.Ratio(x.Share), Also: []report.AlsoCause{}}
	if x.Truckloads > 0 && (x.Class == stat.ClassLoss || x.Class == stat.ClassSwap) {
		line.Truckloads = new(report.Ratio(x.Truckloads))
	}
	for _, also := range x.Also {
		line.Also = append(line.Also, report.AlsoCause{Class: also.Class.String(), Pile: also.Pile, OtherPile: also.Other,
			Instrument: also.Instrument, Share: report.Ratio(also.Share)})
	}
	if x.Class == stat.ClassLoss && !tellsDensity(x) {
		line.Also = append(line.Also, report.AlsoCause{Class: stat.ClassDensity.String(), Pile: x.Pile})
	}
	line.Describe(ledger.UnitTonne)
	return line
}

// tellsDensity reports whether the density or a survey of the pile is named beside a loss. A loss is
// always printed with one of them: a density that drops looks the same.
func tellsDensity(x measure.Cause) bool {
	for _, also := range x.Also {
		if also.Pile == x.Pile && (also.Class == stat.ClassDensity || also.Class == stat.ClassSurvey) {
			return true
		}
	}
	return false
}
