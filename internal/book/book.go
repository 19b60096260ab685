// Package book answers questions of a yard's book: what a month holds, what lies in the piles at an
// instant, what may be closed. It reads records and seals from the store and lets the ledger derive what
// is not sealed; it holds no rule of its own.
package book

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"math"
	"slices"
	"strings"
	"time"

	"repose/internal/sqlite"
	"repose/ledger"
)

// Reader answers questions as the book was known at one size of its log.
type Reader struct {
	store *sqlite.Book
	size  int64     // of the log, as known
	at    time.Time // what happened later is left out; zero for nothing
	view  sqlite.View
	reg   *ledger.Register
	but   []ledger.Kind // of records that are not read

	recent *recency // nil where reg is a whole register

	histories map[string]*history // that have been asked for, by yard
}

// Read returns a reader of all that the book knows, or, where known is not zero, of what it knew then.
func Read(ctx context.Context, store *sqlite.Book, known time.Time) (*Reader, error) {
	return read(ctx, store, known, nil)
}

// ReadRecent is Read for who asks about a month or an instant that is mostly not long ago: tests and surveys are read of the yards
// that are asked about, and older ones where an answer needs them. The reader is for one goroutine, and ctx has to last as
// long as it. An answer holds where Err is nil after it.
func ReadRecent(ctx context.Context, store *sqlite.Book, known time.Time) (*Reader, error) {
	return read(ctx, store, known, new(recency))
}

func read(ctx context.Context, store *sqlite.Book, known time.Time, recent *recency) (*Reader, error) {
	head, err := store.Head(ctx)
	if err != nil {
		return nil, err
	}
	r := Reader{store: store, size: head.Size, recent: recent}
	if !known.IsZero() {
		if r.size, err = store.SizeKnownAt(ctx, known); err != nil {
			return nil, err
		}
	}
	return r.reading(ctx, r.size, time.Time{})
}

// Until returns a reader of the same book that leaves out what happened after an instant.
func (r *Reader) Until(ctx context.Context, at time.Time) (*Reader, error) {
	return r.reading(ctx, r.size, at)
}

// reading returns a reader of the same book as it stood when its log had a size, without what happened after an instant.
func (r *Reader) reading(ctx context.Context, size int64, at time.Time) (*Reader, error) {
	view := r.store.At(size)
	if !at.IsZero() {
		view = view.Until(at)
	}
	reg, err := register(ctx, view, r.recent)
	if err != nil {
		return nil, err
	}
	return &Reader{store: r.store, size: size, at: at, view: view, reg: reg, recent: r.recent, histories: map[string]*history{}}, nil
}

// recentDays is how many days before the last test or survey of a yard a recent register goes back: a year, and what a survey or
// a test that is made once in a year may be late.
const recentDays = 400

// recency is what readers of recent registers share that were made of one another.
type recency struct{ err error } // of reading tests and surveys

func register(ctx context.Context, view sqlite.View, recent *recency) (*ledger.Register, error) {
	if recent == nil {
		return wholeRegister(ctx, view)
	}
	records, err := view.BareRegisters(ctx)
	if err != nil {
		return nil, err
	}
	return ledger.NewRecentRegister(records, &measured{ctx, view, recent})
}

// measured reads what a recent register is made without. It outlives the call that made it, and so keeps its context.
type measured struct {
	ctx    context.Context
	view   sqlite.View
	recent *recency
}

// Recent implements ledger.Measured.
func (m *measured) Recent(yard string) (time.Time, []ledger.Record) {
	last, err := m.view.LastMeasured(m.ctx, yard)
	m.fail(err)
	since := last.AddDate(0, 0, -recentDays).Truncate(time.Second) // as View.HasOlder wants it
	return since, m.read(yard, since, endOfTime)
}

// Older implements ledger.Measured.
func (m *measured) Older(yard string, since time.Time) []ledger.Record {
	return m.read(yard, time.Time{}, since)
}

