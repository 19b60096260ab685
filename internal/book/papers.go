package book

import (
	"cmp"
	"context"
	"fmt"
	"strings"

	"repose/internal/merkle"
	"repose/internal/report"
	"repose/internal/screen"
	"repose/ledger"
)

// cutOffTickets is how many tickets the workbook shows on either side of a cut.
const cutOffTickets = 10

// papers gathers the further papers of a month, as r knows it: for a closed month r is the book as it was when it was
// closed.
func (r *Reader) papers(ctx context.Context, m *Month, x *pass, d *screen.Data) (*report.Papers, error) {
	var p report.Papers
	var err error
	if p.CutOff, err = r.cutOff(ctx, m, x, d, cutOffTickets); err != nil {
		return nil, err
	}
	if p.Screen, err = r.screenManual(ctx, m, x); err != nil {
		return nil, err
	}
	if p.Sensitivity, err = sensitivityOf(m, x); err != nil {
		return nil, err
	}
	p.Rolls = report.NewRolls(m.Yard.Code, m.Period, m.Zone)
	if err := addRolls(p.Rolls, m, m, x); err != nil {
		return nil, err
	}
	p.Instruments = instrumentLines(m)
	h, err := r.history(ctx, m.Yard.Code)
	if err != nil {
		return nil, err
	}
	from := int64(0)
	if len(h.seals) > 0 {
		from = h.last().LogSize
	}
	if p.Acts, err = r.acts(ctx, m, from); err != nil {
		return nil, err
	}
	p.Log, err = r.logLines(ctx, m, from)
	return &p, err
}

// instrumentLines returns the instruments of a yard that were registered for a month or weighed in it.
func instrumentLines(m *Month) []report.InstrumentLine {
	var lines []report.InstrumentLine
	end := m.End().Add(-1)
	for _, code := range m.Register.Instruments(m.Yard.Code) {
		last := m.LastUse[code]
		at := end
		if !last.IsZero() {
			at = last
		}
		i, ok := m.Register.Instrument(m.Yard.Code, code, at)
		if !ok {
			continue
		}
		l := report.InstrumentLine{Instrument: code, Weighs: i.Weighs.String(), From: i.From, Until: i.Until, Certificate: i.Certificate, Class: i.CertificateClass,
			Systematic: i.Systematic, Random: i.Random, LastUse: last, InDate: "yes"}
		switch {
		case i.Until.IsZero():
			l.InDate = "no date stated"
		case !at.Before(i.Until):
			l.InDate = "lapsed"
		}
		for _, b := range m.Ratings {
			if b.Belt == code {
				l.Factor.Decimal, l.Factor.Valid = b.Factor, true
			}
		}
		lines = append(lines, l)
	}
	return lines
}

// acts returns what people did to the book of a yard since a place in the log, and who approved it.
func (r *Reader) acts(ctx context.Context, m *Month, from int64) ([]report.Act, error) {
	approvals, err := r.approvals(ctx)
	if err != nil {
		return nil, err
	}
	changed, err := r.changedMaps(ctx, m.Yard.Code)
	if err != nil {
		return nil, err
	}
	var acts []report.Act
	for rec, err := range r.view.Records(ctx, ledger.KindWaiverRecord, ledger.KindAdjustmentRecord, ledger.KindSettlementRecord, ledger.KindCorrectionRecord,
		ledger.KindReopeningRecord, ledger.KindPolicyRecord, ledger.KindSourceRecord, ledger.KindDecisionRecord) {
		if err != nil {
			return nil, err
		}
		if rec.Seq < from || rec.Yard != m.Yard.Code && rec.Yard != "" {
			continue
		}
		a := report.Act{Record: rec.ID(), By: rec.By, Recorded: rec.Recorded, NeedsTwo: true}
		if !describeAct(&a, rec, m, changed[rec.ID()]) {
			continue
		}
		if second := approvals[rec.ID()]; second != nil {
			a.ApprovedBy, a.Approved = second.By, second.Recorded
		}
		acts = append(acts, a)
	}
	return acts, nil
}

