package intake

import (
	"fmt"

	"repose/ledger"
)

// entry gives records to the sink in the order in which they were read, on goroutines of its own, so that reading goes on
// meanwhile: one makes them ready, if the sink can, and one takes them in. Nothing but they use the sink until end has
// returned.
type entry struct {
	sink   Sink
	drafts Drafter // the same, if it is one; else nil
	in     chan *batch
	ready  chan *batch
	free   chan *batch
	failed chan struct{} // closed when err is set
	done   chan struct{}
	err    error
	given  ledger.Record // the one that the sink has, kept here so that not every row's needs an allocation
}

// batch is records on their way, each with the part that it was read from.
type batch struct {
	parts []*part
	recs  []ledger.Record
	enter func() (n int, err error) // nil where the sink makes nothing ready
}

// batchRows is how many records go together: as many as the book names in one statement. batchesAhead is how many batches
// reading may be ahead, and then making ready.
const (
	batchRows    = 128
	batchesAhead = 16
)

func newEntry(sink Sink) *entry {
	e := &entry{sink: sink, in: make(chan *batch, batchesAhead), ready: make(chan *batch, batchesAhead), free: make(chan *batch, 2*batchesAhead),
		failed: make(chan struct{}), done: make(chan struct{})}
	e.drafts, _ = sink.(Drafter)
	go e.draft()
	go e.run()
	return e
}

// draft makes batches ready.
func (e *entry) draft() {
	defer close(e.ready)
	for b := range e.in {
		if e.drafts != nil {
			b.enter = e.drafts.Draft(b.recs)
		}
		e.ready <- b
	}
}

// fresh returns an empty batch, one that has been used where there is one.
func (e *entry) fresh() *batch {
	select {
	case b := <-e.free:
		b.parts, b.recs = b.parts[:0], b.recs[:0]
		return b
	default:
		return &batch{parts: make([]*part, 0, batchRows), recs: make([]ledger.Record, 0, batchRows)}
	}
}

// send hands a batch over, or returns why no more are taken.
func (e *entry) send(b *batch) error {
	select {
	case <-e.failed:
		return e.err
	case e.in <- b:
		return nil
	}
}

// end waits until all that was sent is with the sink, and returns what went wrong.
func (e *entry) end() error {
	close(e.in)
	<-e.done
	return e.err
}

func (e *entry) run() {
	defer close(e.done)
	for b := range e.ready {
		if e.err != nil {
			continue
		}
		if err := e.enter(b); err != nil {
			e.err = err
			close(e.failed)
		}
		select {
		case e.free <- b:
		default:
		}
	}
}

// enter gives a batch to the sink: as it was made ready as far as its records are new, else record by record.
func (e *entry) enter(b *batch) error {
	n := 0
	if b.enter != nil {
		var err error
		if n, err = b.enter(); err != nil {
			return fmt.Errorf("%s:%d: %w", b.parts[0].position(), b.recs[0].Source.Row, err)
		}
		for i := range n {
			if err := e.count(b.parts[i], &b.recs[i], New, nil); err != nil {
				return err
			}
		}
	}
	for i := n; i < len(b.recs); i++ {
		e.given = b.recs[i]
		outcome, held, err := e.sink.Append(&e.given)
		if err != nil {
			return fmt.Errorf("%s:%d: %w", b.parts[i].position(), b.recs[i].Source.Row, err)
		}
		if err := e.count(b.parts[i], &b.recs[i], outcome, held); err != nil {
			return err
		}
	}
	return nil
}

// count counts what became of a record. It writes to fields of the report that reading does not.
func (e *entry) count(p *part, rec *ledger.Record, outcome Outcome, held *ledger.Record) error {
	rep := &p.report
	mass, void := statedMass(rec.Fact)
	var err error
	if rep.Mass, err = rep.Mass.Add(mass); err != nil {
		return fmt.Errorf("%s: sum of masses: %w", p.position(), err)
	}
	if void {
		rep.Void++
	}
	switch outcome {
	case New:
		rep.New++
		rep.NewMass += mass // a part of Mass, which fits
	case Held:
		rep.Held++
	case Conflicting:
		return e.conflict(p, rec, held)
	default:
		return fmt.Errorf("%s:%d: outcome %d of the sink", p.position(), rec.Source.Row, outcome)
	}
	return nil
}

// conflict enters that a row came whose key the book has with other content.
func (e *entry) conflict(p *part, rec, held *ledger.Record) error {
	c, err := ledger.NewRecord(rec.Yard, ledger.Conflict{Held: held.ID(), Incoming: rec.Fact, Replaces: rec.Replaces, Tags: rec.Tags})
	if err != nil {
		return fmt.Errorf("%s:%d: %w", p.position(), rec.Source.Row, err)
	}
	c.Source = rec.Source
	outcome, _, err := e.sink.Append(&c)
	if err != nil {
		return fmt.Errorf("%s:%d: %w", p.position(), rec.Source.Row, err)
	}
	p.report.Conflicts = append(p.report.Conflicts, Conflict{Row: rec.Source.Row, Held: held.ID(), HeldSource: held.Source,
		Differences: ledger.Differences(held, rec), Known: outcome == Held})
	return nil
}
