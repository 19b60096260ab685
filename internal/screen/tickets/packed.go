package tickets

import (
	"encoding/binary"
	"time"

	"repose/ledger"
)

// numbered is a record with a ticket number, in little memory: there may be a million of them.
type numbered struct {
	at     time.Duration // since the month before began
	number int64
	net    ledger.Mass
	form   uint32 // place among the forms
	place  uint32 // in the order of the book
}

// packed holds the records of a series in the order of the book, each as what differs from the one before: some nine bytes a
// record. A nil *packed holds none.
type packed struct {
	bytes []byte
	rows  int
	last  numbered
}

func (p *packed) add(n numbered) {
	b := binary.AppendUvarint(p.bytes, shortened(n.at-p.last.at))
	b = binary.AppendVarint(b, n.number-p.last.number)
	b = binary.AppendVarint(b, int64(n.net))
	b = binary.AppendUvarint(b, uint64(n.form))
	p.bytes = binary.AppendUvarint(b, uint64(n.place-p.last.place))
	p.rows, p.last = p.rows+1, n
}

func (p *packed) len() int {
	if p == nil {
		return 0
	}
	return p.rows
}

// appendTo appends the records to a list.
func (p *packed) appendTo(list []numbered) []numbered {
	if p == nil {
		return list
	}
	var n numbered
	b := p.bytes
	unsigned := func() uint64 {
		v, size := binary.Uvarint(b)
		b = b[size:]
		return v
	}
	signed := func() int64 {
		v, size := binary.Varint(b)
		b = b[size:]
		return v
	}
	for range p.rows {
		n.at += lengthened(unsigned())
		n.number += signed()
		n.net = ledger.Mass(signed())
		n.form = uint32(unsigned())
		n.place += uint32(unsigned())
		list = append(list, n)
	}
	return list
}

// shortened writes whole seconds, as most clocks tell, in fewer bits; the last bit says which it is.
func shortened(d time.Duration) uint64 {
	if d%time.Second == 0 {
		return uint64(d/time.Second) << 1
	}
	return uint64(d)<<1 | 1
}

func lengthened(v uint64) time.Duration {
	if v&1 == 0 {
		return time.Duration(v>>1) * time.Second
	}
	return time.Duration(v >> 1)
}
