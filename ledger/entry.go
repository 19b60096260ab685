package ledger

import (
	"errors"
	"fmt"
	"slices"
	"time"
)

// Leg moves solids and water out of one account into another. It names both its ends, so a one-sided
// posting cannot be written. Neither part is negative, but the parts are conserved separately: a leg of
// weather carries water only.
type Leg struct {
	From, To Account
	Amount
}

// ErrLeg says that a leg does not move anything from one account to another.
var ErrLeg = errors.New("not a movement between two accounts")

// NewLeg returns a leg. A negative amount is turned round, so that every leg reads forwards; a leg whose
// solids and water would run in opposite directions is refused.
func NewLeg(from, to Account, a Amount) (Leg, error) {
	if a.Solids < 0 || a.Solids == 0 && a.Water < 0 {
		from, to, a = to, from, a.Neg()
	}
	switch {
	case from.Kind == 0 || to.Kind == 0 || from == to:
		return Leg{}, fmt.Errorf("leg from %v to %v: %w", from, to, ErrLeg)
	case a.Water < 0:
		return Leg{}, fmt.Errorf("leg from %v to %v: solids and water in opposite directions: %w", from, to, ErrLeg)
	}
	if _, err := a.Add(Amount{}); err != nil {
		return Leg{}, fmt.Errorf("leg from %v to %v: %w", from, to, err)
	}
	return Leg{from, to, a}, nil
}

// Flags say what a reader should know about how an entry was made.
type Flags uint16

// The flags of an entry.
const (
	FlagLate            Flags = 1 << iota // the record's instant lies in a sealed period
	FlagMoistureProduct                   // moisture from a test of the product, not of the pile
	FlagMoistureLater                     // no test had been taken yet: the next one was used
	FlagMoistureAssumed                   // no test at all: the product's reference moisture
	FlagRollover                          // a totaliser passed its modulus
	FlagReset                             // a totaliser was set to zero
	FlagFirstReading                      // a totaliser's first reading: nothing to subtract it from
	FlagUnexplainedFall                   // a totaliser fell, and neither modulus nor note says why
	FlagReversal                          // takes back the entry of a record that another replaced
	FlagUnknownPile                       // posted to suspense
	FlagFactor                            // the belt's mass was multiplied by its factor
)

var flagNames = [...]string{"late", "moisture of product", "moisture from a later test", "moisture assumed",
	"rollover", "reset", "first reading", "unexplained fall", "reversal", "pile unknown", "belt factor"}

// Names lists the flags in words, in a fixed order.
func (f Flags) Names() []string {
	var names []string
	for i, n := range flagNames {
		if f&(1<<i) != 0 {
			names = append(names, n)
		}
	}
	return names
}

// Entry is what one record did to the book.
type Entry struct {
	Record   *Record // the record that caused it
	Period   Period  // where it is entered; later than its instant's month for a late record
	Flags    Flags
	Moisture DryBasis // the moisture that parted an as-weighed mass; zero where none was needed
	Legs     []Leg
}

// At returns the instant of the record, which a late entry keeps.
func (e *Entry) At() time.Time { return e.Record.At }

// Balances holds what is in every account. The zero value is empty and ready to read; use Post to
// change it.
type Balances map[Account]Amount

// Post carries out the legs, all of them or none.
func (b Balances) Post(legs ...Leg) error {
	for i, l := range legs {
		if err := b.post(l); err != nil {
			for _, undo := range slices.Backward(legs[:i]) {
				b.set(undo.From, mustAdd(b[undo.From], undo.Amount))
				b.set(undo.To, mustAdd(b[undo.To], undo.Neg()))
			}
			return err
		}
	}
	return nil
}

func (b Balances) post(l Leg) error {
	from, err := b[l.From].Add(l.Neg())
	if err != nil {
		return fmt.Errorf("account %v: %w", l.From, err)
	}
	to, err := b[l.To].Add(l.Amount)
	if err != nil {
		return fmt.Errorf("account %v: %w", l.To, err)
	}
	b.set(l.From, from)
	b.set(l.To, to)
	return nil
}

// set forgets an account that has come back to zero, so that equal books compare equal.
func (b Balances) set(a Account, v Amount) {
	if v.IsZero() {
		delete(b, a)
		return
	}
	b[a] = v
}

// mustAdd restores a balance that was within bounds before.
func mustAdd(a, b Amount) Amount { return Amount{a.Solids + b.Solids, a.Water + b.Water} }

// Sum returns the total over all accounts, which is zero in every book.
func (b Balances) Sum() Amount {
	var s Amount
	for _, a := range b {
		s.Solids += a.Solids
		s.Water += a.Water
	}
	return s
}

// Accounts returns the accounts that hold anything, in order.
func (b Balances) Accounts() []Account {
	accounts := make([]Account, 0, len(b))
	for a := range b {
		accounts = append(accounts, a)
	}
	slices.SortFunc(accounts, Account.Compare)
	return accounts
}
