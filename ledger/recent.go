package ledger

import (
	"strings"
	"time"
)

// A month of a yard needs the tests and surveys of that yard and of about a year, and a book holds those of all yards and years.
// A recent register is made without any. It asks for those of a yard when it is first asked about it, and for the older ones
// when they may matter.

// Measured gives a recent register the tests and surveys of a yard that replace no other: it has the others. Who makes it
// has to keep it from going unnoticed where they cannot be had: the register then answers from what it has.
type Measured interface {
	// Recent returns all of an instant and after it, and the instant.
	Recent(yard string) (since time.Time, records []Record)
	// Older returns those of before that instant.
	Older(yard string, since time.Time) []Record
	// HasOlder reports whether there may be older ones of a kind whose keys begin with a text.
	HasOlder(k Kind, yard, beginning string, since time.Time) bool
}

// IsMeasured reports whether records of a kind are tests or surveys.
func IsMeasured(k Kind) bool {
	return k == KindMoistureRecord || k == KindDensityRecord || k == KindSurveyRecord
}

// recency is what a recent register has beside another. It is empty in a whole one.
type recency struct {
	of    Measured
	yards map[string]*measuredYard
	last  *measuredYard // that was asked about last
}

// measuredYard says which tests and surveys of a yard a recent register has.
type measuredYard struct {
	yard  string
	since time.Time             // from when on it has all
	whole bool                  // it has the older ones too
	lacks map[subjectTests]bool // what HasOlder said
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

// NewRecentRegister returns a register of records, in which every record that replaces another has to be, and of the tests and
// surveys that m gives when they are first needed. It answers as a register of all records does.
//
// A recent register is for one goroutine.
func NewRecentRegister(records []Record, m Measured) (*Register, error) {
	r, err := NewRegister(records)
	if err != nil {
		return nil, err
	}
	r.recency = recency{of: m, yards: map[string]*measuredYard{}}
	return r, nil
}

// measured returns which tests and surveys of a yard the register has, the recent ones at least; nil where it has all of all yards.
func (r *Register) measured(yard string) *measuredYard {
	x := &r.recency
	if x.of == nil {
		return nil
	}
	if x.last != nil && x.last.yard == yard {
		return x.last
	}
	y := x.yards[yard]
	if y == nil {
		since, records := x.of.Recent(yard)
		y = &measuredYard{yard: yard, since: since, lacks: map[subjectTests]bool{}}
		x.yards[yard] = y
		_ = r.take(records) // it fails for yards alone
	}
	x.last = y
	return y
}

// has reports whether the register has all tests and surveys of an instant and after it.
func (y *measuredYard) has(at time.Time) bool { return y == nil || y.whole || !at.Before(y.since) }

// complete takes the older tests and surveys of a yard.
func (r *Register) complete(y *measuredYard) {
	if y != nil && !y.whole {
		y.whole = true
		_ = r.take(r.recency.of.Older(y.yard, y.since))
	}
}

// lacksTests reports whether the register may lack older tests.
func (r *Register) lacksTests(y *measuredYard, of subjectTests) bool {
	if y == nil || y.whole {
		return false
	}
	lacks, ok := y.lacks[of]
	if !ok {
		lacks = r.recency.of.HasOlder(of.kind, of.yard, of.key(), y.since)
		y.lacks[of] = lacks
	}
	return lacks
}

// yardOf returns the yard in the ID of a record.
func yardOf(id string) string {
	_, rest, _ := strings.Cut(id, ":")
	yard, _, _ := strings.Cut(rest, ":")
	return yard
}
