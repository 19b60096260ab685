package simyard

import (
	"fmt"
	"math"
	"strconv"
	"time"
)

func (s *simulation) surveyTable() table {
	header := []string{"survey", "pile", "start", "end", "volume [m3]", "volume u [%]", "base", "method", "surveyor"}
	if s.cfg.Detailed {
		header = append(header, "toe area [m2]")
	}
	t := newTable("surveys.csv", header...)
	for month := range s.months {
		for i, p := range piles {
			f, litres := s.flights[i][month], s.surveyed(i, month)
			row := []string{surveyCode(month), p.code, f.start.Format(toMinute), f.end.Format(toMinute),
				fixed(litres, 3), volumeU.inPercent(), f.base, "photogrammetry", "SV-1"}
			if s.cfg.Detailed {
				row = append(row, strconv.FormatInt(toeArea(litres, f.toe), 10))
			}
			t.add(row...)
		}
	}
	return t
}

// toeArea returns the area in m2 under a cone of so many litres, which is wrong by e.
func toeArea(litres int64, e PPB) int64 {
	r := math.Cbrt(3 * float64(litres) / 1_000 / (math.Pi * coneTan))
	return int64(math.Round(math.Pi * r * r * (1 + float64(e)/billion)))
}

func surveyCode(month int) string { return fmt.Sprintf("S%02d", month) }

// productionTable has the runs of the belts. In a detailed yard one belt is read off its totaliser, from the
// opening of the book on.
func (s *simulation) productionTable() table {
	if !s.cfg.Detailed {
		t := newTable("production.csv", "time", "belt", "pile", "net [t]")
		for _, r := range s.runs {
			t.add(r.at.Format(toMinute), scales[piles[r.pile].belt].code, piles[r.pile].code, r.net.inTonnes())
		}
		return t
	}
	t := newTable("production.csv", "time", "belt", "pile", "net [t]", "reading [t]")
	t.add(s.cal.opened().Format(toMinute), scales[readBelt].code, piles[firstRead].code, "", openReading.inTonnes())
	for _, r := range s.readings() {
		p := piles[r.pile]
		net, total := r.net.inTonnes(), ""
		if p.belt == readBelt {
			net, total = "", r.total.inTonnes()
		}
		t.add(r.at.Format(toMinute), scales[p.belt].code, p.code, net, total)
	}
	return t
}

// loadTable has the loaders' records. A record of several trucks comes with the last of them.
func (s *simulation) loadTable() table {
	header := []string{"time", "loader", "ticket", "pile", "product", "truck", "customer", "net [t]"}
	if s.cfg.Detailed {
		header = append(header, "passes", "purpose", "status")
	}
	t := newTable("loads.csv", header...)
	for i := range s.loads {
		l := &s.loads[i]
		for _, r := range l.records {
			row := []string{r.at.Format(toSecond), scales[loaderScale(l.loader)].code, r.ticket, piles[r.pile].code,
				piles[r.product].product, truckName(r.truck), l.customerName(), r.net.inTonnes()}
			if s.cfg.Detailed {
				row = append(row, strconv.Itoa(r.passes), l.purpose(), status(r.void))
			}
			t.add(row...)
		}
	}
	return t
}

// customerName returns the code of a load's customer, empty for the yard's own use.
func (l *load) customerName() string {
	if l.internal {
		return ""
	}
	return customerCode(l.customer)
}

func (l *load) purpose() string {
	if l.internal {
		return "internal"
	}
	return "sale"
}

func status(void bool) string {
	if void {
		return "void"
	}
	return "kept"
}

// toDeck is how long a loaded truck takes to the deck scale in a yard that is not detailed.
const toDeck = 6 * time.Minute

// deckTable has a ticket for every truck that crossed the deck scale, with the product that it truly carries.
func (s *simulation) deckTable() table {
	header := []string{"time", "deck", "ticket", "truck", "customer", "product", "net [t]"}
	if s.cfg.Detailed {
		header = append(header, "gross [t]", "tare [t]")
	}
	t := newTable("deck.csv", header...)
	for _, l := range s.byTime {
		gross, tare, net := l.onDeck()
		row := []string{l.at.Add(l.lag).Format(toSecond), scales[deckScale].code, l.deckTicket, truckName(l.truck),
			l.customerName(), piles[l.pile].product, net.inTonnes()}
		if s.cfg.Detailed {
			row = append(row, gross.inTonnes(), tare.inTonnes())
		}
		t.add(row...)
	}
	return t
}

func (s *simulation) transferTable() table {
	t := newTable("transfers.csv", "time", "loader", "ticket", "from pile", "to pile", "net [t]")
	for _, h := range s.hauls {
		if h.missed {
			continue
		}
		r := routes[h.route]
		to := piles[r.to].code
		if h.oneSided {
			to = ""
		}
		t.add(h.at.Format(toSecond), scales[loaderScale(r.loader)].code, h.ticket, piles[r.from].code, to, h.shown.inTonnes())
	}
	return t
}

func (s *simulation) feedTable() table {
	t := newTable("feed.csv", "time", "instrument", "pile", "net [t]")
	for _, f := range s.feeds {
		t.add(f.at.Format(toSecond), scales[loaderScale(feedLoader)].code, piles[f.pile].code, f.shown.inTonnes())
	}
	return t
}
