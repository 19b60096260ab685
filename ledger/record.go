package ledger

import (
	"fmt"
	"strings"
	"time"
)

// Kind says what a record states. The zero value is no kind.
type Kind uint8

// The kinds of record, in the order in which records of one instant are entered: what a pile holds,
// what moisture it has, what came, what went, what was found.
const (
	KindYardRecord Kind = iota + 1
	KindProductRecord
	KindPileRecord
	KindInstrumentRecord
	KindHoursRecord
	KindPolicyRecord
	KindCostRecord  // what a month's stone cost
	KindPriceRecord // what a product sells for
	KindOpeningRecord
	KindMoistureRecord
	KindDensityRecord
	KindProductionRecord
	KindReturnRecord
	KindTransferRecord
	KindFeedRecord
	KindLoadRecord
	KindDeckRecord
	KindCorrectionRecord // stone moved in the book because of an exception
	KindSurveyRecord
	KindConflictRecord   // two records of one natural key that differ
	KindDecisionRecord   // which of them stands
	KindSettlementRecord // how an exception was dealt with
	KindWaiverRecord     // what a close goes on in spite of
	KindAdjustmentRecord // what a person decided about a survey's difference
	KindReopeningRecord  // a closed month that a person would open again
	KindExportRecord     // a journal that was given out
	KindApprovalRecord   // a second person's word on one of these
	KindSourceRecord     // a file that was taken in
	KindCloseRecord      // a period that was sealed
)

var kindNames = [...]string{
	KindYardRecord: "yard", KindProductRecord: "product", KindPileRecord: "pile",
	KindInstrumentRecord: "instrument", KindHoursRecord: "hours", KindPolicyRecord: "policy", KindCostRecord: "cost", KindPriceRecord: "price",
	KindOpeningRecord: "opening", KindMoistureRecord: "moisture", KindDensityRecord: "density",
	KindProductionRecord: "production", KindReturnRecord: "return", KindTransferRecord: "transfer",
	KindFeedRecord: "feed", KindLoadRecord: "load", KindDeckRecord: "deck", KindCorrectionRecord: "correction", KindSurveyRecord: "survey",
	KindConflictRecord: "conflict", KindDecisionRecord: "decision", KindSettlementRecord: "settlement",
	KindWaiverRecord: "waiver", KindAdjustmentRecord: "adjustment", KindReopeningRecord: "reopening", KindExportRecord: "export", KindApprovalRecord: "approval", KindSourceRecord: "source",
	KindCloseRecord: "close"}

// String returns the kind's name, the first part of a record's ID.
func (k Kind) String() string { return nameOf(kindNames[:], int(k)) }

// ParseKind reads what String writes.
func ParseKind(s string) (Kind, error) {
	if i := indexFold(kindNames[:], s); i > 0 {
		return Kind(i), nil
	}
	return 0, fmt.Errorf("%q is not a kind of record; want one of %s", s, listNames(kindNames[:]))
}

// InstantField returns the name of the field of a body that says when a fact of the kind happened, in the form of
// [time.RFC3339Nano]; empty for a kind whose facts have no instant.
func (k Kind) InstantField() string {
	switch k {
	case KindOpeningRecord, KindProductionRecord, KindReturnRecord, KindTransferRecord, KindFeedRecord, KindLoadRecord, KindDeckRecord, KindCorrectionRecord:
		return "time"
	case KindMoistureRecord, KindDensityRecord:
		return "taken"
	case KindSurveyRecord:
		return "end"
	}
	return ""
}

// Fact is what a record states: one of the fact types of this package, such as [Load] or [Survey].
type Fact interface {
	// Kind says which type it is.
	Kind() Kind
	// Key is the natural key of the fact within its yard and kind: what makes two rows of overlapping
	// exports the same row.
	Key() string

	at() time.Time   // when it happened; zero for a fact without an instant
	validate() error // what a single fact can be held to, whatever else is in the book
	fields(*fieldWriter)
}

// Tag is a label of the yard's own, from a column headed "tag NAME".
type Tag struct{ Name, Value string }

// Record is one immutable fact with its origin. Nothing is edited or deleted: a correction is a record
// that replaces another, and both remain.
type Record struct {
	Yard string    // empty for a product, which belongs to no yard
	At   time.Time // when it happened, UTC; zero for what has no instant, such as a product
	Fact Fact
	Tags []Tag

	// Replaces is the natural key of the record of the same yard and kind that this one corrects;
	// empty for most. It may equal the record's own key.
	Replaces string

	Source   Source
	Recorded time.Time // when the book learnt of it, UTC
	By       string    // who took it in
	Seq      int64     // place in the log, from 0
	Revision int       // 0 for the first record of its key, 1 for the first that replaces it under the same key
}

// Source is the row that a record was read from. The zero Source belongs to records that the program
// wrote itself.
type Source struct {
	File  string // SHA-256 of the file, lower-case hex
	Sheet string // for a sheet of a workbook
	Row   int    // 1-based line of the file or row of the sheet
}

// NewRecord returns a record of a fact. It is refused where the fact contradicts itself.
func NewRecord(yard string, f Fact) (Record, error) {
	if err := f.validate(); err != nil {
		return Record{}, err
	}
	return Record{Yard: yard, At: f.at().UTC(), Fact: f}, nil
}

// ID names the record in the book whatever the order of intake: kind:yard:key, and #2 for the first
// correction under the same key.
func (r *Record) ID() string {
	var b strings.Builder
	b.WriteString(r.Fact.Kind().String())
	b.WriteByte(':')
	b.WriteString(r.Yard)
	b.WriteByte(':')
	b.WriteString(r.Fact.Key())
	if r.Revision > 0 {
		fmt.Fprintf(&b, "#%d", r.Revision+1)
	}
	return b.String()
}

// Compare orders records as they are entered: by instant, kind, yard, key and revision. The order in
// which they were taken in plays no part, so that it cannot change the book.
func (r *Record) Compare(s *Record) int {
	if c := r.At.Compare(s.At); c != 0 {
		return c
	}
	if c := int(r.Fact.Kind()) - int(s.Fact.Kind()); c != 0 {
		return c
	}
	if c := strings.Compare(r.Yard, s.Yard); c != 0 {
		return c
	}
	if c := strings.Compare(r.Fact.Key(), s.Fact.Key()); c != 0 {
		return c
	}
	return r.Revision - s.Revision
}

// joinKey makes a natural key of its parts. A blank part is kept as a place, so that keys of different
// shape cannot meet.
func joinKey(parts ...string) string { return strings.Join(parts, "/") }

func keyTime(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return string(appendKeyTime(make([]byte, 0, len(time.RFC3339Nano)), t))
}

// appendKeyTime appends an instant in UTC, to the nanosecond where it is not a whole second.
func appendKeyTime(b []byte, t time.Time) []byte { return t.UTC().AppendFormat(b, time.RFC3339Nano) }
