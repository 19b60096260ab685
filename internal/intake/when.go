package intake

import (
	"fmt"
	"strings"
	"time"

	"repose/internal/table"
)

// dateRule says what a date without a time stands for.
type dateRule uint8

const (
	noDate     dateRule = iota + 1 // a time is wanted
	startOfDay                     // the first instant of the day in the yard's zone
	endOfDay                       // the first instant of the next day
)

const (
	wantedTime = "YYYY-MM-DD HH:MM[:SS] in the yard's zone, or ISO 8601 with an offset"
	wantedDate = "YYYY-MM-DD, or with HH:MM[:SS] after it"
)

// at returns the instant of a field that must have a time of day.
func (r *row) at(f field) time.Time { return r.timeOf(f, noDate) }

// date returns the instant of a field that may hold a date: the start of the day, or for a LastDate the
// start of the next. It is zero where the cell is blank.
func (r *row) date(f field) time.Time {
	if r.columns[f].spec.Holds == LastDate {
		return r.timeOf(f, endOfDay)
	}
	return r.timeOf(f, startOfDay)
}

func (r *row) timeOf(f field, rule dateRule) time.Time {
	c := &r.columns[f]
	s, ok := r.cell(f)
	if !ok {
		return time.Time{}
	}
	if c.clockAt >= 0 {
		day, clock := s, trim(r.cells.Cells[c.clockAt])
		if clock == "" {
			r.fail(f, quote(day)+" without a time of day", "both")
			return time.Time{}
		}
		if r.cells.Kind(c.at) == table.Date {
			day, _, _ = strings.Cut(day, " ") // a sheet writes midnight after a date it shows with a time
		}
		s = day + " " + clock
	}
	return r.instant(f, s, rule)
}

// instant returns the instant that a text stands for in the yard's zone. An instant of a repeated hour is
// settled by the map, or else left to the order of tickets where f is the time of an instrument's row.
func (r *row) instant(f field, s string, rule dateRule) time.Time {
	c, ok := r.parseTime(f, s)
	if !ok || !c.hasTime && rule == noDate {
		r.fail(f, quote(s), r.wantedTime(f, rule))
		return time.Time{}
	}
	clock := r.yard.clock
	if !c.hasTime {
		if rule == endOfDay {
			c.day++
		}
		return clock.dayStart(c.day)
	}
	m := clock.moment(c)
	ordered := f == fTime && r.table.build.instrument != 0
	switch {
	case m.skipped():
		r.fail(f, fmt.Sprintf("%s, which the clocks of %s skipped", quote(s), clock.zone),
			"a time that they showed: they were put forward from "+clock.gap(m.change))
	case m.repeated() && r.repeated == secondPass:
		return m.second
	case m.repeated() && r.repeated == 0 && ordered:
		r.setTwice(m, s)
	case m.repeated() && r.repeated == 0:
		found, wanted := clock.unsettled(s, m)
		r.fail(f, found, wanted)
	case c.hasOffset && ordered:
		if twice, ok := clock.showsTwice(m.first); ok {
			m.change = twice.change // one instant, known: it may settle its neighbours
			r.setTwice(m, s)
		}
	}
	return m.first
}

func (r *row) setTwice(m moment, s string) {
	r.twice = &m
	r.shownTime = strings.Clone(s)
}

// parseTime reads a time as the map writes texts, or as ISO. Dates of a workbook's cells come as ISO.
func (r *row) parseTime(f field, s string) (civil, bool) {
	if r.layout == nil || r.kind(f) == table.Date {
		return parseCivil(s)
	}
	if c := &r.columns[f]; c.clockAt >= 0 && r.cells.Kind(c.clockAt) == table.Date {
		return parseCivil(s)
	}
	return r.layout.parse(s)
}

func (r *row) wantedTime(f field, rule dateRule) string {
	switch {
	case f == fReplaces:
		return "the time of the record that the row corrects, or that record's whole key as the book prints it"
	case r.layout != nil:
		return r.mapped.text.DateForm + ", as " + r.mapped.name + " says"
	case rule == noDate:
		return wantedTime
	default:
		return wantedDate
	}
}

// unsettled describes a time that a clock showed twice, with what it can stand for.
func (c *clock) unsettled(s string, m moment) (found, wanted string) {
	found = fmt.Sprintf("%s, which the clocks of %s showed twice", quote(s), c.zone)
	wanted = fmt.Sprintf("an offset, as the order of the rows does not settle it: %s, which is %s, or %s, which is %s",
		reading(m.first, c.zone), reading(m.first, time.UTC), reading(m.second, c.zone), reading(m.second, time.UTC))
	return found, wanted
}

// day returns a weekday's English name or a date, YYYY-MM-DD.
func (r *row) day(f field) string {
	s, ok := r.cell(f)
	if !ok {
		return ""
	}
	for d := time.Sunday; d <= time.Saturday; d++ {
		if name := d.String(); strings.EqualFold(s, name) || strings.EqualFold(s, name[:3]) {
			return name
		}
	}
	c, ok := r.parseTime(f, s)
	if !ok || c.second != 0 || c.hasOffset {
		r.fail(f, quote(s), "a weekday such as Monday, or a date, YYYY-MM-DD")
		return ""
	}
	return time.Unix(int64(c.day)*secondsPerDay, 0).UTC().Format(time.DateOnly)
}

// clock returns a time of day as HH:MM; "" for a blank cell. 24:00 is the end of the day.
func (r *row) clock(f field) string {
	s, ok := r.cell(f)
	if !ok {
		return ""
	}
	text := strings.TrimSuffix(s, ":00")
	if !strings.Contains(text, ":") {
		text = s // the seconds were the minutes
	}
	hour, minute, _ := strings.Cut(text, ":")
	h, m := -1, -1
	if len(hour) <= 2 && len(minute) == 2 {
		h, m = digits(hour), digits(minute)
	}
	if !validClock(h, m, 0) && (h != 24 || m != 0) {
		r.fail(f, quote(s), "a time of day, HH:MM")
		return ""
	}
	return fmt.Sprintf("%02d:%02d", h, m)
}
