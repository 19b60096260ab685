package ledger

import "time"

// A month needs the tests and surveys of about a year, and a book holds those of all years. A recent register is made
// without the older ones, and knows when they may matter.

// older is what a recent register can ask for the tests and surveys that it was made without. It is empty in a whole one.
type older struct {
	since time.Time // from when on it has them all
	whole func() *Register
	reg   *Register // that whole returned
}

// NewRecentRegister returns a register of records from which the tests and surveys of before an instant may have been left
// out, but not those that replace another record. It answers as a register of all records does: whatever may depend on
// what was left out is asked of the one that whole returns, which is called when that is first needed, and only once. Where
// whole fails it returns nil, and has to keep that from going unnoticed: the register then answers from what it has.
//
// A recent register is for one goroutine.
func NewRecentRegister(records []Record, since time.Time, whole func() *Register) (*Register, error) {
	r, err := NewRegister(records)
	if err != nil {
		return nil, err
	}
	r.older = older{since: since, whole: whole}
	return r, nil
}

// LeavesOut reports whether a recent register of what there is since an instant may be made without a record of a kind: when it
// happened, and whether it replaces another.
func LeavesOut(k Kind, at, since time.Time, replaces bool) bool {
	switch k {
	case KindMoistureRecord, KindDensityRecord, KindSurveyRecord:
		return !replaces && at.Before(since)
	}
	return false
}

// complete returns the register that has all tests and surveys.
func (r *Register) complete() *Register {
	if r.older.whole == nil {
		return r
	}
	if r.older.reg == nil {
		r.older.reg = r.older.whole()
	}
	if r.older.reg == nil {
		bare := *r
		bare.older = older{}
		r.older.reg = &bare
	}
	return r.older.reg
}

// has reports whether the register has all tests and surveys of an instant and after it.
func (r *Register) has(at time.Time) bool { return r.older.whole == nil || !at.Before(r.older.since) }