// HasOlder implements ledger.Measured.
func (m *measured) HasOlder(k ledger.Kind, yard, beginning string, since time.Time) bool {
	has, err := m.view.HasOlder(m.ctx, k, yard, beginning, since)
	m.fail(err)
	return has
}

func (m *measured) read(yard string, from, until time.Time) []ledger.Record {
	records, err := m.view.Measured(m.ctx, yard, from, until)
	m.fail(err)
	return records
}

func (m *measured) fail(err error) { m.recent.err = errors.Join(m.recent.err, err) }

// endOfTime is after every record.
var endOfTime = time.Unix(0, math.MaxInt64)

func wholeRegister(ctx context.Context, view sqlite.View) (*ledger.Register, error) {
	records, err := view.Registers(ctx)
	if err != nil {
		return nil, err
	}
	return ledger.NewRegister(records)
}

// Err returns why answers of a recent reader, and of those that were made of it, may lack tests and surveys.
func (r *Reader) Err() error { return r.recent.failure() }

func (x *recency) failure() error {
	if x == nil {
		return nil
	}
	return x.err
}

// Knows reports whether a record was in the book when it was as the reader has it.
func (r *Reader) Knows(rec *ledger.Record) bool {
	return rec.Seq < r.size && (r.at.IsZero() || !rec.At.After(r.at))
}

// cut reports whether the reader leaves out a part of a month.
func (r *Reader) cut(end time.Time) bool { return !r.at.IsZero() && r.at.Before(end.Add(-1)) }

// Register returns what was in force when.
func (r *Reader) Register() *ledger.Register { return r.reg }

// ErrYard says that a yard was not named, or is not in the book.
var ErrYard = errors.New("which yard")

// Yard returns the yard with a code, or, where the code is empty, the only one.
func (r *Reader) Yard(code string) (ledger.Yard, error) {
	yards := r.reg.Yards()
	var codes []string
	for _, y := range yards {
		if y.Code == code || code == "" && len(yards) == 1 {
			return y, nil
		}
		codes = append(codes, y.Code)
	}
	switch {
	case len(yards) == 0:
		return ledger.Yard{}, fmt.Errorf("%w: the book holds no yard yet; take in a table of yards first", ErrYard)
	case code == "":
		return ledger.Yard{}, fmt.Errorf("%w: the book holds %s; name one with --yard", ErrYard, strings.Join(codes, ", "))
	}
	return ledger.Yard{}, fmt.Errorf("%w: %q is not in the book; it holds %s", ErrYard, code, strings.Join(codes, ", "))
}

// history is what is sealed of a yard, and where its open part begins. It is not changed.
type history struct {
	yard  string
	zone  *time.Location
	seals []sqlite.Seal
	first ledger.Period // of the yard's records; zero where there are none
	open  ledger.Period // the first open period
}

func (r *Reader) history(ctx context.Context, yard string) (*history, error) {
	if h := r.histories[yard]; h != nil {
		return h, nil
	}
	h, err := r.readHistory(ctx, yard)
	if err != nil {
		return nil, err
	}
	r.histories[yard] = h
	return h, nil
}

func (r *Reader) readHistory(ctx context.Context, yard string) (*history, error) {
	zone, ok := r.reg.Zone(yard)
	if !ok {
		return nil, fmt.Errorf("%w: %q is not in the book", ErrYard, yard)
	}
	h := &history{yard: yard, zone: zone}
	var err error
	if h.seals, err = r.view.Seals(ctx, yard); err != nil {
		return nil, err
	}
	if len(h.seals) > 0 {
		h.first = h.seals[0].Close.Period
		h.open = h.last().Period.Next()
		return h, nil
	}
	h.first, err = r.firstPeriod(ctx, yard, zone)
	h.open = h.first
	return h, err
}

