package book

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"repose/internal/screen"
	"repose/internal/sqlite"
	"repose/ledger"
)

// How says how an exception is settled. The zero value is no way.
type How uint8

// The ways.
const (
	HowExplain     How = iota + 1 // words, and with a cause an entry into explained shrinkage
	HowWaive                      // words: it is left as it is
	HowReclass                    // the stone left another pile than the records say
	HowLateLoad                   // a truck that the loaders' records lack
	HowSplit                      // one record of several trucks becomes one each, with the total kept
	HowInternalUse                // the yard's own use, by estimate
	HowVoid                       // a load that was entered and did not leave
	HowReinstate                  // a load that was voided and did leave
	HowReopen                     // what was settled is open again
)

var howNames = [...]string{HowExplain: "explain", HowWaive: "waive", HowReclass: "reclass", HowLateLoad: "late-load", HowSplit: "split",
	HowInternalUse: "internal-use", HowVoid: "void", HowReinstate: "reinstate", HowReopen: "reopen"}

// String returns the way as the command line has it.
func (h How) String() string { return howNames[h] }

// ParseHow reads what String writes.
func ParseHow(s string) (How, error) {
	for h := HowExplain; int(h) < len(howNames); h++ {
		if strings.EqualFold(s, howNames[h]) {
			return h, nil
		}
	}
	return 0, fmt.Errorf("%q: want one of %s", s, strings.Join(howNames[1:], ", "))
}

// status is what an exception is once it has been settled that way.
func (h How) status() ledger.ExceptionStatus {
	switch h {
	case HowExplain:
		return ledger.ExceptionExplained
	case HowWaive:
		return ledger.ExceptionWaived
	case HowReopen:
		return ledger.ExceptionOpen
	}
	return ledger.ExceptionSettled
}

// Resolution is how somebody settles an exception.
type Resolution struct {
	Yard       string   // may be empty where the book holds one
	Exceptions []string // IDs
	How        How
	Reason     string
	By         string
	Now        time.Time
	DryRun     bool

	Record   string      // one of the exception's records; empty for those that the way means
	Pile, To string      // codes
	Mass     ledger.Mass // as weighed; 0 for the exception's own
	Parts    int         // of a split; 0 for as many as the deck tickets among the records
	Cause    string      // of explained shrinkage, a code of the yard's own
}

// Resolved is what settling did.
type Resolved struct {
	Exception Exception
	Status    ledger.ExceptionStatus
	Wrote     []*ledger.Record // beside the settlement itself
}

// errResolution says that an exception cannot be settled in the way that was asked for.
var errResolution = errors.New("cannot be settled so")

// Resolve settles exceptions of the register, all of them or none. It writes records, and edits none: each settlement
// with its reason, and what sets the book right.
func Resolve(ctx context.Context, store *sqlite.Book, res Resolution) ([]Resolved, error) {
	if strings.TrimSpace(res.Reason) == "" {
		return nil, errors.New("settling needs a reason in words")
	}
	tx, err := store.Begin(ctx, res.By, res.Now)
	if err != nil {
		return nil, err
	}
	defer tx.Rollback()
	r, y, err := readYard(ctx, store, res.Yard)
	if err != nil {
		return nil, err
	}
	res.Yard = y.Code
	exceptions, err := r.named(ctx, y.Code, res.Exceptions)
	if err != nil {
		return nil, err
	}
	var all []Resolved
	for _, e := range exceptions {
		if err := mayResolve(e, res.How); err != nil {
			return nil, err
		}
		s := &settler{reader: r, ctx: ctx, res: res, exception: e}
		if err := s.write(); err != nil {
			return nil, fmt.Errorf("exception %s: %w", e.ID, err)
		}
		done, err := s.append(tx)
		if err != nil {
			return nil, err
		}
		all = append(all, done)
	}
	if res.DryRun {
		return all, nil
	}
	return all, tx.Commit()
}

// named returns exceptions by their IDs. Each month is looked through once.
func (r *Reader) named(ctx context.Context, yard string, ids []string) ([]Exception, error) {
	months := map[ledger.Period][]Exception{}
	var out []Exception
	for _, id := range ids {
		p, err := screen.MonthOfID(id)
		if err != nil {
			return nil, err
		}
		if _, ok := months[p]; !ok {
			if months[p], err = r.Exceptions(ctx, yard, p); err != nil {
				return nil, err
			}
		}
		i := slices.IndexFunc(months[p], func(e Exception) bool { return e.ID == id })
		if i < 0 {
			return nil, fmt.Errorf("exception %s: the register of %s does not have it", id, p)
		}
		out = append(out, months[p][i])
	}
	return out, nil
}

// mayResolve keeps a settlement from being settled again over its head.
func mayResolve(e Exception, how How) error {
	switch isOpen := e.Status == ledger.ExceptionOpen; {
	case how == HowReopen && isOpen:
		return fmt.Errorf("exception %s is open", e.ID)
	case how != HowReopen && !isOpen:
		return fmt.Errorf("exception %s is %v already (%s); reopen it first", e.ID, e.Status, e.Settled().Reason)
	}
	return nil
}

