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
	return mostly(near, len(list))
}

// datedForms are the dates that numbers begin with, and how many digits of a count follow each at least: with fewer, a
// counter that happens to be there may look like them.
var datedForms = []struct {
	form  string
	count int
}{{"20060102", 1}, {"060102", 2}, {"200601", 3}, {"0601", 4}, {"2006", 4}, {"06", 6}}

// mostly reports whether nine in ten are some.
func mostly(some, all int) bool { return (all-some)*10 <= all }

// anew parts a series whose numbers begin with a date, where counting starts anew with it: into one for each date, and one of the
// numbers that begin with another, such as mistyped ones. Others stay whole. The rows are in order of number, and stay so.
func (n *Numbers) anew(s series) []series {
	for _, f := range datedForms {
		if s.id.from == 0 && n.dated(s.rows, f.form, f.count) {
			return n.byDate(s, f.form, f.count)
		}
	}
	return []series{s}
}

// dated reports whether numbers begin with the date of their records.
func (n *Numbers) dated(rows []numbered, form string, count int) bool {
	others := 0
	for _, x := range rows {
		if n.date(x, form, count) == 0 {
			others++
		}
		if !mostly(len(rows)-others, len(rows)) {
			return false
		}
	}
	return len(rows) > 0
}

func (n *Numbers) byDate(s series, form string, count int) (parts []series) {
	at := map[int64]int{}
	for _, x := range s.rows {
		date := n.date(x, form, count)
		i, ok := at[date]
		if !ok {
			i = len(parts)
			at[date] = i
			parts = append(parts, series{id: seriesID{s.id.instrument, s.id.prefix, date}})
		}
		parts[i].rows = append(parts[i].rows, x)
	}
	return parts
}

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