// describeAct says what a record did; ok is false for one that is no act of a person.
func describeAct(a *report.Act, rec *ledger.Record, m *Month, changedMap bool) (ok bool) {
	switch f := rec.Fact.(type) {
	case ledger.Waiver:
		a.What, a.Text, a.Reason = "waiver", f.Gate+" in "+f.Period.String()+": "+f.Text, f.Reason
	case ledger.Adjustment:
		a.What, a.Pile, a.Text, a.Reason = "decision", f.Pile, decision(f), f.Reason
		for _, c := range m.Comparisons {
			if c.Record.ID() == f.Survey && c.Outcome == ledger.OutcomeTakeSurvey {
				a.Solids = report.Tonnes(-c.Difference())
			}
		}
	case ledger.Settlement:
		a.What, a.Pile, a.Text, a.Reason = "settlement", f.Pile, fmt.Sprintf("exception %s (%s) by %s; wrote %s", f.Exception, f.Rule, f.How, cmp.Or(strings.Join(f.Wrote, ", "), "nothing")), f.Reason
		a.NeedsTwo = len(f.Wrote) > 0 || f.Status == ledger.ExceptionWaived
	case ledger.Correction:
		a.What, a.Pile, a.Text, a.Reason = "correction", f.Pile, fmt.Sprintf("%v from %v to %v, of settlement %s", f.Net, f.From, f.To, f.Exception), f.Reason
		a.NeedsTwo = false // its settlement does
	case ledger.Reopening:
		a.What, a.Text, a.Reason = "reopening", fmt.Sprintf("%s, because of an %s", f.Of, f.Why), f.Reason
	case ledger.Decision:
		a.What, a.Text, a.Reason, a.NeedsTwo = "conflict decided", f.Of, f.Reason, false
	case ledger.Policy:
		a.What, a.Text, a.Reason = "belt factor", fmt.Sprintf("%s %s from %s", f.Name, f.Value, f.From.In(m.Zone).Format("2006-01-02")), f.Reason
		return f.Name.IsBeltFactor()
	case ledger.SourceFile:
		a.What, a.Text = "column map changed", f.Name+", SHA-256 "+f.SHA256
		return changedMap
	}
	return true
}

// logLines returns the records since a place in the log that no machine made, with their leaves.
func (r *Reader) logLines(ctx context.Context, m *Month, from int64) ([]report.LogLine, error) {
	names, err := r.fileNames(ctx)
	if err != nil {
		return nil, err
	}
	var lines []report.LogLine
	for rec, err := range r.view.Records(ctx, ledger.KindYardRecord, ledger.KindProductRecord, ledger.KindPileRecord, ledger.KindInstrumentRecord, ledger.KindHoursRecord,
		ledger.KindPolicyRecord, ledger.KindCostRecord, ledger.KindPriceRecord, ledger.KindMoistureRecord, ledger.KindDensityRecord, ledger.KindSurveyRecord,
		ledger.KindConflictRecord, ledger.KindDecisionRecord, ledger.KindSettlementRecord, ledger.KindCorrectionRecord, ledger.KindWaiverRecord,
		ledger.KindAdjustmentRecord, ledger.KindReopeningRecord, ledger.KindExportRecord, ledger.KindApprovalRecord, ledger.KindSourceRecord, ledger.KindCloseRecord) {
		if err != nil {
			return nil, err
		}
		if rec.Seq < from || rec.Yard != m.Yard.Code && rec.Yard != "" {
			continue
		}
		lines = append(lines, report.LogLine{Seq: rec.Seq, Record: rec.ID(), Recorded: rec.Recorded, By: rec.By, Source: sourceOf(rec, names),
			Leaf: merkle.LeafHash(rec.AppendLine(nil)).String()})
	}
	return lines, nil
}

func sourceOf(rec *ledger.Record, names map[string]string) string {
	if rec.Source.Row == 0 {
		return ""
	}
	name := names[rec.Source.File]
	if rec.Source.Sheet != "" {
		name += " sheet " + rec.Source.Sheet
	}
	return fmt.Sprintf("%s row %d", name, rec.Source.Row)
}
