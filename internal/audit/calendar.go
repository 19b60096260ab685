package audit

import (
	"slices"
	"time"
)

// Calendar says when a yard works. The zero Calendar is Monday to Friday in UTC, without hours.
type Calendar struct {
	Zone     *time.Location // nil for UTC
	Workdays []time.Weekday // nil for Monday to Friday

	// Staffed returns the staffed hours of the day of an instant, from and until; both are zero on a day without staff, and
	// ok is false where nobody says. A nil Staffed never says.
	Staffed func(at time.Time) (from, until time.Time, ok bool)
}

func (c Calendar) local(t time.Time) time.Time {
	if c.Zone == nil {
		return t.UTC()
	}
	return t.In(c.Zone)
}

// dateOf returns the civil day of an instant as midnight UTC, so that days can be counted over a change of clocks.
func (c Calendar) dateOf(t time.Time) time.Time {
	y, m, d := c.local(t).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

func (c Calendar) hours(t time.Time) (from, until time.Time, ok bool) {
	if c.Staffed == nil {
		return from, until, false
	}
	return c.Staffed(t)
}

// works reports whether a civil day is a working day: one of the week's, unless the hours say that nobody is there, as
// they do for a holiday.
func (c Calendar) works(date time.Time) bool {
	noon := time.Date(date.Year(), date.Month(), date.Day(), 12, 0, 0, 0, c.local(date).Location())
	if from, _, ok := c.hours(noon); ok && from.IsZero() {
		return false
	}
	if c.Workdays == nil {
		return noon.Weekday() != time.Saturday && noon.Weekday() != time.Sunday
	}
	return slices.Contains(c.Workdays, noon.Weekday())
}

// worksBefore and worksAfter count the working days of a civil day's month that lie before it, and after it.
func (c Calendar) worksBefore(date time.Time) (n int) {
	for d := date.AddDate(0, 0, 1-date.Day()); d.Before(date); d = d.AddDate(0, 0, 1) {
		if c.works(d) {
			n++
		}
	}
	return n
}

func (c Calendar) worksAfter(date time.Time) (n int) {
	for d := date.AddDate(0, 0, 1); d.Month() == date.Month(); d = d.AddDate(0, 0, 1) {
		if c.works(d) {
			n++
		}
	}
	return n
}