// firstPeriod returns the month of the first record that opened, made, moved or surveyed anything and
// still stands; zero where there is none. A test taken before then opens no book.
func (r *Reader) firstPeriod(ctx context.Context, yard string, zone *time.Location) (ledger.Period, error) {
	for rec, err := range r.view.Movements(ctx, yard, time.Unix(0, math.MinInt64), time.Unix(0, math.MaxInt64)) {
		if err != nil {
			return ledger.Period{}, err
		}
		switch rec.Fact.Kind() {
		case ledger.KindMoistureRecord, ledger.KindDensityRecord, ledger.KindDeckRecord:
			continue
		}
		if !r.reg.Superseded(rec) {
			return ledger.PeriodOf(rec.At, zone), nil
		}
	}
	return ledger.Period{}, nil
}

// last returns the latest close of a yard that has one.
func (h *history) last() ledger.Close { return h.seals[len(h.seals)-1].Close }

// sealed returns the place of a period among the seals, or -1.
func (h *history) sealed(p ledger.Period) int {
	for i, s := range h.seals {
		if s.Close.Period == p {
			return i
		}
	}
	return -1
}

// closed reports whether the close of an ID stands.
func (h *history) closed(id string) bool {
	return slices.ContainsFunc(h.seals, func(s sqlite.Seal) bool { return s.Record.ID() == id })
}

// ErrPeriod says that a period is not one that the book can report.
var ErrPeriod = errors.New("no such period in the book")

// Month is a period of a yard as the ledger sees it.
type Month struct {
	*ledger.Month
	Register *ledger.Register // as known when the period was sealed, or now
	Closed   bool
	Close    *ledger.Record // of the close, where Closed
	At       time.Time      // where only what happened by then is in it: it is not closed then; else zero

	recent *recency // of the reader that has the register
	gathered
}

// Month returns a period of a yard, sealed or derived, and hands every entry to emit in order.
func (r *Reader) Month(ctx context.Context, yard string, p ledger.Period, emit func(*ledger.Entry) error) (*Month, error) {
	return r.month(ctx, yard, p, r.gather, emit)
}

// deriver derives an open period from the state at its start.
type deriver func(ctx context.Context, h *history, p ledger.Period, opening ledger.State, emit func(*ledger.Entry) error) (*Month, error)

func (r *Reader) month(ctx context.Context, yard string, p ledger.Period, derive deriver, emit func(*ledger.Entry) error) (*Month, error) {
	h, err := r.history(ctx, yard)
	if err != nil {
		return nil, err
	}
	if h.first == (ledger.Period{}) || p.Before(h.first) {
		return nil, fmt.Errorf("%w: %s, yard %s: its records begin in %s", ErrPeriod, p, yard, orNone(h.first))
	}
	cut := r.cut(p.End(h.zone))
	if cut && r.at.Before(p.Start(h.zone)) {
		return nil, fmt.Errorf("%w: nothing of %s had happened by %s", ErrPeriod, p, r.at.In(h.zone).Format(time.DateTime))
	}
	if i := h.sealed(p); i >= 0 {
		m, err := r.sealedMonth(ctx, h.seals[i].Record, emit)
		if err == nil && cut {
			m.Closed, m.At = false, r.at
		}
		return m, err
	}
	state, err := r.openingOf(ctx, h, p)
	if err != nil {
		return nil, err
	}
	m, err := derive(ctx, h, p, state, emit)
	if err == nil && cut {
		m.At = r.at
	}
	return m, err
}

func orNone(p ledger.Period) string {
	if p == (ledger.Period{}) {
		return "no month: there are none"
	}
	return p.String()
}

// openingOf returns the state at the start of an open period.
func (r *Reader) openingOf(ctx context.Context, h *history, p ledger.Period) (ledger.State, error) {
	state := ledger.NewState()
	if len(h.seals) > 0 {
		var err error
		if state, err = r.store.SealedState(ctx, h.seals[len(h.seals)-1].Record); err != nil {
			return state, err
		}
	}
	for q := h.open; q.Before(p); q = q.Next() {
		m, err := r.derive(ctx, h, q, state, discard)
		if err != nil {
			return state, err
		}
		state = m.Closing
	}
	return state, nil
}

