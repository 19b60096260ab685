package demoyard

import (
	"fmt"
	"slices"
	"time"
)

// What goes wrong with tickets: once in so many loads on average.
const (
	voidOneIn     = 340 // a ticket is voided and written again
	misreadOneIn  = 800 // the gross is keyed as the net, and a later ticket replaces it
	noDeckOneIn   = 110 // a truck leaves past the deck scale
	deckVoidOneIn = 420 // a deck ticket is voided and written again
)

// turnround is the least time between two visits of one truck.
const turnround = 45 * time.Minute

// sale is a load that a customer took, for the truck to bring back if it was the wrong stone.
type sale struct {
	at  time.Time
	wet int64
}

// happen loads the truck: the pile gives what it truly takes, the loader records what it shows, and the
// deck scale weighs it on the way out.
func (a arrival) happen(s *simulation) {
	vehicle := dumper
	if a.purpose != forInternal {
		vehicle = s.nextTruck(a.at)
	}
	wet := rounded(vehicle.payload+s.loading.bell(vehicle.payload/35), kilogram)
	s.move(a.pile, -wet, a.at)
	row := loadRow{at: a.at, loader: loaders[a.loader].code, pile: piles[a.pile].name, product: piles[a.pile].product,
		truck: vehicle.code, customer: a.customer, job: a.job, purpose: a.purpose,
		passes: (wet + bucket - 1) / bucket, net: s.weighed(loaders[a.loader], wet, 10*kilogram)}
	s.bookLoad(a, row.net, wet)

	switch {
	case s.loading.oneIn(voidOneIn):
		void := row
		void.void = true
		s.write(a.loader, void)
		row.at = row.at.Add(100 * time.Second)
	case s.loading.oneIn(misreadOneIn):
		wrong := row
		wrong.net = rounded(row.net+vehicle.tare, 10*kilogram)
		row.replaces = s.write(a.loader, wrong)
		row.at = row.at.Add(140 * time.Second)
	}
	s.write(a.loader, row)
	if a.purpose != forInternal && !s.loading.oneIn(noDeckOneIn) {
		s.weighOut(a, vehicle, wet)
	}
}

// write gives a load its loader's next ticket number, which it returns, and keeps it.
func (s *simulation) write(loader int, row loadRow) string {
	s.ticketOf[loader]++
	row.ticket = fmt.Sprintf("%s-%d", loaders[loader].code, s.ticketOf[loader])
	s.loads = append(s.loads, row)
	return row.ticket
}

// bookLoad adds a recorded load to the truth.
func (s *simulation) bookLoad(a arrival, net, wet int64) {
	m := &s.month(a.pile, a.at).Recorded
	switch a.purpose {
	case forInternal:
		m.InternalG += net
	case forFree:
		m.FreeG += net
	default:
		m.SaleG += net
		s.sales[a.pile] = append(s.sales[a.pile], sale{a.at, wet})
	}
}

// weighed returns what an instrument shows for a true mass, in steps of its display.
func (s *simulation) weighed(i instrument, wet, step int64) int64 {
	return rounded(withError(wet, i.biasPPM+s.loading.bell(i.scatterPPM)), step)
}

// nextTruck draws a truck that has been away long enough.
func (s *simulation) nextTruck(at time.Time) truck {
	i := int(s.loading.below(truckCount))
	for range truckCount {
		if at.Sub(s.truckLeft[i]) >= turnround {
			break
		}
		i = (i + 1) % truckCount
	}
	s.truckLeft[i] = at
	return truckAt(i)
}

// weighOut writes the deck tickets of a load, without their numbers.
func (s *simulation) weighOut(a arrival, vehicle truck, wet int64) {
	const step = 20 * kilogram
	tare := vehicle.tare + s.loading.bell(60*kilogram) // fuel and mud
	row := deckRow{at: a.at.Add(4*time.Minute + time.Duration(s.loading.below(420))*time.Second),
		truck: vehicle.code, customer: a.customer, product: piles[a.pile].product,
		gross: s.weighed(deckScale, tare+wet, step), tare: s.weighed(deckScale, tare, step)}
	if s.loading.oneIn(deckVoidOneIn) {
		wrong := row
		wrong.void = true
		s.deck = append(s.deck, wrong)
		row.at = row.at.Add(2 * time.Minute)
	}
	s.deck = append(s.deck, row)
}

// numberDeckTickets puts the deck tickets in the order of the scale and numbers them. One truck stands
// on the deck for a minute at least.
func (s *simulation) numberDeckTickets() {
	slices.SortStableFunc(s.deck, func(a, b deckRow) int { return a.at.Compare(b.at) })
	var free time.Time
	for i := range s.deck {
		row := &s.deck[i]
		if row.at.Before(free) {
			row.at = free
		}
		free = row.at.Add(time.Minute)
		row.ticket = fmt.Sprintf("W%06d", 300_412+i)
	}
}
