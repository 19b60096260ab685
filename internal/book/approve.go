package book

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"repose/internal/sqlite"
	"repose/ledger"
)

// ErrSelf says that somebody would approve what they did themselves.
var ErrSelf = errors.New("another person has to approve it")

// Approving is a second person's word.
type Approving struct {
	Yard   string // may be empty where the book holds one
	ID     string // as Pending.ID names it
	By     string
	Now    time.Time
	DryRun bool
}

// Approve records that a second person agrees with what another did. By has to be of somebody else: see
// [ledger.SamePerson] for how little a name proves.
func Approve(ctx context.Context, store *sqlite.Book, a Approving) (Pending, error) {
	tx, err := store.Begin(ctx, a.By, a.Now)
	if err != nil {
		return Pending{}, err
	}
	defer tx.Rollback()
	r, y, err := readYard(ctx, store, a.Yard)
	if err != nil {
		return Pending{}, err
	}
	pending, err := r.Pending(ctx, y.Code)
	if err != nil {
		return Pending{}, err
	}
	for _, p := range pending {
		if p.ID != a.ID {
			continue
		}
		if err := r.maySecond(ctx, p, a.By); err != nil {
			return p, err
		}
		if err := put(tx, y.Code, ledger.Approval{Of: p.Record.ID(), Decided: a.Now.UTC()}); err != nil || a.DryRun {
			return p, err
		}
		return p, tx.Commit()
	}
	return Pending{}, fmt.Errorf("%q: nothing of that name waits for approval", a.ID)
}

// maySecond keeps from approving who did it, and, of an adjustment or a settlement, who measured or loaded what it
// rests on.
func (r *Reader) maySecond(ctx context.Context, p Pending, by string) error {
	if ledger.SamePerson(p.Record.By, by) {
		return fmt.Errorf("%s was done by %s: %w", p.ID, p.Record.By, ErrSelf)
	}
	if a, ok := p.Record.Fact.(ledger.Adjustment); ok {
		s, ok := r.reg.Survey(a.Survey)
		if ok && s.Surveyor != "" && ledger.SamePerson(s.Surveyor, by) {
			return fmt.Errorf("%s rests on a survey by %s: %w", p.ID, s.Surveyor, ErrSelf)
		}
		return r.notOperator(ctx, p, a.Pile, s.End, by)
	}
	if s, ok := p.Record.Fact.(ledger.Settlement); ok && s.Pile != "" {
		return r.notOperator(ctx, p, s.Pile, s.At, by)
	}
	return nil
}

// tagOperator is the yard's own label of who sat in the loader: a column headed "tag operator" of loads or transfers.
const tagOperator = "operator"

// notOperator keeps from approving what was done to a pile in a month who loaded stone of it then, where the records
// say who that was.
func (r *Reader) notOperator(ctx context.Context, p Pending, pile string, at time.Time, by string) error {
	zone, _ := r.reg.Zone(p.Record.Yard)
	month := ledger.PeriodOf(at, zone)
	for rec, err := range r.view.Movements(ctx, p.Record.Yard, month.Start(zone), month.End(zone)) {
		if err != nil {
			return err
		}
		piles := []string{}
		switch f := rec.Fact.(type) {
		case ledger.Load:
			piles = append(piles, f.Pile)
		case ledger.Transfer:
			piles = append(piles, f.From, f.To)
		}
		for _, t := range rec.Tags {
			if slices.Contains(piles, pile) && strings.EqualFold(t.Name, tagOperator) && ledger.SamePerson(t.Value, by) {
				return fmt.Errorf("%s rests on loads by %s, such as %s: %w", p.ID, t.Value, rec.ID(), ErrSelf)
			}
		}
	}
	return nil
}

// Deciding is what a person decides about the difference of a pile's survey.
type Deciding struct {
	Yard   string // may be empty where the book holds one
	Period ledger.Period
	Pile   string // code
	Take   bool   // the book takes the survey's figure; else it stands
	Reason string
	By     string
	Now    time.Time
	DryRun bool
}