func discard(*ledger.Entry) error { return nil }

// errStop ends a derivation whose entries nobody reads any further.
var errStop = errors.New("stop")

// derive enters an open period.
func (r *Reader) derive(ctx context.Context, h *history, p ledger.Period, opening ledger.State, emit func(*ledger.Entry) error) (*Month, error) {
	m, err := ledger.Derive(r.openRecords(ctx, h, p, opening), emit)
	if err != nil {
		return nil, err
	}
	return &Month{Month: m, Register: r.reg, recent: r.recent}, nil
}

// openRecords returns the input of an open period.
func (r *Reader) openRecords(ctx context.Context, h *history, p ledger.Period, opening ledger.State) ledger.Input {
	in := r.records(ctx, h, p, opening)
	if len(h.seals) > 0 {
		in.Entered = func(id string) (*ledger.Entry, error) { return r.view.SealedEntry(ctx, id, h.seals) }
	}
	return in
}

// records returns the input of a period: its own records and, where it is the first open one, the late ones.
func (r *Reader) records(ctx context.Context, h *history, p ledger.Period, opening ledger.State) ledger.Input {
	until := p.End(h.zone).Add(r.reg.Policies(h.yard, p.End(h.zone).Add(-1)).CutOff)
	in := ledger.Input{Register: r.reg, Yard: h.yard, Period: p, Opening: opening,
		Records: r.view.Movements(ctx, h.yard, p.Start(h.zone), until, r.but...)}
	if p == h.open && len(h.seals) > 0 {
		in.Records = concat(r.view.Late(ctx, h.yard, p.Start(h.zone), h.last().LogSize), in.Records)
	}
	return in
}

// sealedMonth reads a month back as a close sealed it: its entries as sealed, everything else as it was known when it
// was sealed. A close that was taken back since reads as before.
func (r *Reader) sealedMonth(ctx context.Context, rec *ledger.Record, emit func(*ledger.Entry) error) (*Month, error) {
	seal := rec.Fact.(ledger.Close)
	then, err := r.reading(ctx, seal.LogSize, r.at)
	if err != nil {
		return nil, err
	}
	h, err := then.history(ctx, rec.Yard)
	if err != nil {
		return nil, err
	}
	opening, err := then.openingOf(ctx, h, h.open)
	if err != nil {
		return nil, err
	}
	in := then.records(ctx, h, seal.Period, opening)
	next, stop := iter.Pull2(r.store.SealedLegs(ctx, rec))
	defer stop()
	in.Sealed = inStep(next)
	m, err := ledger.Derive(in, emit)
	if err != nil {
		return nil, fmt.Errorf("sealed period %s of yard %s: %w", seal.Period, h.yard, err)
	}
	return &Month{Month: m, Register: then.reg, recent: then.recent, Closed: true, Close: rec}, nil
}

// inStep gives sealed entries the records that caused them; both come in the same order.
func inStep(next func() (*ledger.Entry, error, bool)) func(*ledger.Record) (*ledger.Entry, error) {
	var waiting *ledger.Entry
	done := false
	return func(rec *ledger.Record) (*ledger.Entry, error) {
		if waiting == nil && !done {
			e, err, ok := next()
			if err != nil {
				return nil, err
			}
			waiting, done = e, !ok
		}
		if waiting == nil || waiting.Record.Seq != rec.Seq {
			return nil, nil
		}
		e := waiting
		waiting, e.Record = nil, rec
		return e, nil
	}
}

// concat yields the records of one sequence after those of another.
func concat(seqs ...iter.Seq2[*ledger.Record, error]) iter.Seq2[*ledger.Record, error] {
	return func(yield func(*ledger.Record, error) bool) {
		for _, seq := range seqs {
			for rec, err := range seq {
				if !yield(rec, err) {
					return
				}
			}
		}
	}
}
