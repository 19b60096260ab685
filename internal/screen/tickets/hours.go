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

// The night, in the yard's clock.
var (
	nightFrom = screen.Setting{Name: "rule night pickup from hour", Holds: screen.Number, Default: "20",
		Meaning: "The hour of the yard's clock from which on a pickup is one at night."}
	nightUntil = screen.Setting{Name: "rule night pickup until hour", Holds: screen.Number, Default: "5",
		Meaning: "The hour until which it is."}
)

// outside finds work outside the staffed hours, a day and instrument at a time; night finds loads and tickets of
// customers in the night, each night under the day on which it began, and leaves the rest of the unstaffed hours to outside. Both say what the
// clocks say and nothing else, and both are silent where no hours are on record for the day.
type (
	outside struct{}
	night   struct{}
)

func (outside) Info() screen.Info {
	return screen.Info{Name: "outside hours", Strength: screen.Certain,
		Meaning:  "Loads or deck tickets outside the staffed hours that are on record, but for customers at night.",
		Benign:   "Overtime that nobody put into the hours; a clock that is wrong; the yard's own work on roads and ramps.",
		Settle:   "A row of hours for the day; or words.",
		Settings: []screen.Setting{graceMinutes}}
}

func (night) Info() screen.Info {
	return screen.Info{Name: "night pickup", Strength: screen.Certain,
		Meaning:  "Loads or deck tickets with a customer at night, outside the staffed hours that are on record.",
		Benign:   "An agreed night job that nobody put into the hours; a clock that is wrong.",
		Settle:   "A row of hours for the day; or words, with who agreed to it.",
		Settings: []screen.Setting{graceMinutes, nightFrom, nightUntil}}
}

func (outside) Look(d *screen.Data, found func(screen.Finding)) {
	dark := darkOf(d)
	wanted := func(n pickup) bool { return n.customer == "" || !dark.has(n.at) }
	for _, g := range unstaffed(d, wanted, func(t time.Time) string { return day(d, t) }) {
		found(g.finding(d, "outside the staffed hours"))
	}
}

func (night) Look(d *screen.Data, found func(screen.Finding)) {
	dark := darkOf(d)
	wanted := func(n pickup) bool { return n.customer != "" && dark.has(n.at) }
	for _, g := range unstaffed(d, wanted, dark.evening) {
		found(g.finding(d, "of customers at night, outside the staffed hours"))
	}
}

// dark is when it is night: from an hour of the yard's clock until another, most often of the next day.
type dark struct {
	zone        *time.Location
	from, until int
}

func darkOf(d *screen.Data) dark {
	return dark{d.Zone, int(d.Number(nightFrom)), int(d.Number(nightUntil))}
}

// has reports whether an instant lies in the night.
func (n dark) has(t time.Time) bool {
	hour := t.In(n.zone).Hour()
	if n.from <= n.until {
		return hour >= n.from && hour < n.until
	}
	return hour >= n.from || hour < n.until
}

// evening returns the day on which the night of an instant began.
func (n dark) evening(t time.Time) string {
	t = t.In(n.zone)
	if n.from > n.until && t.Hour() < n.until {
		t = t.AddDate(0, 0, -1)
	}
	return t.Format(time.DateOnly)
}

// pickup is a load or a deck ticket.
type pickup struct {
	rec                   *ledger.Record
	at                    time.Time
	customer, pile, truck string
	net                   ledger.Mass
	isVoid                bool
}

// shift is what one instrument did outside the hours of one day, or in one night.
type shift struct {
	instrument, day string
	rows            []pickup
}

// unstaffed returns what happened outside staffed hours, by instrument and what dayOf makes of its time.
func unstaffed(d *screen.Data, wanted func(pickup) bool, dayOf func(time.Time) string) []shift {
	all := map[[2]string]*shift{}
	clock := staffed{data: d, grace: d.Duration(graceMinutes), days: map[string]hours{}}
	add := func(instrument string, n pickup) {
		if n.isVoid || !wanted(n) || !d.In(n.at) || clock.open(n.at) {
			return
		}
		key := [2]string{dayOf(n.at), instrument}
		if all[key] == nil {
			all[key] = &shift{instrument: instrument, day: key[0]}
		}
		all[key].rows = append(all[key].rows, n)
	}
	for _, l := range d.Loads {
		add(l.Fact.Loader, pickup{rec: l.Rec, at: l.At(), customer: l.Fact.Customer, net: l.Fact.Net, isVoid: l.Fact.Void, pile: l.Fact.Pile, truck: l.Fact.Truck})
	}
	for _, t := range d.Deck {
		add(t.Fact.Deck, pickup{rec: t.Rec, at: t.At(), customer: t.Fact.Customer, net: t.Fact.Net, isVoid: t.Fact.Void, truck: t.Fact.Truck})
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

// hours are the shifts in or near a day; none on a day without staff.
type hours struct {
	shifts []ledger.Shift
	known  bool
}

// open reports whether the yard is staffed at an instant, or nobody says.
func (s *staffed) open(t time.Time) bool {
	key := day(s.data, t)
	h, ok := s.days[key]
	if !ok {
		h.shifts, h.known = s.data.Register.Shifts(s.data.Yard, t)
		s.days[key] = h
	}
	return !h.known || slices.ContainsFunc(h.shifts, func(x ledger.Shift) bool { return x.Near(t, s.grace) })
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
	kind := "load"
	if s.rows[0].rec.Fact.Kind() == ledger.KindDeckRecord {
		kind = "deck ticket"
	}
	f.Seen = fmt.Sprintf("%s of %s %s, between %s and %s, %v together", count(len(s.rows), kind), s.instrument, what,
		d.Clock(s.rows[0].at), d.Clock(s.rows[len(s.rows)-1].at), f.Mass)
	return f
}
