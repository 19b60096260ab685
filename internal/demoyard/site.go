package demoyard

import (
	"fmt"
	"time"
)

// haul is a dumper load from one pile to another.
type haul struct {
	at               time.Time
	loader, from, to int
}

// recrush is a dumper load from a pile back to the crusher.
type recrush struct {
	at           time.Time
	loader, pile int
}

// comeback is a customer's load that is brought back as the wrong stone.
type comeback struct {
	at   time.Time
	pile int
}

func (h haul) when() time.Time     { return h.at }
func (r recrush) when() time.Time  { return r.at }
func (c comeback) when() time.Time { return c.at }

// comebacks are the days from 2026-08-01, local times and piles of the rejected loads.
var comebacks = [...]struct{ day, hour, minute, pile int }{
	{11, 10, 40, sandPile}, {25, 14, 5, ten}, {40, 9, 20, twentyEast}, {52, 15, 30, basePile},
	{67, 11, 10, ten}, {76, 13, 45, twentyWest}, {90, 10, 15, sandPile},
}

// siteWork plans what the yard does with its own dumper, in the quieter hours around noon.
func (s *simulation) siteWork() []event {
	var plan []event
	every := func(day, hour, minute, count int, do func(at time.Time) event) {
		for i := range count {
			plan = append(plan, do(clock(day, hour, minute+8*i, s.zone)))
		}
	}
	for day := range dayCount {
		week := day / 7
		switch weekday(day) {
		case time.Monday, time.Thursday:
			every(day, 13, 5, 4, func(at time.Time) event { return recrush{at, week % loaderCount, forty} })
		case time.Wednesday: // either loader, whichever is free that week
			every(day, 12, 5, 5, func(at time.Time) event { return haul{at, week % loaderCount, twentyEast, twentyWest} })
		case time.Friday:
			if week%2 == 1 {
				every(day, 12, 10, 4, func(at time.Time) event { return haul{at, loader2, sandPile, basePile} })
			}
		}
	}
	for _, c := range comebacks {
		plan = append(plan, comeback{clock(c.day, c.hour, c.minute, s.zone), c.pile})
	}
	return plan
}

// dumperLoad draws the true wet mass of a dumper load.
func (s *simulation) dumperLoad() int64 {
	return rounded(dumper.payload+s.site.bell(600*kilogram), kilogram)
}

// happen moves the solids as they are at the pile they come from.
func (h haul) happen(s *simulation) {
	wet := s.dumperLoad()
	solids := solidsOf(wet, s.moisture(h.from, h.at))
	s.solids[h.from] -= solids
	s.solids[h.to] += solids
	s.transferTicket++
	row := transferRow{at: h.at, loader: loaders[h.loader].code, ticket: fmt.Sprintf("T-%04d", 700+s.transferTicket),
		from: piles[h.from].name, to: piles[h.to].name, net: s.weighed(loaders[h.loader], wet, 10*kilogram)}
	s.transfers = append(s.transfers, row)
	s.month(h.from, h.at).Recorded.TransferOutG += row.net
	s.month(h.to, h.at).Recorded.TransferInG += row.net
}

func (r recrush) happen(s *simulation) {
	wet := s.dumperLoad()
	s.move(r.pile, -wet, r.at)
	row := feedRow{at: r.at, loader: loaders[r.loader].code, pile: piles[r.pile].name,
		net: s.weighed(loaders[r.loader], wet, 10*kilogram)}
	s.feed = append(s.feed, row)
	s.month(r.pile, r.at).Recorded.FeedG += row.net
}

// happen brings back the last load sold from the pile that has been away for an hour. The deck scale
// weighs it in.
func (c comeback) happen(s *simulation) {
	sold := s.sales[c.pile]
	for i := len(sold) - 1; i >= 0; i-- {
		if c.at.Sub(sold[i].at) < time.Hour {
			continue
		}
		s.move(c.pile, sold[i].wet, c.at)
		row := returnRow{at: c.at, ticket: fmt.Sprintf("R-%03d", 41+len(s.returns)), pile: piles[c.pile].name,
			net: s.weighed(deckScale, sold[i].wet, 20*kilogram)}
		s.returns = append(s.returns, row)
		s.month(c.pile, c.at).Recorded.ReturnG += row.net
		return
	}
}
