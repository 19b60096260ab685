package ledger

import (
	"slices"
	"time"
)

// pileBook is what is kept of a pile beside the state.
type pileBook struct {
	id      PileID
	flows   *Flows // nil while it is none of the month's
	windows []*window
	final   *Comparison // last one made for the pile

	base *Base       // of the pile, without sums; nil while there is none
	sums []streamSum // what the streams of the base have had since settle
}

// streamSum is a stream and what came through it.
type streamSum struct {
	Stream
	StreamTotal
}

// window collects what moved while a pile was being surveyed.
type window struct {
	start, end time.Time
	items      []Item
}

// pile returns what is kept of a pile.
func (b *builder) pile(id PileID) *pileBook {
	p, ok := b.piles[id]
	if !ok {
		p = &pileBook{id: id}
		for _, s := range b.in.Register.Surveys(id, b.poster.start, b.until) {
			p.windows = append(p.windows, &window{start: s.Fact.(Survey).Start, end: s.At})
		}
		if base, ok := b.state.Bases[id]; ok {
			p.base = &base
		}
		b.piles[id] = p
	}
	return p
}

// settle puts the base of a pile into the state.
func (b *builder) settle(p *pileBook) {
	if p.base == nil {
		return
	}
	if p.base.Streams == nil && len(p.sums) > 0 {
		p.base.Streams = Streams{}
	}
	for _, s := range p.sums {
		t := p.base.Streams[s.Stream]
		p.base.Streams[s.Stream] = StreamTotal{t.Solids + s.Solids, t.Weighings + s.Weighings}
	}
	p.sums = p.sums[:0]
	b.state.Bases[p.id] = *p.base
}

// open makes the pile one of the month's.
func (p *pileBook) open(m *Month) *Flows {
	if p.flows == nil {
		p.flows = new(Flows)
		m.Flows[p.id] = p.flows
	}
	return p.flows
}

// touch keeps the totals of one end of a leg, if it is a pile; a is positive into it.
func (b *builder) touch(e *Entry, end, other Account, a Amount) error {
	if end.Kind != KindPile {
		return nil
	}
	id := PileID{end.Yard, end.Name}
	p := b.pile(id)
	if err := p.open(b.month).add(ColumnOf(other, a.Solids > 0 || a.Solids == 0 && a.Water > 0), a); err != nil {
		return err
	}
	if other.Kind == KindWeather || other.Kind == KindShrinkage && shrinkageColumn(other.Name) == ColumnShrinkage {
		return nil
	}
	if c := p.final; c != nil {
		c.AfterIn += max(a.Solids, 0)
		c.AfterOut += max(-a.Solids, 0)
	}
	if other.Kind == KindShrinkage {
		if p.base != nil {
			p.base.allow(shrinkageColumn(other.Name), -a.Solids)
		}
		return nil
	}
	b.sinceBase(e, p, other, a.Solids)
	for _, w := range p.windows {
		if at := e.At(); !at.Before(w.start) && !at.After(w.end) {
			w.items = append(w.items, Item{Record: e.Record, Net: a})
		}
	}
	if l, ok := e.Record.Fact.(Load); ok && l.Truck != "" {
		b.loaded[l.Truck] = loadedTruck{e.Record, id, a}
	}
	return nil
}

func (b *builder) sinceBase(e *Entry, p *pileBook, other Account, solids Mass) {
	switch {
	case p.base == nil && other.Kind == KindOpening:
		p.base = &Base{Record: e.Record.ID(), At: e.At(), Solids: solids}
	case p.base == nil:
		p.base = &Base{Record: e.Record.ID(), At: e.At()} // a pile that began with nothing
		fallthrough
	default:
		p.count(b.stream(e, other, solids > 0), solids)
	}
}

// count adds a weighing to a stream of the base. One that takes a weighing back, in a reversal, lessens
// what it had added and is not another weighing.
func (p *pileBook) count(s Stream, solids Mass) {
	if s.Way.inward() || s.Way == ColumnSuspense && solids > 0 {
		p.base.In += solids
	} else {
		p.base.Out -= solids
	}
	i := slices.IndexFunc(p.sums, func(t streamSum) bool { return t.Stream == s }) // few: a list is faster than a map
	if i < 0 {
		i = len(p.sums)
		p.sums = append(p.sums, streamSum{Stream: s})
	}
	p.sums[i].Solids += solids
	if s.Way == ColumnSuspense || s.Way.inward() == (solids > 0) {
		p.sums[i].Weighings++
	}
}

// stream says through which instrument an entry came into a pile or left it.
func (b *builder) stream(e *Entry, other Account, into bool) Stream {
	s := Stream{Way: ColumnOf(other, into), Instrument: instrumentOf(e.Record.Fact)}
	s.Epoch = b.in.Register.epoch(b.in.Yard, s.Instrument, e.At())
	if other.Kind == KindPile {
		s.Other = other.Name
	}
	return s
}
