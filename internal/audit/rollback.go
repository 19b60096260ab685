package audit

import (
	"fmt"
	"time"

	"repose/ledger"
)

// Carried is stone that a record brought to a pile or took from it.
type Carried struct {
	Record string
	At     time.Time
	Column ledger.Column
	Solids ledger.Mass // into the pile if positive
}

// RollLine is all that moved in one column of a roll.
type RollLine struct {
	Column  ledger.Column
	Solids  ledger.Mass // what it adds to the running figure: as it moved in a roll-forward, the other way in a roll-back
	Records int
}

// Roll is a counted mass of a pile carried from one cut to another: start + lines = end.
type Roll struct {
	Pile       string
	From, To   Cut
	Start, End ledger.Mass
	Lines      []RollLine // in the order of the columns; those without a record are left out
}

// Back reports whether the roll runs against time.
func (r *Roll) Back() bool { return r.To.Compare(r.From) < 0 }

// NewRoll carries the solids of a pile from one cut to another by what moved in between: forward to a later cut, such as
// from a survey to the period's end, by adding what came in and taking off what went out; back to an earlier one, such as
// from a survey after the period's end, the other way about (ISA 501.5). Records of the pile outside the two cuts play no
// part. Water that came and went and what the book took over from surveys moved no stone, and are left out.
func NewRoll(pile string, from Cut, start ledger.Mass, to Cut, carried []Carried) (*Roll, error) {
	r := &Roll{Pile: pile, From: from, To: to, Start: start, End: start}
	early, late, sign := from, to, ledger.Mass(1)
	if r.Back() {
		early, late, sign = to, from, -1
	}
	var sums [ledger.Columns]RollLine
	for _, c := range carried {
		if early.Takes(c.At) || !late.Takes(c.At) || c.Column == ledger.ColumnWeather || c.Column == ledger.ColumnShrinkage {
			continue
		}
		l := &sums[c.Column]
		l.Records++
		var err error
		if l.Solids, err = l.Solids.Add(sign * c.Solids); err != nil {
			return nil, fmt.Errorf("%s of pile %s: %w", c.Column, pile, err)
		}
	}
	for column, l := range sums {
		if l.Records == 0 {
			continue
		}
		l.Column = ledger.Column(column)
		r.Lines = append(r.Lines, l)
		var err error
		if r.End, err = r.End.Add(l.Solids); err != nil {
			return nil, fmt.Errorf("pile %s: %w", pile, err)
		}
	}
	return r, nil
}
