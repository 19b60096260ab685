package book

import (
	"context"
	"slices"
	"time"

	"repose/internal/report"
	"repose/internal/screen"
	"repose/internal/screen/rules"
	"repose/internal/stat"
	"repose/ledger"
)

// ExceptionRegister reports the exceptions of periods of a yard.
func (r *Reader) ExceptionRegister(ctx context.Context, yard string, periods []ledger.Period) (*report.Exceptions, error) {
	zone, _ := r.reg.Zone(yard)
	x := report.NewExceptions(yard, periods, zone)
	for _, p := range periods {
		all, err := r.Exceptions(ctx, yard, p)
		if err != nil {
			return nil, err
		}
		for _, e := range all {
			x.Exceptions = append(x.Exceptions, ExceptionLine(e))
		}
	}
	return x, nil
}

// ExceptionLine turns an exception into a line of a report.
func ExceptionLine(e Exception) report.ExceptionLine {
	l := report.ExceptionLine{ID: e.ID, Rule: e.Rule, Strength: e.Strength.String(), Pile: e.Pile, Mass: report.Tonnes(e.Mass), Time: e.Time,
		Records: e.Records, Status: e.Status.String(), Explains: []report.Explain{}, Seen: e.Seen, Instrument: e.Instrument,
		Series: e.Series, Product: e.Product, Customer: e.Customer, Truck: e.Truck, Gone: e.Gone}
	if l.Records == nil {
		l.Records = []string{}
	}
	if e.Estimated {
		l.Low, l.High = new(report.Tonnes(e.Low)), new(report.Tonnes(e.High))
	}
	if e.Unplaced > 0 {
		l.Unplaced = new(report.Tonnes(e.Unplaced))
	}
	for _, x := range e.Solids {
		l.Explains = append(l.Explains, report.Explain{Pile: x.Pile, Shrinkage: report.Tonnes(x.Mass)})
	}
	if e.Settlement != nil {
		s := e.Settled()
		l.How, l.Reason, l.By, l.Decided, l.Wrote = s.How, s.Reason, e.Settlement.By, &s.Decided, s.Wrote
	}
	return l
}

// Candidates sets the open exceptions of a pile beside what its balances through a period say. They are looked
// for in the months from the first of periods through the last.
func (r *Reader) Candidates(ctx context.Context, yard, pile string, periods []ledger.Period) (*report.Candidates, error) {
	x, err := r.ExceptionRegister(ctx, yard, periods)
	if err != nil {
		return nil, err
	}
	c := &report.Candidates{Schema: report.Schema, Yard: yard, Pile: pile, Product: r.reg.Pile(ledger.PileID{Yard: yard, Code: pile}, r.endOf(yard, periods)).Product, Periods: x.Periods, Benign: []report.Look{}}
	c.Rank(x.Exceptions)
	seen := map[string]bool{}
	for _, i := range slices.Concat(c.Items, c.Elsewhere, c.Patterns) {
		if info, ok := rules.Info(i.Rule); ok && !seen[i.Rule] {
			seen[i.Rule] = true
			c.Benign = append(c.Benign, report.Look{Rule: i.Rule, Benign: info.Benign})
		}
	}
	return c, r.addBalances(ctx, yard, c, periods)
}

// endOf returns the last instant of the last of some periods.
func (r *Reader) endOf(yard string, periods []ledger.Period) time.Time {
	zone, _ := r.reg.Zone(yard)
	return periods[len(periods)-1].End(zone).Add(-1)
}

// addBalances puts what the balances of a pile say beside its exceptions.
func (r *Reader) addBalances(ctx context.Context, yard string, c *report.Candidates, periods []ledger.Period) error {
	causes, err := r.Causes(ctx, yard, periods[len(periods)-1])
	if err != nil {
		return err
	}
	c.Alarm = causes.Alarm
	for _, l := range causes.Cumulative {
		if l.Pile == c.Pile {
			c.Balances, c.Missing, c.Sigma, c.Z = l.Balances, &l.Residual, &l.Sigma, &l.Z
		}
	}
	for _, x := range causes.Causes {
		if x.Pile == c.Pile || x.OtherPile == c.Pile {
			c.Cause = x.Words
			break
		}
	}
	return nil
}

// JoinExceptions names, beside every loss and swap that an alarm is raised for, the open exceptions that could be
// it, of the months from which on it is.
func (r *Reader) JoinExceptions(ctx context.Context, yard string, through ledger.Period, c *report.Causes) error {
	if !c.Alarm {
		return nil
	}
	registers := map[ledger.Period][]report.ExceptionLine{}
	for i := range c.Causes {
		cause := &c.Causes[i]
		if cause.Class != stat.ClassLoss.String() && cause.Class != stat.ClassSwap.String() {
			continue
		}
		from, err := ledger.ParsePeriod(cause.From)
		if err != nil {
			return err
		}
		var lines []report.ExceptionLine
		for p := from; !through.Before(p); p = p.Next() {
			if _, ok := registers[p]; !ok {
				x, err := r.ExceptionRegister(ctx, yard, []ledger.Period{p})
				if err != nil {
					return err
				}
				registers[p] = x.Exceptions
			}
			lines = append(lines, registers[p]...)
		}
		of := report.Candidates{Pile: cause.Pile, Product: r.reg.Pile(ledger.PileID{Yard: yard, Code: cause.Pile}, r.endOf(yard, []ledger.Period{through})).Product}
		of.Rank(lines)
		cause.Exceptions = of.Items
	}
	return nil
}

// Rules describes every rule of the register, with the settings that a yard may change.
func Rules() []screen.Info {
	var all []screen.Info
	for _, r := range rules.All() {
		all = append(all, r.Info())
	}
	return append(all, screen.SettingInfo())
}
