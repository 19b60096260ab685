package book

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"repose/ledger"
)

// Pending is something that one person did and another has to approve.
type Pending struct {
	ID     string // names it on the command line
	Record *ledger.Record
	What   string
}

// Pending returns what waits for a second person in a yard, in the order in which it was done: waivers, adjustments,
// settlements that wrote anything, reopenings of closes that stand, factors of belts, and column maps that were changed.
func (r *Reader) Pending(ctx context.Context, yard string) ([]Pending, error) {
	approved, err := r.approvals(ctx)
	if err != nil {
		return nil, err
	}
	settled, err := r.settlements(ctx, yard)
	if err != nil {
		return nil, err
	}
	h, err := r.history(ctx, yard)
	if err != nil {
		return nil, err
	}
	changed, err := r.changedMaps(ctx, yard)
	if err != nil {
		return nil, err
	}
	var pending []Pending
	for rec, err := range r.view.Records(ctx, ledger.KindSettlementRecord, ledger.KindWaiverRecord, ledger.KindAdjustmentRecord, ledger.KindReopeningRecord,
		ledger.KindPolicyRecord, ledger.KindSourceRecord) {
		if err != nil {
			return nil, err
		}
		if rec.Yard != yard && rec.Yard != "" || approved[rec.ID()] != nil {
			continue
		}
		switch f := rec.Fact.(type) {
		case ledger.Policy:
			if f.Name.IsBeltFactor() && !r.reg.Superseded(rec) {
				pending = append(pending, Pending{shortName(rec), rec, fmt.Sprintf("%s %s from %s: %s", f.Name, f.Value, f.From.In(h.zone).Format(time.DateOnly), cmp.Or(f.Reason, "no reason given"))})
			}
		case ledger.SourceFile:
			if changed[rec.ID()] {
				pending = append(pending, Pending{shortName(rec), rec, fmt.Sprintf("column map %s is new or changed since files were first taken in (SHA-256 %s)", f.Name, f.SHA256)})
			}
		case ledger.Waiver:
			pending = append(pending, Pending{shortName(rec), rec, fmt.Sprintf("waive %s in %s: %s", f.Gate, f.Period, f.Reason)})
		case ledger.Adjustment:
			if !r.reg.Superseded(rec) {
				pending = append(pending, Pending{shortName(rec), rec, decision(f)})
			}
		case ledger.Reopening:
			if h.closed(f.Of) {
				pending = append(pending, Pending{shortName(rec), rec, fmt.Sprintf("open %s and every later month again, because of an %s: %s", f.Period, f.Why, f.Reason)})
			}
		case ledger.Settlement:
			// One that a later one has taken the place of has done what it did all the same.
			// A waiver of one counts while it is the last word.
			last := settled[f.Exception]
			if len(f.Wrote) > 0 && last != nil || f.Status == ledger.ExceptionWaived && last != nil && last.Seq == rec.Seq {
				pending = append(pending, Pending{shortName(rec), rec, fmt.Sprintf("settle %s (%s) by %s: %s; wrote %s", f.Exception, f.Rule, f.How, f.Reason, cmp.Or(strings.Join(f.Wrote, ", "), "nothing"))})
			}
		}
	}
	return pending, nil
}

// decision says in words what was decided about a survey.
func decision(a ledger.Adjustment) string {
	what := "the book stands"
	if a.Take {
		what = "the book takes the survey's figure"
	}
	return fmt.Sprintf("%s, %s: %s", a.Survey, what, a.Reason)
}

// changedMaps returns the records of column maps that need a second person: under a name that an earlier map with other
// content had, or first used after a month of the yard was closed.
func (r *Reader) changedMaps(ctx context.Context, yard string) (map[string]bool, error) {
	var files []*ledger.Record
	used := map[string]bool{}
	for rec, err := range r.view.Records(ctx, ledger.KindSourceRecord) {
		if err != nil {
			return nil, err
		}
		files = append(files, rec)
		used[rec.Fact.(ledger.SourceFile).Map] = true
	}
	columnMaps := slices.DeleteFunc(files, func(rec *ledger.Record) bool { return !used[rec.Fact.(ledger.SourceFile).SHA256] })
	if len(columnMaps) == 0 {
		return nil, nil
	}
	closed := int64(math.MaxInt64) // place of the yard's first close in the log
	for rec, err := range r.view.Records(ctx, ledger.KindCloseRecord) {
		if err != nil {
			return nil, err
		}
		if rec.Yard == yard {
			closed = rec.Seq
			break
		}
	}
	names, changed := map[string]bool{}, map[string]bool{}
	for _, rec := range columnMaps {
		f := rec.Fact.(ledger.SourceFile)
		changed[rec.ID()] = names[f.Name] || rec.Seq > closed
		names[f.Name] = true
	}
	return changed, nil
}
