package demoyard

import "time"

// records is what the yard wrote down, each list in the order in which it was written.
type records struct {
	loads      []loadRow
	deck       []deckRow
	production []readingRow
	transfers  []transferRow
	feed       []feedRow
	returns    []returnRow
	surveys    []surveyRow
	moistures  []moistureRow
	densities  []densityRow
}

// loadRow is a loader's record of one truck. The net is a multiple of 10 kg.
type loadRow struct {
	at                     time.Time
	loader, ticket         string
	pile, truck            string
	product                int
	customer, job, purpose string
	passes, net            int64
	void                   bool
	replaces               string // ticket that this one corrects
}

// deckRow is a ticket of the deck scale, to the minute and in steps of 20 kg.
type deckRow struct {
	at              time.Time
	ticket          string
	truck, customer string
	product         int
	gross, tare     int64
	void            bool
}

// readingRow is a belt totaliser read on paper: what the counter showed and where the stone went since
// the reading before.
type readingRow struct {
	at          time.Time
	belt, pile  string
	reading     string // tonnes, as the counter shows them
	shift, note string
}

type transferRow struct {
	at             time.Time
	loader, ticket string
	from, to       string
	net            int64
}

type feedRow struct {
	at           time.Time
	loader, pile string
	net          int64
}

type returnRow struct {
	at           time.Time
	ticket, pile string
	net          int64
}

type surveyRow struct {
	survey, report string
	pile           int
	start, end     time.Time
	litres         int64 // measured volume with the base layer in it
}

type moistureRow struct {
	pile, product string // one of the two
	taken         time.Time
	moistureBP    int64
}

type densityRow struct {
	pile       int
	taken      time.Time
	gramsPerM3 int64 // moist, as taken
	moistureBP int64
}