// Decide records what a person decided about the difference of the survey that decides for a pile in an open month. It
// is in force at once, and the month waits for a second person. The comparison is that before the decision.
func Decide(ctx context.Context, store *sqlite.Book, d Deciding) (*ledger.Comparison, error) {
	if strings.TrimSpace(d.Reason) == "" {
		return nil, errors.New("a decision needs a reason in words")
	}
	tx, err := store.Begin(ctx, d.By, d.Now)
	if err != nil {
		return nil, err
	}
	defer tx.Rollback()
	r, y, err := readYard(ctx, store, d.Yard)
	if err != nil {
		return nil, err
	}
	m, err := r.Month(ctx, y.Code, d.Period, discard)
	if err != nil {
		return nil, err
	}
	c := m.Final(ledger.PileID{Yard: y.Code, Code: d.Pile})
	switch {
	case m.Closed:
		return nil, fmt.Errorf("%s of yard %s: %w", d.Period, y.Code, ErrClosed)
	case c == nil:
		return nil, fmt.Errorf("pile %q: no survey of it ends in %s", d.Pile, d.Period)
	case !c.HasDensity:
		return nil, fmt.Errorf("survey %s of pile %s: no density turns it into mass", c.Survey.Survey, d.Pile)
	}
	rec, err := ledger.NewRecord(y.Code, ledger.Adjustment{Survey: c.Record.ID(), Pile: d.Pile, Take: d.Take, Reason: d.Reason, Decided: d.Now.UTC()})
	if err != nil {
		return nil, err
	}
	rec.Replaces = rec.Fact.Key()
	if _, _, err := tx.Append(&rec); err != nil || d.DryRun {
		return c, err
	}
	return c, tx.Commit()
}

// Waiving lets a close go on in spite of something.
type Waiving struct {
	Yard   string // may be empty where the book holds one
	Period ledger.Period
	Gate   string // as [ledger.Problem.ID] names it
	Reason string
	By     string
	Now    time.Time
	DryRun bool
}

// Waive records that a person lets the close of a month go on in spite of something that stands in its way. It counts
// once another person has approved it.
func Waive(ctx context.Context, store *sqlite.Book, w Waiving) (Gate, error) {
	if strings.TrimSpace(w.Reason) == "" {
		return Gate{}, errors.New("a waiver needs a reason in words")
	}
	tx, err := store.Begin(ctx, w.By, w.Now)
	if err != nil {
		return Gate{}, err
	}
	defer tx.Rollback()
	r, y, err := readYard(ctx, store, w.Yard)
	if err != nil {
		return Gate{}, err
	}
	m, err := r.Month(ctx, y.Code, w.Period, discard)
	if err != nil {
		return Gate{}, err
	}
	if m.Closed {
		return Gate{}, fmt.Errorf("%s of yard %s: %w", w.Period, y.Code, ErrClosed)
	}
	gates, err := r.Gates(ctx, m)
	if err != nil {
		return Gate{}, err
	}
	for _, g := range gates {
		switch {
		case g.ID() != w.Gate:
			continue
		case !g.Kind.Waivable():
			return g, fmt.Errorf("%s cannot be waived; what settles it: %s", w.Gate, g.Kind.Settled())
		case g.State != GateOpen:
			return g, fmt.Errorf("%s is waived already, by %s", w.Gate, g.Waiver.By)
		}
		fact := ledger.Waiver{Period: w.Period, Gate: w.Gate, Text: g.Text, Reason: w.Reason, Decided: w.Now.UTC()}
		if err := put(tx, y.Code, fact); err != nil || w.DryRun {
			return g, err
		}
		return g, tx.Commit()
	}
	return Gate{}, fmt.Errorf("%q does not stand in the way of %s; see repose close %s --check", w.Gate, w.Period, w.Period)
}

// put appends a fact that nothing else of its key may have been said of.
func put(tx *sqlite.Tx, yard string, f ledger.Fact) error {
	rec, err := ledger.NewRecord(yard, f)
	if err != nil {
		return err
	}
	_, _, err = tx.Append(&rec)
	return err
}

func readYard(ctx context.Context, store *sqlite.Book, code string) (*Reader, ledger.Yard, error) {
	r, err := Read(ctx, store, time.Time{})
	if err != nil {
		return nil, ledger.Yard{}, err
	}
	y, err := r.Yard(code)
	return r, y, err
}
