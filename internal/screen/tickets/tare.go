package tickets

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

var tareDays = screen.Setting{Name: "rule old tare days", Holds: screen.Days, Default: "21",
	Meaning: "How long a truck's empty weight may stay the same to the kilogram before it has to be taken again."}

var tareVisits = screen.Setting{Name: "rule old tare visits", Holds: screen.Number, Default: "5",
	Meaning: "How many visits in a row with one tare it takes to say that it is stored and not weighed."}

// oldTare finds trucks whose tare has not changed by a kilogram for longer than a setting and over several visits: it
// is stored and not weighed. Fuel, mud and the driver alone move a tare by more than a scale's division from visit to
// visit (common practice, no source): with a scatter of 60 kg and steps of 20 kg five visits agree by chance in about 1
// of 10,000 runs. The rows go back to the start of the month before, so an age is at least what is shown.
type oldTare struct{}

func (oldTare) Info() screen.Info {
	return screen.Info{Name: "old tare", Strength: screen.Likely, FalseAlarms: 0.02,
		Meaning:  "A truck's stored tare has been used for longer than the yard allows without being weighed again.",
		Benign:   "A scale that stores tares by design, with a renewal that is due.",
		Settle:   "Weigh the truck empty; words. What it weighed before is not changed.",
		Settings: []screen.Setting{tareDays, tareVisits}}
}

// tareRun is a run of visits of a truck with one tare.
type tareRun struct {
	first, last screen.Row[ledger.DeckTicket]
	visits      int
	trips       int // in the month, beyond what is allowed
	net         ledger.Mass
}

func (oldTare) Look(d *screen.Data, found func(screen.Finding)) {
	allowed, least := d.Duration(tareDays), int(d.Number(tareVisits))
	runs, over := map[string]*tareRun{}, map[string]*tareRun{} // by truck: the run that goes on, and one that was too long
	end := func(r *tareRun) {
		if truck := r.last.Fact.Truck; r.trips > 0 && r.visits >= least {
			if before := over[truck]; before != nil {
				r.trips, r.net = r.trips+before.trips, r.net+before.net
			}
			over[truck] = r
		}
	}
	for _, t := range d.Deck {
		f := t.Fact
		if f.Void || f.Truck == "" || f.Tare == 0 || !t.At().Before(d.End) {
			continue
		}
		r, ok := runs[f.Truck]
		if ok && r.first.Fact.Tare != f.Tare {
			end(r) // weighed at last, which takes nothing from the trips before
		}
		if !ok || r.first.Fact.Tare != f.Tare {
			r = &tareRun{first: t}
			runs[f.Truck] = r
		}
		r.last = t
		r.visits++
		if d.In(t.At()) && t.At().Sub(r.first.At()) > allowed {
			r.trips++
			r.net += f.Net
		}
	}
	for _, r := range runs {
		end(r)
	}
	for _, truck := range slices.Sorted(maps.Keys(over)) {
		found(over[truck].finding(d, truck))
	}
}

func (r *tareRun) finding(d *screen.Data, truck string) screen.Finding {
	return screen.Finding{Subject: truck, Time: r.last.At(), Mass: r.net, Truck: truck, Instrument: r.last.Fact.Deck,
		Records: []string{r.last.Rec.ID(), r.first.Rec.ID()},
		Seen: fmt.Sprintf("truck %s has had the tare %v to the kilogram since %s or longer, %.0f days; %d trips of the month rest on it beyond what is allowed",
			truck, r.last.Fact.Tare, d.Clock(r.first.At()), r.last.At().Sub(r.first.At()).Hours()/hoursOfDay, r.trips)}
}

const hoursOfDay = 24

var tareTrucks = screen.Setting{Name: "rule same tare trucks", Holds: screen.Number, Default: "3",
	Meaning: "How many trucks may have one tare to the kilogram before it is no chance."}

// sameTare finds one tare that several trucks have to the kilogram, each on more visits than one: a default that was
// keyed in, or one truck's tare used for others. Trucks whose tares are weighed scatter over hundreds of kilograms, and
// a scale that shows 20 kg gives them some dozens of steps to meet on; that three meet again and again is no chance
// (measured on invented yards).
type sameTare struct{}

func (sameTare) Info() screen.Info {
	return screen.Info{Name: "same tare", Strength: screen.Likely, FalseAlarms: 0.05,
		Meaning:  "Several trucks have the same tare to the kilogram on most of their visits.",
		Benign:   "A fleet of like trucks with a stored default; a test with calibration weights.",
		Settle:   "Weigh the trucks empty; words.",
		Settings: []screen.Setting{tareTrucks}}
}

func (sameTare) Look(d *screen.Data, found func(screen.Finding)) {
	type use struct {
		trips int
		net   ledger.Mass
		last  screen.Row[ledger.DeckTicket]
	}
	visits := map[string]int{}
	uses := map[ledger.Mass]map[string]*use{}
	for _, t := range d.Deck {
		f := t.Fact
		if f.Void || f.Truck == "" || f.Tare == 0 || !d.In(t.At()) {
			continue
		}
		visits[f.Truck]++
		if uses[f.Tare] == nil {
			uses[f.Tare] = map[string]*use{}
		}
		u := uses[f.Tare][f.Truck]
		if u == nil {
			u = new(use)
			uses[f.Tare][f.Truck] = u
		}
		u.trips, u.net, u.last = u.trips+1, u.net+f.Net, t
	}
	for _, tare := range slices.Sorted(maps.Keys(uses)) {
		var trucks, records []string
		f := screen.Finding{Subject: fmt.Sprint(int64(tare))}
		for _, truck := range slices.Sorted(maps.Keys(uses[tare])) {
			// Most of a truck's visits, and more than one: what is weighed anew each time meets now and then.
			if u := uses[tare][truck]; u.trips > 1 && 2*u.trips > visits[truck] {
				trucks, records = append(trucks, truck), append(records, u.last.Rec.ID())
				f.Mass += u.net
				if u.last.At().After(f.Time) {
					f.Time, f.Instrument = u.last.At(), u.last.Fact.Deck
				}
			}
		}
		if len(trucks) >= int(d.Number(tareTrucks)) {
			f.Records = records
			f.Seen = fmt.Sprintf("%d trucks have the tare %v to the kilogram on most of their visits: %s", len(trucks), tare, strings.Join(trucks, ", "))
			found(f)
		}
	}
}

// count writes a number of things.
func count(n int, thing string) string {
	if n != 1 {
		thing += "s"
	}
	return fmt.Sprintf("%d %s", n, thing)
}

// day is a day of the yard's clock.
func day(d *screen.Data, t time.Time) string { return t.In(d.Zone).Format(time.DateOnly) }
