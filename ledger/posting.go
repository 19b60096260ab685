package ledger

import (
	"fmt"
	"time"
)

// poster turns the records of one yard, in order, into entries. It is a pure function of the register
// and the state: the same records give the same entries whatever the order they were taken in.
type poster struct {
	reg   *Register
	yard  string
	start time.Time // of the first open period: what happened before is late
	state *State
}

func (p *poster) account(k AccountKind, name string) Account { return Account{k, p.yard, name} }

// post returns the entry of one record. An entry without legs means that the record moves nothing.
func (p *poster) post(rec *Record) (Entry, error) {
	e := Entry{Record: rec}
	if rec.At.Before(p.start) {
		e.Flags |= FlagLate
	}
	var err error
	switch f := rec.Fact.(type) {
	case Opening:
		err = p.opening(&e, f)
	case MoistureTest:
		err = p.weather(&e, f)
	case Production:
		if err = p.production(&e, f); err == nil {
			err = p.allow(&e, f.Pile, RateOfProduction)
		}
	case Load:
		if !f.Void {
			err = p.load(&e, f)
		}
	case Feed:
		err = p.move(&e, f.Pile, f.Net, func(pile Account) (from, to Account) { return pile, p.account(KindFeed, "") })
	case Return:
		err = p.move(&e, f.Pile, f.Net, func(pile Account) (from, to Account) { return p.account(KindReturns, ""), pile })
	case Transfer:
		err = p.transfer(&e, f)
	case Correction:
		err = p.correct(&e, f)
	}
	return e, err
}

// pile returns a pile's account, or the suspense account of a code that the register does not name.
func (p *poster) pile(e *Entry, code string) Account {
	if id := (PileID{p.yard, code}); p.reg.Known(id) {
		return id.Account()
	}
	e.Flags |= FlagUnknownPile
	return p.account(KindSuspense, code)
}

// split parts an as-weighed mass by the moisture of a pile at the record's instant.
func (p *poster) split(e *Entry, code string, wet Mass) Amount {
	m, flags := p.reg.Moisture(PileID{p.yard, code}, e.Record.At)
	e.Moisture = m
	e.Flags |= flags
	return m.Split(wet)
}

func (e *Entry) leg(from, to Account, a Amount) error {
	if a.IsZero() {
		return nil
	}
	l, err := NewLeg(from, to, a)
	if err == nil {
		e.Legs = append(e.Legs, l)
	}
	return err
}

// move enters an as-weighed mass between a pile and what ends returns for it.
func (p *poster) move(e *Entry, code string, wet Mass, ends func(pile Account) (from, to Account)) error {
	from, to := ends(p.pile(e, code))
	return e.leg(from, to, p.split(e, code, wet))
}

// load enters what left a pile on a truck.
func (p *poster) load(e *Entry, f Load) error {
	err := p.move(e, f.Pile, f.Net, func(pile Account) (from, to Account) { return pile, p.account(KindOut, f.Purpose.String()) })
	if err != nil {
		return err
	}
	return p.allow(e, f.Pile, RateOfLoadOut)
}

// transfer carries the source's moisture with the stone; the receiving pile's own moisture is marked
// again by its next test.
func (p *poster) transfer(e *Entry, f Transfer) error {
	source := f.From
	if !p.reg.Known(PileID{p.yard, source}) {
		source = f.To
	}
	a := p.split(e, source, f.Net)
	from, to := p.pile(e, f.From), p.pile(e, f.To)
	if from == to {
		return nil // both ends unknown under one code: nothing is known to have moved
	}
	return e.leg(from, to, a)
}

// correct moves stone between the two ends that a person named.
func (p *poster) correct(e *Entry, f Correction) error {
	end := func(x End) Account {
		if x.Kind == KindPile {
			return p.pile(e, x.Name)
		}
		return p.account(x.Kind, x.Name)
	}
	from, to := end(f.From), end(f.To)
	return e.leg(from, to, p.split(e, f.Pile, f.Net))
}

