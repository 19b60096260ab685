package demoyard

import (
	"slices"
	"time"
)

// event is something that happens in the yard at an instant.
type event interface {
	when() time.Time
	happen(*simulation)
}

// simulation is the yard as it runs: what is true, and what has been written down so far.
type simulation struct {
	zone    *time.Location
	weather *weather

	traffic, loading, plant, site, survey dice

	solids [pileCount]int64 // grams truly in each pile
	records
	months     [pileCount][monthCount]MonthTruth
	unrecorded []UnrecordedLoad

	transferTicket int64
	ticketOf       [loaderCount]int64
	truckLeft      [truckCount]time.Time
	sales          [pileCount][]sale
	counters       [beltCount]counter
}

// simulate runs the three months.
func simulate(zone *time.Location) *simulation {
	s := &simulation{
		zone:    zone,
		weather: newWeather(newDice(weatherStream)),
		traffic: newDice(trafficStream), loading: newDice(loadingStream), plant: newDice(plantStream),
		site: newDice(siteStream), survey: newDice(surveyStream),
		ticketOf: [loaderCount]int64{10_411, 20_733},
	}
	for i, p := range piles {
		s.solids[i] = p.opening * tonne
	}
	for b, belt := range belts {
		s.counters[b].count, s.counters[b].read = belt.firstReading, belt.firstReading
	}
	s.labWork(newDice(labStream))

	agenda := slices.Concat(s.arrivals(), s.shifts(), s.siteWork(), s.flights())
	for _, l := range unrecordedPlan {
		agenda = append(agenda, leak{clock(l.day, l.hour, l.minute, zone)})
	}
	slices.SortStableFunc(agenda, func(a, b event) int { return a.when().Compare(b.when()) })
	for _, e := range agenda {
		e.happen(s)
	}
	s.numberDeckTickets()
	return s
}

// moisture returns the true moisture at a pile's face, in hundredths of a per cent of dry mass.
func (s *simulation) moisture(pile int, at time.Time) int64 {
	return s.weather.at(dayOf(at, s.zone), piles[pile].product)
}

// move adds a wet mass to a pile, or takes it if negative, at the moisture of the pile's face.
func (s *simulation) move(pile int, wet int64, at time.Time) {
	m := s.moisture(pile, at)
	if wet < 0 {
		s.solids[pile] -= solidsOf(-wet, m)
		return
	}
	s.solids[pile] += solidsOf(wet, m)
}

// month returns the truth of a pile in the month of an instant, to be added to.
func (s *simulation) month(pile int, at time.Time) *MonthTruth {
	return &s.months[pile][monthOf(at, s.zone)]
}

// unrecordedPlan are the local times, by day from 2026-08-01, at which trucks took ten-millimetre stone
// and nobody wrote it down. Nothing in the files shows them.
var unrecordedPlan = [...]struct{ day, hour, minute int }{
	{53, 5, 32}, {55, 18, 41}, {58, 5, 28},
	{62, 18, 35}, {65, 5, 35}, {67, 18, 52}, {69, 5, 30}, {70, 19, 4}, {73, 18, 38}, {75, 5, 24},
	{77, 18, 47}, {80, 5, 33}, {82, 19, 10}, {83, 18, 44}, {86, 20, 2}, {87, 5, 27}, {88, 18, 36},
}

// leak is one of those loads.
type leak struct{ at time.Time }

func (l leak) when() time.Time { return l.at }

func (l leak) happen(s *simulation) {
	wet := rounded(truckAt(0).payload+s.site.bell(500*kilogram), kilogram)
	before := s.solids[ten]
	s.move(ten, -wet, l.at)
	u := UnrecordedLoad{Pile: piles[ten].name, At: l.at.UTC(), WetG: wet, SolidsG: before - s.solids[ten]}
	s.unrecorded = append(s.unrecorded, u)
	m := s.month(ten, l.at)
	m.UnrecordedLoads++
	m.UnrecordedG += u.SolidsG
}
