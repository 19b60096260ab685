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

// Adjustment states what a person decided about the difference of one survey, whatever the yard's policy says: the book
// takes the survey's figure, or it stands. It is in force at once, and a month is not closed before another person has
// approved it.
type Adjustment struct {
	Survey  string // the record's ID
	Pile    string // code
	Take    bool   // the book takes the survey's figure; else the book stands
	Reason  string
	Decided time.Time
}

// Approval states that a second person agrees with what a record says: a waiver, an adjustment, or a settlement
// that moved stone.
type Approval struct {
	Of      string // the record's ID
	Decided time.Time
}

func (Waiver) Kind() Kind     { return KindWaiverRecord }
func (Adjustment) Kind() Kind { return KindAdjustmentRecord }
func (Approval) Kind() Kind   { return KindApprovalRecord }

// Key is the period and the gate.
func (w Waiver) Key() string { return joinKey(w.Period.String(), w.Gate) }

// Key is the survey's record.
func (a Adjustment) Key() string { return a.Survey }

// Key is the record that is approved.
func (a Approval) Key() string { return a.Of }

func (Waiver) at() time.Time     { return time.Time{} }
func (Adjustment) at() time.Time { return time.Time{} }
func (Approval) at() time.Time   { return time.Time{} }

func (w Waiver) validate() error {
	switch {
	case w.Period == (Period{}) || w.Gate == "":
		return errors.New("waiver: want a period and what is waived")
	case strings.TrimSpace(w.Reason) == "" || w.Decided.IsZero():
		return errors.New("waiver: want a reason and when it was decided")
	}
	return nil
}

func (a Adjustment) validate() error {
	switch {
	case a.Survey == "":
		return errors.New("adjustment: want the survey that it is about")
	case strings.TrimSpace(a.Reason) == "" || a.Decided.IsZero():
		return errors.New("adjustment: want a reason and when it was decided")
	}
	return checkCode("pile", a.Pile)
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

func (a Adjustment) fields(f *fieldWriter) {
	f.text("survey", a.Survey)
	f.text("pile", a.Pile)
	outcome := OutcomeKeepBook
	if a.Take {
		outcome = OutcomeTakeSurvey
	}
	f.text("decision", outcome.String())
	f.text("reason", a.Reason)
	f.time("decided", a.Decided)
}

func (a Approval) fields(f *fieldWriter) {
	f.text("of", a.Of)
	f.time("decided", a.Decided)
}

func readWaiver(d *fieldReader) Fact {
	return Waiver{Period: d.period("period"), Gate: d.text("gate"), Text: d.text("text"), Reason: d.text("reason"), Decided: d.time("decided")}
}

func readAdjustment(d *fieldReader) Fact {
	return Adjustment{Survey: d.text("survey"), Pile: d.text("pile"), Take: d.text("decision") == OutcomeTakeSurvey.String(),
		Reason: d.text("reason"), Decided: d.time("decided")}
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
