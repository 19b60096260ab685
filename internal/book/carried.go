package book

import (
	"encoding/binary"
	"iter"

	"repose/ledger"
)

// carriage is what a leg brought to a pile, or took from it if negative.
type carriage struct {
	at int64 // nanoseconds
	ledger.Amount
	column ledger.Column
	kind   uint32 // place among the kinds of weighing, from 1; 0 for what was not weighed
}

// carriages holds what came to a pile and left it, in the order of the book, each as what differs from the one before: some
// fifteen bytes a leg, of which there may be a million.
type carriages struct {
	bytes []byte
	last  int64 // nanoseconds
}

func (s *carriages) add(c carriage) {
	b := binary.AppendVarint(s.bytes, c.at-s.last)
	b = binary.AppendVarint(b, int64(c.Solids))
	b = binary.AppendVarint(b, int64(c.Water))
	b = append(b, byte(c.column))
	s.bytes, s.last = binary.AppendUvarint(b, uint64(c.kind)), c.at
}

// all yields what came and went; nothing of a nil *carriages.
func (s *carriages) all() iter.Seq[carriage] {
	return func(yield func(carriage) bool) {
		if s == nil {
			return
		}
		var c carriage
		b := s.bytes
		signed := func() int64 {
			v, size := binary.Varint(b)
			b = b[size:]
			return v
		}
		for len(b) > 0 {
			c.at += signed()
			c.Solids, c.Water = ledger.Mass(signed()), ledger.Mass(signed())
			c.column, b = ledger.Column(b[0]), b[1:]
			kind, size := binary.Uvarint(b)
			c.kind, b = uint32(kind), b[size:]
			if !yield(c) {
				return
			}
		}
	}
}
