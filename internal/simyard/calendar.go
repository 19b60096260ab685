package simyard

import "time"

// The layouts in which the yard's files write local times. The yard's clocks show UTC.
const (
	zoneName     = "Etc/UTC"
	toDay        = "2006-01-02"
	toMinute     = "2006-01-02 15:04"
	toSecond     = "2006-01-02 15:04:05"
	periodLayout = "2006-01"
)

// The yard's day. Stone moves on staffed days between open and close, moistures are tested before, and the
// piles are flown after.
const (
	openHour  = 6
	closeHour = 18
)

// calendar counts months from 1, as faults do. Month 0 is the one before, of which only the last day is in
// the book: it opens that morning and is surveyed that evening.
type calendar struct {
	first  time.Time // of month 1
	months int
}

func newCalendar(first time.Time, months int) calendar { return calendar{first, months} }

// start returns the first instant of a month.
func (c calendar) start(month int) time.Time { return c.first.AddDate(0, month-1, 0) }

// lastDay returns the first instant of a month's last day.
func (c calendar) lastDay(month int) time.Time { return c.start(month+1).AddDate(0, 0, -1) }

// period writes a month as periods are written.
func (c calendar) period(month int) string { return c.start(month).Format(periodLayout) }

// season returns the month of the year, counted from 0 for January.
func (c calendar) season(month int) int { return int(c.start(month).Month()) - 1 }

// sampled returns when a month's moistures are tested: before anything moves in it.
func (c calendar) sampled(month int) time.Time {
	day := c.start(month)
	if month == 0 {
		day = c.lastDay(0)
	}
	return clock(day, openHour-1, 30)
}

// opened returns the instant at which the book begins.
func (c calendar) opened() time.Time { return clock(c.lastDay(0), openHour, 0) }

// flown returns the start and the end of the survey that ends a month.
func (c calendar) flown(month int) (start, end time.Time) {
	day := c.lastDay(month)
	return clock(day, closeHour+2, 0), clock(day, closeHour+2, 45)
}

// workdays returns the staffed days of a month: Monday to Saturday.
func (c calendar) workdays(month int) []time.Time {
	var days []time.Time
	for d := c.start(month); d.Before(c.start(month + 1)); d = d.AddDate(0, 0, 1) {
		if d.Weekday() != time.Sunday {
			days = append(days, d)
		}
	}
	return days
}

// shift is the part of a staffed day in which something happens, from midnight.
type shift struct{ from, until time.Duration }

// usual leaves some quiet after opening and before closing.
var usual = shift{openHour*time.Hour + 10*time.Minute, closeHour*time.Hour - 10*time.Minute}

// slot returns the time of the i-th of n events that are spread evenly over the staffed hours of days.
func slot(days []time.Time, i, n int) time.Time { return usual.slot(days, i, n, 0) }

// slot returns the time of the i-th of n events that are spread evenly over the shifts of days, moved by e
// of the time between two of them.
func (s shift) slot(days []time.Time, i, n int, e PPB) time.Time {
	busy := s.until - s.from
	all := int64(busy) * int64(len(days))
	at := time.Duration(mulDiv(all, int64(2*i+1), int64(2*n)) + mulDiv(all/int64(n), int64(e), billion)).Truncate(time.Second)
	day := min(int(at/busy), len(days)-1)
	return days[day].Add(s.from + at - time.Duration(day)*busy)
}

func clock(day time.Time, hour, minute int) time.Time {
	return day.Add(time.Duration(hour)*time.Hour + time.Duration(minute)*time.Minute)
}
