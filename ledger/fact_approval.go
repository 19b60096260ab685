package ledger

import (
	"errors"
	"strings"
	"time"
)

// Waiver states that a named person lets a close go on although something stands in its way. It counts once another
// person has approved it.
type Waiver struct {
	Period  Period
	Gate    string // as [Problem.ID] names it
	Text    string // what stood in the way
	Reason  string
	Decided time.Time
}

// Approval states that a second person agrees with what a record says: a waiver, or a settlement that moved stone.
type Approval struct {
	Of      string // the record's ID
	Decided time.Time
}

func (Waiver) Kind() Kind   { return KindWaiverRecord }
func (Approval) Kind() Kind { return KindApprovalRecord }

// Key is the period and the gate.
func (w Waiver) Key() string { return joinKey(w.Period.String(), w.Gate) }

// Key is the record that is approved.
func (a Approval) Key() string { return a.Of }

func (Waiver) at() time.Time   { return time.Time{} }
func (Approval) at() time.Time { return time.Time{} }

func (w Waiver) validate() error {
	switch {
	case w.Period == (Period{}) || w.Gate == "":
		return errors.New("waiver: want a period and what is waived")
	case strings.TrimSpace(w.Reason) == "" || w.Decided.IsZero():
		return errors.New("waiver: want a reason and when it was decided")
	}
	return nil
}

func (a Approval) validate() error {
	if a.Of == "" || a.Decided.IsZero() {
		return errors.New("approval: want what is approved and when it was decided")
	}
	return nil
}

func (w Waiver) fields(f *fieldWriter) {
	f.text("period", w.Period.String())
	f.text("gate", w.Gate)
	f.text("text", w.Text)
	f.text("reason", w.Reason)
	f.time("decided", w.Decided)
}

func (a Approval) fields(f *fieldWriter) {
	f.text("of", a.Of)
	f.time("decided", a.Decided)
}

func readWaiver(d *fieldReader) Fact {
	p, err := ParsePeriod(d.text("period"))
	if err != nil {
		d.fail("period", err)
	}
	return Waiver{Period: p, Gate: d.text("gate"), Text: d.text("text"), Reason: d.text("reason"), Decided: d.time("decided")}
}

func readApproval(d *fieldReader) Fact {
	return Approval{Of: d.text("of"), Decided: d.time("decided")}
}

// SamePerson reports whether two names of who wrote a record are of one person: by the name that they declared, or,
// where they declared none, by that of their account. A record's By is "NAME (account)" or "account".
func SamePerson(a, b string) bool {
	name := func(by string) string {
		if i := strings.LastIndex(by, " ("); i > 0 && strings.HasSuffix(by, ")") {
			by = by[:i]
		}
		return strings.ToLower(strings.Join(strings.Fields(by), " "))
	}
	return name(a) == name(b)
}
