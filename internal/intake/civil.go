package intake

import "time"

// civil is a reading of a clock: a day, a time of that day, and the distance from UTC where one was
// written. It is no instant yet; a [clock] makes it one.
type civil struct {
	day     int32 // days since 1970-01-01
	second  int32 // since midnight, below 86400
	nano    int32
	offset  int32 // seconds east of UTC, where hasOffset
	hasTime bool  // a time was written; without one, second is 0

	hasOffset bool
}

// wall returns the reading in seconds since 1970-01-01 00:00 of the same clock.
func (c civil) wall() int64 { return int64(c.day)*secondsPerDay + int64(c.second) }

const (
	secondsPerHour = 60 * 60
	secondsPerDay  = 24 * secondsPerHour
)

// Years outside these are taken for slips of the pen.
const (
	firstYear = 1900
	lastYear  = 2199
)

// maxOffset bounds what is taken for a distance from UTC. Zones lie between -12 and +14 hours; the bound
// leaves room and is common practice, no source.
const maxOffset = 18 * secondsPerHour

// civilDay returns the day of a date; ok is false for one that the calendar does not have.
func civilDay(year, month, day int) (n int32, ok bool) {
	if year < firstYear || year > lastYear {
		return 0, false
	}
	t := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
	if int(t.Month()) != month || t.Day() != day {
		return 0, false
	}
	return int32(t.Unix() / secondsPerDay), true
}

// parseCivil reads YYYY-MM-DD, alone or followed by a blank or T and HH:MM, then seconds if any with up
// to nine decimal places, then Z or a distance from UTC if any: +01:00, +0100 or +01.
func parseCivil(s string) (c civil, ok bool) {
	const date, minute = len("2006-01-02"), len("2006-01-02T15:04")
	if len(s) < date || s[4] != '-' || s[7] != '-' {
		return c, false
	}
	year, month, day := digits(s[:4]), digits(s[5:7]), digits(s[8:date])
	if c.day, ok = civilDay(year, month, day); !ok || len(s) == date {
		return c, ok
	}
	if len(s) < minute || s[10] != ' ' && s[10] != 'T' || s[13] != ':' {
		return c, false
	}
	c.hasTime = true
	hour, min, sec := digits(s[11:13]), digits(s[14:minute]), 0
	rest := s[minute:]
	if len(rest) >= 3 && rest[0] == ':' {
		sec, rest = digits(rest[1:3]), rest[3:]
		if c.nano, rest, ok = cutFraction(rest); !ok {
			return c, false
		}
	}
	if !validClock(hour, min, sec) {
		return c, false
	}
	c.second = int32(hour*secondsPerHour + min*60 + sec)
	if rest == "" {
		return c, true
	}
	c.offset, c.hasOffset = parseOffset(rest)
	return c, c.hasOffset
}

// validClock reports whether a clock shows such a time. There is no 24:00, which is the next day's 00:00,
// and no leap second.
func validClock(hour, minute, second int) bool {
	return hour >= 0 && hour < 24 && minute >= 0 && minute < 60 && second >= 0 && second < 60
}

// digits returns the value of a string of digits, or -1 if it holds anything else or nothing. It must
// have at most nine characters.
func digits(s string) int {
	if s == "" {
		return -1
	}
	n := 0
	for i := 0; i < len(s); i++ {
		d := s[i] - '0'
		if d > 9 {
			return -1
		}
		n = n*10 + int(d)
	}
	return n
}

// cutFraction takes a fraction of a second, if there is one, off the front of s.
func cutFraction(s string) (nano int32, rest string, ok bool) {
	if s == "" || s[0] != '.' {
		return 0, s, true
	}
	n := 1
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	if n == 1 || n > 10 {
		return 0, s, false
	}
	nano = int32(digits(s[1:n]))
	for i := n; i < 10; i++ {
		nano *= 10
	}
	return nano, s[n:], true
}

// parseOffset reads Z, +01:00, +0100 or +01, with a blank before it or without.
func parseOffset(s string) (seconds int32, ok bool) {
	if s[0] == ' ' {
		s = s[1:]
	}
	if s == "Z" {
		return 0, true
	}
	if len(s) < 3 || s[0] != '+' && s[0] != '-' {
		return 0, false
	}
	hour, minute := digits(s[1:3]), 0
	switch rest := s[3:]; {
	case rest == "":
	case len(rest) == 3 && rest[0] == ':':
		minute = digits(rest[1:])
	case len(rest) == 2:
		minute = digits(rest)
	default:
		return 0, false
	}
	if hour < 0 || minute < 0 || minute > 59 {
		return 0, false
	}
	seconds = int32(hour*secondsPerHour + minute*60)
	if seconds > maxOffset {
		return 0, false
	}
	if s[0] == '-' {
		seconds = -seconds
	}
	return seconds, true
}
