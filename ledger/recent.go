package ledger

import "time"

// A month needs the tests and surveys of about a year, and a book holds those of all years. A recent register is made
// without the older ones, and knows when they may matter.

// Older is what a recent register asks for the tests and surveys that it was made without.
type Older interface {
	// Has reports whether there may be some of a kind and yard whose keys begin with a text.
	Has(k Kind, yard, beginning string) bool
	// All returns the register of all records, or nil where it cannot be had. Who made the Older has to keep that from going
	// unnoticed: the recent register then answers from what it has.
	All() *Register
}

// recency is what a recent register has beside another. It is empty in a whole one.
type recency struct {
	since time.Time // from when on it has all tests and surveys
	older Older
	lacks map[subjectTests]bool // what Has said
	all   *Register             // what All returned
}

// subjectTests are the tests of a kind that were taken of a pile or product.
type subjectTests struct {
	kind Kind
	testSubject
}

// key returns what the keys of the tests begin with.
func (s subjectTests) key() string {
	if s.isProduct {
		return joinKey("product", s.code, "")
	}
	return joinKey("pile", s.code, "")
}

// NewRecentRegister returns a register of records from which the tests and surveys that LeavesOut names may have been left
// out. It answers as a register of all records does: whatever may depend on what was left out is asked of older.All, which
// is called when that is first needed, and only once.
//
// A recent register is for one goroutine.
func NewRecentRegister(records []Record, since time.Time, older Older) (*Register, error) {
	r, err := NewRegister(records)
	if err != nil {
		return nil, err
	}
	r.recency = recency{since: since, older: older, lacks: map[subjectTests]bool{}}
	return r, nil
}

// LeavesOut reports whether a recent register of what there is since an instant may be made without a record of a kind: when
// it happened, and whether it replaces another.
func LeavesOut(k Kind, at, since time.Time, replaces bool) bool {
	switch k {
	case KindMoistureRecord, KindDensityRecord, KindSurveyRecord:
		return !replaces && at.Before(since)
	}
	return false
}

// complete returns the register that has all tests and surveys.
func (r *Register) complete() *Register {
	if r.recency.older == nil {
		return r
	}
	if r.recency.all == nil {
		r.recency.all = r.recency.older.All()
	}
	if r.recency.all == nil {
		bare := *r
		bare.recency = recency{}
		r.recency.all = &bare
	}
	return r.recency.all
}

// has reports whether the register has all tests and surveys of an instant and after it.
func (r *Register) has(at time.Time) bool {
	return r.recency.older == nil || !at.Before(r.recency.since)
}

// lacksTests reports whether the register may lack older tests.
func (r *Register) lacksTests(of subjectTests) bool {
	if r.recency.older == nil {
		return false
	}
	lacks, ok := r.recency.lacks[of]
	if !ok {
		lacks = r.recency.older.Has(of.kind, of.yard, of.key())
		r.recency.lacks[of] = lacks
	}
	return lacks
}