// settler collects the records that settle an exception.
type settler struct {
	reader    *Reader
	ctx       context.Context
	res       Resolution
	exception Exception
	records   []ledger.Record
}

// write puts together the records that the way asks for.
func (s *settler) write() error {
	switch s.res.How {
	case HowExplain:
		return s.explain()
	case HowReclass:
		return s.reclass()
	case HowLateLoad:
		return s.lateLoad()
	case HowSplit:
		return s.split()
	case HowInternalUse:
		return s.internalUse()
	case HowVoid, HowReinstate:
		return s.setVoid()
	}
	return nil
}

// append writes everything to the log.
func (s *settler) append(tx *sqlite.Tx) (Resolved, error) {
	e := s.exception
	done := Resolved{Exception: e, Status: s.res.How.status()}
	fact := ledger.Settlement{Exception: e.ID, Rule: e.Rule, Status: done.Status, How: s.res.How.String(), Reason: s.res.Reason,
		Pile: e.Pile, Mass: e.Mass, At: e.Time, Seen: e.Seen, Records: e.Records, Decided: s.res.Now.UTC()}
	for i := range s.records {
		rec := &s.records[i]
		outcome, held, err := tx.Append(rec)
		if err != nil {
			return done, err
		}
		if outcome != sqlite.New {
			return done, fmt.Errorf("exception %s: the book holds %s already", e.ID, held.ID())
		}
		done.Wrote = append(done.Wrote, rec)
		fact.Wrote = append(fact.Wrote, rec.ID())
	}
	rec, err := ledger.NewRecord(s.res.Yard, fact)
	if err != nil {
		return done, err
	}
	rec.Replaces = fact.Key()
	_, _, err = tx.Append(&rec)
	return done, err
}

// add puts a fact on the list; replaces is the key of the record that it corrects, or "".
func (s *settler) add(f ledger.Fact, replaces string) error {
	rec, err := ledger.NewRecord(s.res.Yard, f)
	rec.Replaces = replaces
	s.records = append(s.records, rec)
	return err
}

// correct puts a correction on the list.
func (s *settler) correct(from, to ledger.End, pile string, at time.Time, net ledger.Mass) error {
	number, err := s.reader.corrections(s.ctx, s.exception.ID)
	if err != nil {
		return err
	}
	return s.add(ledger.Correction{Exception: s.exception.ID, Number: number + 1 + len(s.records), At: at, From: from, To: to,
		Pile: pile, Net: net, Estimated: s.exception.Estimated || s.res.Mass > 0, Reason: s.res.Reason}, "")
}

// corrections returns how many corrections of an exception the book holds.
func (r *Reader) corrections(ctx context.Context, exception string) (n int, err error) {
	for rec, err := range r.view.Records(ctx, ledger.KindCorrectionRecord) {
		if err != nil {
			return 0, err
		}
		if rec.Fact.(ledger.Correction).Exception == exception {
			n++
		}
	}
	return n, nil
}

// pile returns the pile that is meant: as asked for, else the exception's.
func (s *settler) pile() (string, error) {
	code := s.res.Pile
	if code == "" {
		code = s.exception.Pile
	}
	return code, s.known(code, "--pile")
}

func (s *settler) known(code, flag string) error {
	if code == "" {
		return fmt.Errorf("%w: it names no pile; say which with %s", errResolution, flag)
	}
	if !s.reader.reg.Known(ledger.PileID{Yard: s.res.Yard, Code: code}) {
		return fmt.Errorf("%w: pile %q is not in the register", errResolution, code)
	}
	return nil
}

// mass returns the mass that is meant: as asked for, else the exception's.
func (s *settler) mass() (ledger.Mass, error) {
	m := s.res.Mass
	if m == 0 {
		m = s.exception.Mass
	}
	if m <= 0 {
		return 0, fmt.Errorf("%w: it has no mass; say how much with --mass", errResolution)
	}
	return m, nil
}

// taken returns the survey of a sealed month by which the book took what lay in a pile at or after an instant;
// nil where there is none. What happened before it is out of the book of the pile already.
func (s *settler) taken(pile string, at time.Time) (*ledger.Balance, error) {
	h, err := s.reader.history(s.ctx, s.res.Yard)
	if err != nil {
		return nil, err
	}
	for _, seal := range h.seals {
		if seal.Close.Period.Before(ledger.PeriodOf(at, h.zone)) {
			continue
		}
		balances, _, err := s.reader.sealedPast(s.ctx, seal.Record)
		if err != nil {
			return nil, err
		}
		for _, b := range balances {
			if b.Pile.Code == pile && b.Outcome == ledger.OutcomeTakeSurvey && !b.At.Before(at) {
				return &b, nil
			}
		}
	}
	return nil, nil
}

// untaken refuses an entry that would move stone which a survey has moved already.
func (s *settler) untaken(pile string, at time.Time) error {
	b, err := s.taken(pile, at)
	if err != nil || b == nil {
		return err
	}
	return fmt.Errorf("%w: the closed book took survey %s of pile %s on %s, so the difference is in unexplained shrinkage already; "+
		"use --how explain --cause CODE, which moves it from there to the cause", errResolution, b.Survey, pile, b.At.Format(time.DateOnly))
}
