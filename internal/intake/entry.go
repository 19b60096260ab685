package intake

import (
	"fmt"

	"repose/ledger"
)

// entry gives records to the sink on a goroutine of its own, in the order in which they were read, so that reading goes on
// meanwhile. Nothing but it uses the sink until end has returned.
type entry struct {
	sink   Sink
	bulk   Bulk // the same, where it takes in many at once; else nil
	in     chan *batch
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
}

// batchRows is how many records go together: as many as the book takes in one statement. batchesAhead is how many batches
// reading may be ahead.
const (
	batchRows    = 32
	batchesAhead = 64
)

func newEntry(sink Sink) *entry {
	e := &entry{sink: sink, in: make(chan *batch, batchesAhead), free: make(chan *batch, batchesAhead), failed: make(chan struct{}), done: make(chan struct{})}
	e.bulk, _ = sink.(Bulk)
	go e.run()
	return e
}

// fresh returns an empty batch, one that has been used where there is one.
func (e *entry) fresh() *batch {
	select {
	case b := <-e.free:
		b.parts, b.recs = b.parts[:0], b.recs[:0]
		return b
	default:
		return &batch{make([]*part, 0, batchRows), make([]ledger.Record, 0, batchRows)}
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
	for b := range e.in {
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

// enter gives a batch to the sink: at once where all of it is new, else record by record.
func (e *entry) enter(b *batch) error {
	if e.bulk != nil {
		ok, err := e.bulk.AppendNew(b.recs)
		if err != nil {
			return fmt.Errorf("%s:%d: %w", b.parts[0].position(), b.recs[0].Source.Row, err)
		}
		if ok {
			for i := range b.recs {
				if err := e.count(b.parts[i], &b.recs[i], New, nil); err != nil {
					return err
				}
			}
			return nil
		}
	}
	for i := range b.recs {
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
