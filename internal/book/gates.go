package book

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"repose/internal/report"
	"repose/internal/screen"
	"repose/internal/screen/rules"
	"repose/ledger"
)

// GateState says how something that stands in the way of a close stands. The zero value is none.
type GateState uint8

// The states.
const (
	GateOpen    GateState = iota + 1 // it stands in the way
	GateWaiting                      // waived by one person, and not yet approved by another: it still does
	GateWaived                       // waived and approved
)

var gateStateNames = [...]string{GateOpen: "open", GateWaiting: "waits for approval", GateWaived: "waived"}

// String returns the state in words.
func (s GateState) String() string { return gateStateNames[s] }

// Gate is one thing that has to be settled before a month is closed.
type Gate struct {
	ledger.Problem
	State  GateState
	Waiver *ledger.Record // nil where nobody has waived it
	Second *ledger.Record // the approval of the waiver; nil where there is none
}

// Gates returns everything that stands, or would stand, in the way of the close of a month: what the ledger found in it,
// conflicts that nobody has decided, exceptions that the close waits for, certificates that have lapsed, and what
// waits for a second person.
//
// A closed month was closed in spite of what it holds, so that is all that stands there, with the waivers that say why.
func (r *Reader) Gates(ctx context.Context, m *Month) ([]Gate, error) {
	problems := blocking(m.Problems)
	if m.Closed {
		return r.withWaivers(ctx, m, problems)
	}
	for _, find := range []func(context.Context, *Month) ([]ledger.Problem, error){r.conflictGates, r.exceptionGates, r.certificateGates, r.approvalGates, r.valueGates} {
		more, err := find(ctx, m)
		if err != nil {
			return nil, err
		}
		problems = append(problems, more...)
	}
	return r.withWaivers(ctx, m, problems)
}

// blocking returns the problems that stand in the way of a close.
func blocking(problems []ledger.Problem) []ledger.Problem {
	return slices.DeleteFunc(slices.Clone(problems), func(p ledger.Problem) bool { return !p.Kind.Blocks() })
}

// report puts the gate into the words of a report.
func (g Gate) report() report.Problem {
	p := report.NewProblem(g.Problem)
	p.Blocks = g.State != GateWaived
	if g.Waiver != nil {
		p.WaivedBy, p.Reason = g.Waiver.By, g.Waiver.Fact.(ledger.Waiver).Reason
	}
	if g.Second != nil {
		p.ApprovedBy = g.Second.By
	}
	return p
}

func (r *Reader) conflictGates(ctx context.Context, m *Month) ([]ledger.Problem, error) {
	conflicts, err := r.OpenConflicts(ctx)
	if err != nil {
		return nil, err
	}
	var problems []ledger.Problem
	for _, c := range conflicts {
		if c.Record.Yard == "" || c.Record.Yard == m.Yard.Code {
			problems = append(problems, ledger.Problem{Kind: ledger.ProblemConflict, Subject: c.Short,
				Text: fmt.Sprintf("%s came in again with other content (%s)", c.Fact.Held, describe(c.Differences))})
		}
	}
	return problems, nil
}

// A close always waits for gaps in numbers. For what is stale it waits where the yard has said how old is too old.
const gateRule = "missing number"

var gateSettings = map[string]ledger.PolicyName{"stale density": "rule stale density days", "stale moisture": "rule stale moisture days"}

// exceptionGates looks through the month with the rules that the close waits for, and with no other: the matching of
// trucks takes longer than the rest of a close. None of them looks at records but for their numbers, which are kept small.
func (r *Reader) exceptionGates(ctx context.Context, m *Month) ([]ledger.Problem, error) {
	end := m.End().Add(-1)
	var wanted []screen.Rule
	for _, rule := range rules.All() {
		name := rule.Info().Name
		setting, ok := gateSettings[name]
		if ok {
			_, ok = r.reg.Setting(m.Yard.Code, setting, end)
		}
		if ok || name == gateRule {
			wanted = append(wanted, rule)
		}
	}
	numbers, err := r.numbered(ctx, m)
	if err != nil {
		return nil, err
	}
	d, err := screen.NewData(screen.Input{Register: r.reg, Month: m.Month, Unmatched: true})
	if err != nil {
		return nil, err
	}
	numbers.Seed(d)
	found, err := screen.Run(d, wanted)
	if err != nil {
		return nil, err
	}
	settled, err := r.settlements(ctx, m.Yard.Code)
	if err != nil {
		return nil, err
	}
	var problems []ledger.Problem
	for _, e := range found {
		rec, ok := settled[e.ID]
		isSetting := e.Rule == screen.SettingInfo().Name // seen in the register; no reason to keep a month open
		if !isSetting && (!ok || rec.Fact.(ledger.Settlement).Status == ledger.ExceptionOpen) {
			problems = append(problems, ledger.Problem{Kind: ledger.ProblemException, Subject: e.ID, Text: e.Rule + ": " + e.Seen})
		}
	}
	return problems, nil
}

