package tickets

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

var graceMinutes = screen.Setting{Name: "rule outside hours grace minutes", Holds: screen.Minutes, Default: "15",
	Meaning: "How long before opening and after closing a record is still within the staffed hours."}

// outside finds work of the yard's own outside its staffed hours, a day and instrument at a time; night finds loads and
// tickets of customers then, night by night. Both say what the clocks say and nothing else, and both are silent
// where no hours are on record for the day.
type (
	outside struct{}
	night   struct{}
)

func (outside) Info() screen.Info {
	return screen.Info{Name: "outside hours", Strength: screen.Certain,
		Meaning:  "Loads or deck tickets without a customer outside the staffed hours that are on record.",
		Benign:   "Overtime that nobody put into the hours; a clock that is wrong; the yard's own work on roads and ramps.",
		Settle:   "A row of hours for the day; or words.",
		Settings: []screen.Setting{graceMinutes}}
}

func (night) Info() screen.Info {
	return screen.Info{Name: "night pickup", Strength: screen.Certain,
		Meaning:  "Loads or deck tickets with a customer outside the staffed hours that are on record.",
		Benign:   "An agreed night job that nobody put into the hours; a clock that is wrong.",
		Settle:   "A row of hours for the day; or words, with who agreed to it.",
		Settings: []screen.Setting{graceMinutes}}
}

func (outside) Look(d *screen.Data, found func(screen.Finding)) {
	for _, g := range unstaffed(d, func(customer string) bool { return customer == "" }) {
		found(g.finding(d, "outside the staffed hours"))
	}
}

func (night) Look(d *screen.Data, found func(screen.Finding)) {
	for _, g := range unstaffed(d, func(customer string) bool { return customer != "" }) {
		found(g.finding(d, "of customers outside the staffed hours"))
	}
}

// shift is what one instrument did outside the hours of one day.
type shift struct {
	instrument, day string
	rows            []numbered
}

// unstaffed returns what happened outside staffed hours, by day and instrument.
func unstaffed(d *screen.Data, wanted func(customer string) bool) []shift {
	all := map[[2]string]*shift{}
	clock := staffed{data: d, grace: d.Duration(graceMinutes), days: map[string]hours{}}
	add := func(instrument, customer string, n numbered) {
		if n.isVoid || !wanted(customer) || !d.In(n.at) || clock.open(n.at) {
			return
		}
		key := [2]string{day(d, n.at), instrument}
		if all[key] == nil {
			all[key] = &shift{instrument: instrument, day: key[0]}
		}
		all[key].rows = append(all[key].rows, n)
	}
	for _, l := range d.Loads {
		add(l.Fact.Loader, l.Fact.Customer, numbered{rec: l.Rec, at: l.At(), net: l.Fact.Net, isVoid: l.Fact.Void, pile: l.Fact.Pile, truck: l.Fact.Truck})
	}
	for _, t := range d.Deck {
		add(t.Fact.Deck, t.Fact.Customer, numbered{rec: t.Rec, at: t.At(), net: t.Fact.Net, isVoid: t.Fact.Void, truck: t.Fact.Truck})
	}
	var out []shift
	for _, key := range slices.SortedFunc(maps.Keys(all), func(a, b [2]string) int { return slices.Compare(a[:], b[:]) }) {
		out = append(out, *all[key])
	}
	return out
}

// staffed remembers the hours of days.
type staffed struct {
	data  *screen.Data
	grace time.Duration
	days  map[string]hours
}

// hours are those of a day; from and until are both zero on a day without staff.
type hours struct {
	from, until time.Time
	known       bool
}

// open reports whether the yard is staffed at an instant, or nobody says.
func (s *staffed) open(t time.Time) bool {
	key := day(s.data, t)
	h, ok := s.days[key]
	if !ok {
		h.from, h.until, h.known = s.data.Register.Staffed(s.data.Yard, t)
		s.days[key] = h
	}
	switch {
	case !h.known:
		return true
	case h.from.IsZero():
		return false
	}
	return !t.Before(h.from.Add(-s.grace)) && !t.After(h.until.Add(s.grace))
}

func (s shift) finding(d *screen.Data, what string) screen.Finding {
	f := screen.Finding{Subject: s.day + "/" + s.instrument, Time: s.rows[0].at, Instrument: s.instrument, Pile: s.rows[0].pile, Truck: s.rows[0].truck}
	for _, n := range s.rows {
		f.Records = append(f.Records, n.rec.ID())
		f.Mass += n.net
		if n.pile != f.Pile {
			f.Pile = ""
		}
		if n.truck != f.Truck {
			f.Truck = ""
		}
	}
	kind := "loads"
	if s.rows[0].rec.Fact.Kind() == ledger.KindDeckRecord {
		kind = "deck tickets"
	}
	f.Seen = fmt.Sprintf("%d %s of %s %s, between %s and %s, %v together", len(s.rows), kind, s.instrument, what,
		d.Clock(s.rows[0].at), d.Clock(s.rows[len(s.rows)-1].at), f.Mass)
	return f
}
