package tickets

import (
	"fmt"
	"math"
	"strconv"
	"time"
)

// Numbers that hold a date: those that are the clock count nothing, and those that begin with the day, the month or the year
// are counted from the start of each.

// clockForms are the ways in which a clock is written in digits alone.
var clockForms = []string{"20060102150405", "200601021504", "060102150405", "0601021504"}

// clockNear is how far from its record's instant a clock may be: an hour that the yard's clock was changed by, and a task.
const clockNear = 90 * time.Minute

// clocks reports whether the numbers of a series are the clock at each record, as some scales print, and so count nothing: all
// of them read as one, and nine in ten as that of their record.
func (n *Numbers) clocks(list []numbered) bool {
	near := 0
	for _, x := range list {
		text, isClock, isNear := fmt.Sprintf("%0*d", n.of(x).width, x.number), false, false
		for _, form := range clockForms {
			if at, err := time.ParseInLocation(form, text, n.zone); err == nil {
				isClock = true
				isNear = isNear || n.when(x).Sub(at).Abs() <= clockNear
			}
		}
		if !isClock {
			return false
		}
		if isNear {
			near++
		}
	}
	return near*10 >= len(list)*9
}

// datedForms are the dates that numbers begin with, and how many digits of a count follow each at least: with fewer, a
// counter that happens to be there may look like them.
var datedForms = []struct {
	form  string
	count int
}{{"20060102", 1}, {"060102", 2}, {"200601", 3}, {"0601", 4}, {"2006", 4}, {"06", 6}}

// anew parts a series whose numbers begin with a date, where counting starts anew with it: into one for each date, and one of the
// numbers that begin with another, such as mistyped ones. Others stay whole. The rows are in order of number, and stay so.
func (n *Numbers) anew(s series) []series {
	if s.id.from > 0 || len(s.rows) == 0 {
		return []series{s}
	}
	for _, f := range datedForms {
		dates := make([]int64, len(s.rows))
		dated := 0
		for i, x := range s.rows {
			if dates[i] = n.date(x, f.form, f.count); dates[i] > 0 {
				dated++
			}
			if wrong := i + 1 - dated; wrong*datedShare > len(s.rows) {
				break
			}
		}
		if (len(s.rows)-dated)*datedShare > len(s.rows) {
			continue
		}
		var parts []series
		at := map[int64]int{}
		for i, x := range s.rows {
			k, ok := at[dates[i]]
			if !ok {
				k = len(parts)
				at[dates[i]] = k
				parts = append(parts, series{id: seriesID{s.id.instrument, s.id.prefix, dates[i]}})
			}
			parts[k].rows = append(parts[k].rows, x)
		}
		return parts
	}
	return []series{s}
}

// datedShare is one over the share of numbers that may begin otherwise.
const datedShare = 10

// date returns the date with which a number begins, as a number, if it is that of its record, or of the day before: a shift may
// end after midnight. It is 0 where it does not begin so.
func (n *Numbers) date(x numbered, form string, count int) int64 {
	behind := n.of(x).width - len(form)
	if behind < count || behind > 18 {
		return 0
	}
	begins := x.number / int64(math.Pow10(behind))
	for day := range 2 {
		if date, err := strconv.ParseInt(n.when(x).In(n.zone).AddDate(0, 0, -day).Format(form), 10, 64); err == nil && date == begins {
			return begins
		}
	}
	return 0
}
