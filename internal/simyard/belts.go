package simyard

import (
	"slices"
	"time"
)

// run is what a belt carried to a pile on one day, as it is recorded.
type run struct {
	at      time.Time // its end
	month   int
	pile    int
	net     Grams // as shown, wet
	idle    bool  // the belt carried nothing
	reset   bool  // the totaliser was set to zero before it, and nobody said so
	atFault bool
}

// feed is one load from a pile back to the crusher.
type feed struct {
	at          time.Time
	month, pile int
	solids, wet Grams
	shown       Grams
}

// In a detailed yard one belt is read off its totaliser, and on the last Saturday of a month, after the belts
// have stopped, a loader carries some stone back to the crusher.
const (
	readBelt    = belt2
	firstRead   = pileD           // which that belt serves first on each day
	openReading = 412_000 * tonne // of the totaliser, when the book opens
	feedPile    = pileF
	feedLoader  = loader1
	feedShare   = 5 // of what is made for the pile in a month, in per cent
)

// fed is when the crusher is fed on such a Saturday.
var fed = shift{15*time.Hour + 30*time.Minute, 17*time.Hour + 30*time.Minute}

// runBelts has what each belt carried to each of its piles on each working day. The belt's random error of a
// month is the same on all of them.
func (s *simulation) runBelts() {
	d := newDice(s.cfg.Seed, runStream)
	for month := 1; month <= s.cfg.Months; month++ {
		days := s.cal.workdays(month)
		var nets [pileCount][]Grams
		for i, p := range piles {
			wet := s.months[month].made[i].wet(s.months[month].moisture[i])
			shown := s.reading(p.belt, month, wet).with(s.errors.belt[i][month])
			nets[i] = shown.split(d.weights(len(days)), scales[p.belt].step)
		}
		for k, day := range days {
			for i := range piles {
				s.runs = append(s.runs, run{at: s.runEnd(day, i), month: month, pile: i, net: nets[i][k]})
			}
		}
	}
}

// runEnd returns when a belt ends its run for a pile: it feeds three piles, one after another. In a detailed
// yard they stop early enough for the crusher to be fed.
func (s *simulation) runEnd(day time.Time, pile int) time.Time {
	hours := 4
	if s.cfg.Detailed {
		hours = 3
	}
	return clock(day, openHour+hours*(1+pile%3), 0)
}

// feedDay returns the last Saturday of a month.
func (c calendar) feedDay(month int) time.Time {
	day := c.lastDay(month)
	for day.Weekday() != time.Saturday {
		day = day.AddDate(0, 0, -1)
	}
	return day
}

// feedCrusher carries stone back to the crusher. As much more is made for the pile, so that no stock changes
// by it from one survey to the next.
func (s *simulation) feedCrusher() {
	d := newDice(s.cfg.Seed, feedLoadStream)
	for t := 1; t <= s.cfg.Months; t++ {
		m := &s.months[t]
		solids := Grams(mulDiv(int64(m.made[feedPile]), feedShare, 100))
		m.made[feedPile] += solids
		day := []time.Time{s.cal.feedDay(t)}
		parts := solids.split(d.weights(s.trucks(solids, feedPile, t)), 1)
		for k, part := range parts {
			s.feeds = append(s.feeds, feed{at: fed.slot(day, k, len(parts), 0), month: t, pile: feedPile,
				solids: part, wet: part.wet(m.moisture[feedPile])})
		}
	}
}

// reading is a run as the production table has it: a mass, or what the totaliser showed.
type reading struct {
	run
	total Grams // of the belt that has a totaliser
}

// readings returns the runs as they are written, in order of time where the yard is detailed, with what the
// totaliser showed at the end of each.
func (s *simulation) readings() []reading {
	runs := slices.Clone(s.runs)
	if s.cfg.Detailed {
		slices.SortStableFunc(runs, func(a, b run) int { return a.at.Compare(b.at) })
	}
	var all []reading
	total := openReading
	for _, r := range runs {
		if piles[r.pile].belt == readBelt {
			if r.reset {
				total = 0
			}
			total += r.net
		}
		all = append(all, reading{r, total})
	}
	return all
}

// beltSlip returns what the records have a belt carry to a pile beyond what it carried and showed: what it
// counted idly, less what was lost with a reading.
func (s *simulation) beltSlip(pile, month int) Grams {
	var slip Grams
	for _, r := range s.runs {
		if r.pile != pile || r.month != month {
			continue
		}
		switch {
		case r.idle:
			slip += r.net
		case r.reset:
			slip -= r.net
		}
	}
	return slip
}
