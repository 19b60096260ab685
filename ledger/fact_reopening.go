package ledger

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Restatement says why a closed month is opened again. Accounting standards treat the two differently: an error is
// restated, a change of an estimate counts from now on (IAS 8.36 and 8.42; ASC 250; paragraph numbers from memory).
// The zero value is none.
type Restatement uint8

// The kinds.
const (
	RestateError    Restatement = iota + 1 // a record was wrong or lacking
	RestateEstimate                        // what was known then was right, and more is known now
)

var restatementNames = [...]string{RestateError: "error", RestateEstimate: "estimate"}

// String returns error or estimate.
func (r Restatement) String() string { return nameOf(restatementNames[:], int(r)) }

// ParseRestatement reads what String writes.
func ParseRestatement(s string) (Restatement, error) {
	if i := indexFold(restatementNames[:], s); i > 0 {
		return Restatement(i), nil
	}
	return 0, fmt.Errorf("%q does not say why; want one of %s", s, listNames(restatementNames[:]))
}

// Reopening states that a person would open a closed month again. Once another person has approved it, the close that
// it names stands no more, nor does that of any later month of the yard.
type Reopening struct {
	Period  Period
	Of      string // ID of the close that it takes back
	Why     Restatement
	Reason  string
	Decided time.Time
}

func (Reopening) Kind() Kind { return KindReopeningRecord }

// Key is the close.
func (r Reopening) Key() string { return r.Of }

func (Reopening) at() time.Time { return time.Time{} }

func (r Reopening) validate() error {
	switch {
	case r.Period == (Period{}) || r.Of == "" || r.Why == 0:
		return errors.New("reopening: want a period, its close and whether it is an error or an estimate")
	case strings.TrimSpace(r.Reason) == "" || r.Decided.IsZero():
		return errors.New("reopening: want a reason and when it was decided")
	}
	return nil
}

func (r Reopening) fields(f *fieldWriter) {
	f.text("period", r.Period.String())
	f.text("of", r.Of)
	f.text("why", r.Why.String())
	f.text("reason", r.Reason)
	f.time("decided", r.Decided)
}

func readReopening(d *fieldReader) Fact {
	why, err := ParseRestatement(d.text("why"))
	if err != nil {
		d.fail("why", err)
	}
	return Reopening{Period: d.period("period"), Of: d.text("of"), Why: why, Reason: d.text("reason"), Decided: d.time("decided")}
}

// Standing goes through the closes, reopenings and approvals of one yard in the order of the log and returns the closes
// that stand, by month: those that no approved reopening of theirs or of an earlier month has taken back.
func Standing(records []*Record) []*Record {
	var closes []*Record
	proposed := map[string]Reopening{}
	for _, rec := range records {
		switch f := rec.Fact.(type) {
		case Close:
			closes = append(closes, rec)
		case Reopening:
			proposed[rec.ID()] = f
		case Approval:
			r, ok := proposed[f.Of]
			if !ok || !slices.ContainsFunc(closes, func(c *Record) bool { return c.ID() == r.Of }) {
				continue
			}
			closes = slices.DeleteFunc(closes, func(c *Record) bool { return !c.Fact.(Close).Period.Before(r.Period) })
		}
	}
	slices.SortFunc(closes, func(a, b *Record) int {
		return strings.Compare(a.Fact.Key(), b.Fact.Key())
	})
	return closes
}
