package audit

import (
	"cmp"
	"time"

	"repose/ledger"
)

// CutKind says what a cut through the records is. The zero value is no cut.
type CutKind uint8

// The kinds of cut. At one instant the end of a period lies before a survey.
const (
	CutPeriod CutKind = iota + 1 // a period's end: a movement at the instant is of the next period
	CutSurvey                    // a survey's end: a movement at the instant was there to be surveyed
)

var cutNames = [...]string{CutPeriod: "period's end", CutSurvey: "survey"}

// String returns period's end or survey.
func (k CutKind) String() string { return cutNames[k] }

// Cut is an instant that parts movements into those before and those after it.
type Cut struct {
	At   time.Time
	Kind CutKind
}

// PeriodEnd returns the cut at the end of a period in a zone.
func PeriodEnd(p ledger.Period, zone *time.Location) Cut { return Cut{p.End(zone), CutPeriod} }

// Takes reports whether a movement at an instant lies before the cut.
func (c Cut) Takes(at time.Time) bool {
	return at.Before(c.At) || c.Kind == CutSurvey && at.Equal(c.At)
}

// Compare orders cuts in time.
func (c Cut) Compare(d Cut) int { return cmp.Or(c.At.Compare(d.At), cmp.Compare(c.Kind, d.Kind)) }