// certificateGates finds instruments that weighed in the month after their certificate had lapsed.
func (r *Reader) certificateGates(_ context.Context, m *Month) ([]ledger.Problem, error) {
	var problems []ledger.Problem
	for code, last := range m.LastUse {
		i, ok := r.reg.Instrument(m.Yard.Code, code, last)
		if ok && !i.Until.IsZero() && !last.Before(i.Until) {
			problems = append(problems, ledger.Problem{Kind: ledger.ProblemCertificate, Subject: code,
				Text: fmt.Sprintf("the certificate %s of %v %s held through %s, and it weighed after that", i.Certificate, i.Weighs, code, i.Until.Add(-1).In(m.Zone).Format(time.DateOnly))})
		}
	}
	slices.SortFunc(problems, func(a, b ledger.Problem) int { return strings.Compare(a.Subject, b.Subject) })
	return problems, nil
}

// approvalGates finds what a person did to the book and no other has approved.
func (r *Reader) approvalGates(ctx context.Context, m *Month) ([]ledger.Problem, error) {
	pending, err := r.Pending(ctx, m.Yard.Code)
	if err != nil {
		return nil, err
	}
	var problems []ledger.Problem
	for _, p := range pending {
		text := ""
		switch f := p.Record.Fact.(type) {
		case ledger.Settlement:
			text = fmt.Sprintf("%s settled exception %s by %s: %s", p.Record.By, f.Exception, f.How, f.Reason)
		case ledger.Policy:
			if !f.From.Before(m.End()) {
				continue // it is not in force yet
			}
			text = fmt.Sprintf("%s: %s", p.Record.By, p.What)
		case ledger.SourceFile:
			text = fmt.Sprintf("%s: %s", p.Record.By, p.What)
		case ledger.Adjustment:
			text = fmt.Sprintf("%s decided about pile %s: %s", p.Record.By, f.Pile, p.What)
		default:
			continue // a waiver is a gate of its own, and nobody has to open a month again
		}
		problems = append(problems, ledger.Problem{Kind: ledger.ProblemApproval, Subject: p.ID, Text: text})
	}
	return problems, nil
}

// withWaivers says of each problem whether it has been waived.
func (r *Reader) withWaivers(ctx context.Context, m *Month, problems []ledger.Problem) ([]Gate, error) {
	waivers := map[string]*ledger.Record{}
	for rec, err := range r.view.Records(ctx, ledger.KindWaiverRecord) {
		if err != nil {
			return nil, err
		}
		if w := rec.Fact.(ledger.Waiver); rec.Yard == m.Yard.Code && w.Period == m.Period {
			waivers[w.Gate] = rec
		}
	}
	approvals, err := r.approvals(ctx)
	if err != nil {
		return nil, err
	}
	var gates []Gate
	for _, p := range problems {
		g := Gate{Problem: p, State: GateOpen}
		if rec, ok := waivers[p.ID()]; ok && p.Kind.Waivable() {
			g.State, g.Waiver = GateWaiting, rec
			if second, ok := approvals[rec.ID()]; ok {
				g.State, g.Second = GateWaived, second
			}
		}
		gates = append(gates, g)
	}
	return gates, nil
}

// approvals returns the approvals by the record that they approve.
func (r *Reader) approvals(ctx context.Context) (map[string]*ledger.Record, error) {
	all := map[string]*ledger.Record{}
	for rec, err := range r.view.Records(ctx, ledger.KindApprovalRecord) {
		if err != nil {
			return nil, err
		}
		all[rec.Fact.(ledger.Approval).Of] = rec
	}
	return all, nil
}
