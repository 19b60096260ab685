package demoyard

import (
	"slices"
	"time"
)

// Traffic. A weekday brings so many trucks, a Saturday fewer; months differ, heavy rain keeps jobs idle.
const (
	weekdayLoads  = 50
	saturdayLoads = 22
	heavyRainMM   = 9
	loaderBusy    = 5 * time.Minute // from one truck to the next at one loader
)

var (
	monthPercent = [monthCount]int64{98, 105, 101}
	hourWeights  = []int64{6, 12, 13, 11, 10, 9, 6, 9, 8, 6, 4} // from openHour on
)

// What becomes of a load.
const (
	forSale     = "sale"
	forInternal = "internal"
	forFree     = "free"
)

// arrival is a truck that pulls up at a loader.
type arrival struct {
	at                     time.Time
	loader, pile           int
	customer, job, purpose string
}

func (a arrival) when() time.Time { return a.at }

// nightWork are load-outs outside the staffed hours: days from 2026-08-01, minutes after midnight UTC.
// On the last of these days the zone's clock goes back at 01:00 UTC, so that 01:00 to 02:00 comes twice.
var nightWork = [...]struct {
	day     int
	minutes []int
	job     string
}{
	{day: 18, minutes: []int{1182, 1204, 1226, 1251, 1278, 1301}, job: "J-2604"},
	{day: 46, minutes: []int{1215, 1239, 1263, 1286, 1312}, job: "J-2604"},
	{day: 84, minutes: []int{1366, 1389, 1413}, job: "J-2601"},
	{day: 85, minutes: []int{8, 24, 43, 65, 81, 101, 126}, job: "J-2601"},
}

// flightArrivals are trucks that pull up while the last flight is on: hour, minute, pile. The last two
// leave their piles before the survey ends and cross the deck scale after it.
var flightArrivals = [...][3]int{{10, 52, sandPile}, {11, 22, ten}, {11, 22, basePile}}

// arrivals plans every load of the three months, in order of time.
func (s *simulation) arrivals() []event {
	var plan []arrival
	for day := range dayCount {
		if staffed(day) {
			plan = append(plan, s.dayArrivals(day)...)
		}
	}
	for _, f := range flightArrivals {
		at := clock(flightPlan[monthCount-1].day, f[0], f[1], s.zone)
		plan = append(plan, arrival{at: at, loader: piles[f[2]].loader, pile: f[2],
			customer: customers[1].code, purpose: forSale})
	}
	for _, n := range nightWork {
		for _, m := range n.minutes {
			at := time.Date(firstYear, firstMonth, 1+n.day, 0, m, 0, 0, time.UTC)
			plan = append(plan, arrival{at: at, loader: loader2, pile: basePile,
				customer: customers[0].code, job: n.job, purpose: forSale})
		}
	}
	slices.SortStableFunc(plan, func(a, b arrival) int { return a.at.Compare(b.at) })

	var free [loaderCount]time.Time
	events := make([]event, 0, len(plan))
	for _, a := range plan {
		if a.at.Before(free[a.loader]) {
			a.at = free[a.loader]
		}
		free[a.loader] = a.at.Add(loaderBusy)
		events = append(events, a)
	}
	return events
}

// dayArrivals plans one staffed day.
func (s *simulation) dayArrivals(day int) []arrival {
	n := int64(weekdayLoads)
	if weekday(day) == time.Saturday {
		n = saturdayLoads
	}
	n = n*monthPercent[monthOfDay(day)]/100 + s.traffic.bell(3)
	if s.weather.rainMM[day] >= heavyRainMM {
		n = n * 3 / 4
	}
	shares := make([]int64, pileCount)
	for i, p := range piles {
		shares[i] = p.share
	}
	var plan []arrival
	for range n {
		hour := openHour + s.traffic.pick(hourWeights)
		at := clock(day, hour, 0, s.zone).Add(time.Duration(s.traffic.below(3_600)) * time.Second)
		plan = append(plan, s.customerArrival(at, s.traffic.pick(shares)))
	}
	return plan
}

// customerArrival draws who comes for a pile, and which loader serves: mostly the one that works there.
func (s *simulation) customerArrival(at time.Time, pile int) arrival {
	d := s.traffic
	a := arrival{at: at, pile: pile, loader: piles[pile].loader, purpose: forSale}
	if d.oneIn(9) {
		a.loader = (a.loader + 1) % loaderCount
	}
	switch {
	case pile == basePile && d.oneIn(18), pile == forty && d.oneIn(25):
		a.purpose = forInternal
		return a
	case d.oneIn(600):
		a.purpose, a.customer = forFree, freeCustomer
		return a
	}
	weights := make([]int64, len(customers))
	for i, c := range customers {
		weights[i] = c.weight
	}
	c := customers[d.pick(weights)]
	a.customer = c.code
	if len(c.jobs) > 0 {
		a.job = c.jobs[d.below(int64(len(c.jobs)))]
	}
	return a
}
