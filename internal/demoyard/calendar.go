package demoyard

import "time"

// The three months, as one run of days from 2026-08-01.
const (
	firstYear  = 2026
	firstMonth = time.August
	monthCount = 3
	dayCount   = 31 + 30 + 31
	openHour   = 6
	closeHour  = 18
)

// clock returns a local time of a day counted from 0 for 2026-08-01, for hours that the zone neither
// repeats nor skips. Negative days lie before.
func clock(day, hour, minute int, zone *time.Location) time.Time {
	return time.Date(firstYear, firstMonth, 1+day, hour, minute, 0, 0, zone)
}

// dayOf returns the day, counted from 2026-08-01, in which an instant lies.
func dayOf(at time.Time, zone *time.Location) int {
	first := time.Date(firstYear, firstMonth, 1, 0, 0, 0, 0, zone)
	return at.In(zone).YearDay() - first.YearDay()
}

// monthOf returns the month, counted from 0 for August, in which an instant lies.
func monthOf(at time.Time, zone *time.Location) int {
	return int(at.In(zone).Month() - firstMonth)
}

// monthOfDay returns the month, counted from 0 for August, of a day counted from 0 for 2026-08-01.
func monthOfDay(day int) int {
	return int(time.Date(firstYear, firstMonth, 1+day, 0, 0, 0, 0, time.UTC).Month() - firstMonth)
}

// weekday returns the day of the week of a day counted from 0 for 2026-08-01.
func weekday(day int) time.Weekday {
	return time.Date(firstYear, firstMonth, 1+day, 0, 0, 0, 0, time.UTC).Weekday()
}

// staffed says whether the yard works on that day: Monday to Saturday.
func staffed(day int) bool { return weekday(day) != time.Sunday }

// endOfMonth returns the instant at which a month ends and the next begins.
func endOfMonth(month int, zone *time.Location) time.Time {
	return time.Date(firstYear, firstMonth+time.Month(month+1), 1, 0, 0, 0, 0, zone)
}

// period writes a month as periods are written: 2026-08.
func period(month int) string {
	return time.Date(firstYear, firstMonth+time.Month(month), 1, 0, 0, 0, 0, time.UTC).Format("2006-01")
}
