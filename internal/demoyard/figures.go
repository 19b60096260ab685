package demoyard

import (
	"fmt"
	"strings"
	"time"
)

// fixed writes v units of 10^-places as a decimal: fixed(2846, 2) is "28.46".
func fixed(v int64, places int) string {
	sign := ""
	if v < 0 {
		sign, v = "-", -v
	}
	s := fmt.Sprintf("%0*d", places+1, v)
	whole, frac := s[:len(s)-places], s[len(s)-places:]
	if places == 0 {
		return sign + whole
	}
	return sign + whole + "." + frac
}

// tonnes writes grams as tonnes with up to six places. What lies beyond them is cut, which loses nothing
// where the mass is in whole steps of an instrument.
func tonnes(grams int64, places int) string {
	for range 6 - places {
		grams /= 10
	}
	return fixed(grams, places)
}

// german writes v tenths with a decimal comma and points between thousands: german(374200) is "37.420,0".
func german(v int64) string {
	whole, frac, _ := strings.Cut(fixed(v, 1), ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "." + whole[i:]
	}
	return whole + "," + frac
}

// The layouts of local times in the yard's own text files.
const (
	toMinute = "2006-01-02 15:04"
	toSecond = "2006-01-02 15:04:05"
)

// wall returns the local reading of a clock as an instant of UTC, which is how a worksheet keeps it.
func wall(at time.Time, zone *time.Location) time.Time {
	l := at.In(zone)
	return time.Date(l.Year(), l.Month(), l.Day(), l.Hour(), l.Minute(), l.Second(), 0, time.UTC)
}