func (p *poster) opening(e *Entry, f Opening) error {
	id := PileID{p.yard, f.Pile}
	a := Amount{Solids: f.Solids}
	var err error
	switch {
	case f.IsSolids && f.Moisture.Valid:
		if e.Moisture, err = NewDryBasis(f.Moisture.Decimal); err == nil {
			a.Water, err = e.Moisture.Water(f.Solids)
		}
	case f.IsSolids:
		var flags Flags
		e.Moisture, flags = p.reg.Moisture(id, e.Record.At)
		e.Flags |= flags
		a.Water, err = e.Moisture.Water(f.Solids)
	case f.Moisture.Valid:
		if e.Moisture, err = NewDryBasis(f.Moisture.Decimal); err == nil {
			a = e.Moisture.Split(f.Mass)
		}
	default:
		a = p.split(e, f.Pile, f.Mass)
	}
	if err != nil {
		return err
	}
	return e.leg(p.account(KindOpening, ""), p.pile(e, f.Pile), a)
}

// weather marks the water of the piles that a moisture test speaks for: the pile itself, or all piles of
// the product that no test of their own does. Solids never change with the weather.
func (p *poster) weather(e *Entry, f MoistureTest) error {
	e.Moisture = f.Moisture
	for _, account := range p.state.Balances.Accounts() {
		id := PileID{account.Yard, account.Name}
		if account.Kind != KindPile || !p.speaksFor(e, f, id) {
			continue
		}
		now := p.state.Balances[account]
		water, err := f.Moisture.Water(now.Solids)
		if err != nil {
			return fmt.Errorf("water of %v: %w", account, err)
		}
		gain := water - now.Water
		if err := e.leg(p.account(KindWeather, ""), account, Amount{Water: gain}); err != nil {
			return err
		}
	}
	return nil
}

// speaksFor reports whether a test is the one in force for a pile when it is entered: at its own instant,
// or, arriving late, at the start of the first open period.
func (p *poster) speaksFor(e *Entry, f MoistureTest, id PileID) bool {
	at := f.Taken
	if at.Before(p.start) {
		at = p.start
	}
	test, ok := p.reg.MoistureTest(id, at)
	return ok && test.Taken.Equal(f.Taken) && test.Pile == f.Pile && test.Product == f.Product && !f.Taken.After(at)
}

// production enters a net mass, or the difference from the totaliser's last reading.
func (p *poster) production(e *Entry, f Production) error {
	made := f.Net
	if f.IsReading {
		var flag Flags
		made, flag = p.sinceLast(f)
		e.Flags |= flag
	}
	if made == 0 {
		return nil
	}
	made, err := p.rerate(e, f.Belt, made)
	if err != nil {
		return err
	}
	return p.move(e, f.Pile, made, func(pile Account) (from, to Account) { return p.account(KindProduction, f.Belt), pile })
}

// rolloverShare is the part of its modulus that a totaliser may have counted since the last reading for
// a fall to be read as a rollover. A larger remainder is more likely a totaliser set back to zero.
const rolloverShare = 10

// sinceLast returns the mass between the totaliser's last reading and this one. A fall is a rollover where
// the remainder modulo the stated modulus is at most a tenth of it, else a reset if a note says so: then
// what the totaliser has counted since zero is entered, and what ran before the reset stays unknown. A
// fall without a note enters nothing and is flagged. A reading older than the last one moves nothing:
// the later reading has counted its mass already. A second reading of the same instant corrects the
// first by their difference, which may be negative.
func (p *poster) sinceLast(f Production) (Mass, Flags) {
	last, seen := p.state.Readings[f.Belt]
	if seen && f.At.Before(last.At) {
		return 0, 0
	}
	p.state.Readings[f.Belt] = Reading{f.At, f.Reading}
	if !seen {
		return 0, FlagFirstReading
	}
	if f.At.Equal(last.At) {
		return f.Reading - last.Shown, 0
	}
	if f.Reading >= last.Shown {
		return f.Reading - last.Shown, 0
	}
	if modulus := p.reg.modulus(p.yard, f); modulus > 0 {
		if rest := f.Reading + modulus - last.Shown; rest >= 0 && rest <= modulus/rolloverShare {
			return rest, FlagRollover
		}
	}
	if f.Note != "" {
		return f.Reading, FlagReset
	}
	return 0, FlagUnexplainedFall
}
