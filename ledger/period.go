package ledger

import (
	"fmt"
	"time"
)

// Period is a calendar month in a yard's time zone, written 2026-10. It is comparable; the zero Period
// is no month and lies before every other.
type Period struct {
	year  int16
	month uint8
}

// NewPeriod returns the month of a year from 1 to 9999.
func NewPeriod(year int, month time.Month) (Period, error) {
	if year < 1 || year > 9999 || month < time.January || month > time.December {
		return Period{}, fmt.Errorf("period %d-%d: want a year from 1 to 9999 and a month from 1 to 12", year, month)
	}
	return Period{int16(year), uint8(month)}, nil
}

// ParsePeriod reads YYYY-MM.
func ParsePeriod(s string) (Period, error) {
	t, err := time.Parse("2006-01", s)
	if err != nil || t.Year() == 0 {
		return Period{}, fmt.Errorf("period %q: want a month such as 2026-10", s)
	}
	return Period{int16(t.Year()), uint8(t.Month())}, nil
}

// PeriodOf returns the month in which an instant falls in a zone.
func PeriodOf(t time.Time, zone *time.Location) Period {
	y, m, _ := t.In(zone).Date()
	return Period{int16(y), uint8(m)}
}

// String returns YYYY-MM, or "" for the zero Period.
func (p Period) String() string {
	if p == (Period{}) {
		return ""
	}
	return fmt.Sprintf("%04d-%02d", p.year, p.month)
}

// Start returns the first instant of the month in the zone.
func (p Period) Start(zone *time.Location) time.Time {
	return time.Date(int(p.year), time.Month(p.month), 1, 0, 0, 0, 0, zone).UTC()
}

// End returns the first instant after the month in the zone, which belongs to the next one.
func (p Period) End(zone *time.Location) time.Time { return p.Next().Start(zone) }

// Next returns the following month.
func (p Period) Next() Period {
	if p.month == 12 {
		return Period{p.year + 1, 1}
	}
	return Period{p.year, p.month + 1}
}

// Previous returns the month before.
func (p Period) Previous() Period {
	if p.month == 1 {
		return Period{p.year - 1, 12}
	}
	return Period{p.year, p.month - 1}
}

// Before reports whether p is an earlier month than q.
func (p Period) Before(q Period) bool {
	return p.year < q.year || p.year == q.year && p.month < q.month
}
