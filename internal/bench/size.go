package bench

import (
	"fmt"
	"math"
	"time"
)

// Size is how large an invented operator is and how long it is watched. The counts of records are of all months
// together, and every month has an equal share of them, to one.
type Size struct {
	Seed     uint64    `json:"seed"`
	Start    time.Time `json:"start"` // the first month's first instant, in UTC
	Months   int       `json:"months"`
	Yards    int       `json:"yards"`
	Piles    int       `json:"piles"` // of all yards, at least one each
	Loads    int       `json:"loads"`
	Deck     int       `json:"deck_tickets"` // at most as many as loads: each is of a load
	Readings int       `json:"readings"`     // of belts: production
}

// check says what of a size cannot be.
func (s Size) check() error {
	switch {
	case s.Start.Day() != 1 || s.Start.Location() != time.UTC:
		return fmt.Errorf("start %v: want the first day of a month in UTC", s.Start)
	case s.Months < 1 || s.Yards < 1 || s.Piles < s.Yards:
		return fmt.Errorf("%d months, %d yards, %d piles: want one or more, and a pile for each yard", s.Months, s.Yards, s.Piles)
	case s.Loads < 1 || s.Deck < 0 || s.Deck > s.Loads || s.Readings < 0:
		return fmt.Errorf("%d loads, %d deck tickets, %d readings: want a load or more, and no more tickets than loads", s.Loads, s.Deck, s.Readings)
	}
	return nil
}

// month returns the first instant of the nth month, from 0.
func (s Size) month(n int) time.Time { return s.Start.AddDate(0, n, 0) }

// period returns the nth month, from 0, as the command line names it.
func (s Size) period(n int) string { return s.month(n).Format("2006-01") }

// share returns how many of total fall in the nth month.
func (s Size) share(total, n int) int { return total*(n+1)/s.Months - total*n/s.Months }

// last returns the operator as watched in the last months alone: the same records of those months, numbered from one.
func (s Size) last(months int) Size {
	first := s.Months - months
	part := func(total int) int { return total - total*first/s.Months }
	s.Start = s.month(first)
	s.Loads, s.Deck, s.Readings, s.Months = part(s.Loads), part(s.Deck), part(s.Readings), months
	return s
}

// Sizes are the operators of the cases.
type Sizes struct {
	Year      Size `json:"year"`          // of a, b and e
	Month     Size `json:"month"`         // of d: one month of one yard
	History   Size `json:"history"`       // of c: a long book of small months
	Recent    int  `json:"recent_months"` // how many months at its end the short book of c holds
	SheetRows int  `json:"sheet_rows"`    // of e; at most the loads of the year
}

// Full returns the sizes that the targets are stated for, times a scale: 1 for a large operator with a million loads a
// year. The length of the books of c is not scaled.
func Full(scale float64) Sizes {
	n := func(full, least int) int { return max(least, int(math.Round(float64(full)*scale))) }
	start := time.Date(2025, time.January, 1, 0, 0, 0, 0, time.UTC)
	yards := n(60, 2)
	return Sizes{
		Year: Size{Seed: 1, Start: start, Months: 12, Yards: yards, Piles: n(400, 3*yards), Loads: n(1_000_000, 1200),
			Deck: n(1_000_000, 1200), Readings: n(40_000, 240)},
		Month:     Size{Seed: 2, Start: start, Months: 1, Yards: 1, Piles: 20, Loads: n(1_000_000, 1200), Readings: n(3_000, 60)},
		History:   Size{Seed: 3, Start: start.AddDate(-9, 0, 0), Months: 120, Yards: 1, Piles: 6, Loads: n(120_000, 3600), Deck: n(120_000, 3600), Readings: n(7_200, 720)},
		Recent:    12,
		SheetRows: n(300_000, 600),
	}
}
