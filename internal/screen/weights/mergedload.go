package weights

import (
	"fmt"
	"maps"
	"math"
	"strings"

	"repose/internal/match"
	"repose/internal/screen"
	"repose/ledger"
)

// mergedLoad finds loader records that hold several trucks.
//
// A record is one if its net is more than half as much again as the truck ever carried and as the loader gives nineteen
// trucks in twenty, and no deck ticket confirms it; or, of a truck with ten other records, as any of those; or if the matching found
// the tickets of two to six trucks whose sum it is, at the margin from which it is sure; or if it has as many bucket
// passes as the setting says, and half as many again as the loader's records usually have. Loaders store a displayed total
// by itself after a set number of passes, 50 as delivered (common practice, no source). A net that is ten, a hundred or a
// thousand times the ticket's is a slip of the decimal point, and said to be one. Otherwise the stone left the pile, so
// there is no effect.
//
// False alarms: none in 200 clean months.
type mergedLoad struct{}

var mergedPasses = screen.Setting{Name: "rule merged load passes", Holds: screen.Number, Default: "50",
	Meaning: "from how many bucket passes on a record holds several trucks; 0 for any number"}

func (mergedLoad) Info() screen.Info {
	return screen.Info{Name: "merged load", Strength: screen.Certain,
		Meaning: "One loader record weighs as much as several trucks carry: the operator did not close a load before the next, or the loader stored its running total by itself.",
		Benign:  "A road train or a barge was loaded that came once only; the net was typed with a slip of the decimal point.",
		Settle: "Split the record by the deck tickets of the trucks; the sum stays. Where tickets are missing, by the trucks that the loader " +
			"filled in that time.",
		Settings: []screen.Setting{mergedPasses}}
}

func (mergedLoad) Look(d *screen.Data, found func(screen.Finding)) {
	j := judge(d)
	heavy := maps.Clone(overloads(d))
	merged := map[int]*match.Merged{}
	for i := range d.Match.Merged {
		m := &d.Match.Merged[i]
		_, ok := heavy[m.Load]
		if !ok && m.Margin < match.SureMargin {
			continue
		}
		merged[m.Load] = m
		if !ok {
			heavy[m.Load] = overload{wholeKilograms(float64(d.MatchLoads[m.Load].Fact.Net) / float64(len(m.Deck)))}
		}
	}
	lumped := lumpedTickets(d)
	for k, o := range heavy {
		if !d.In(d.MatchLoads[k].At()) {
			continue
		}
		f := overloadFinding(d, k, o)
		tickets := lumped[k]
		if m := merged[k]; m != nil {
			tickets = m.Deck
		}
		switch len(tickets) {
		case 0:
		case 1:
			j.addTicket(d, &f, k, tickets[0])
		default:
			addTickets(d, &f, tickets)
		}
		found(f)
	}
}

func overloadFinding(d *screen.Data, k int, o overload) screen.Finding {
	row := d.MatchLoads[k]
	l := row.Fact
	id, passes := row.Rec.ID(), ""
	if l.Passes > 0 {
		passes = fmt.Sprintf(" and %d passes", l.Passes)
	}
	return screen.Finding{Subject: id, Time: l.At, Pile: l.Pile, Mass: l.Net, Records: []string{id}, Instrument: l.Loader,
		Product: d.ProductOf(row.Rec), Customer: l.Customer, Truck: l.Truck,
		Seen: fmt.Sprintf("%s has %s%s on one record at %s: about %d loads, of which one is usually %s", l.Loader, l.Net, passes,
			d.Clock(l.At), o.loads(l.Net), o.usual)}
}

// addTickets names the trucks of a record.
func addTickets(d *screen.Data, f *screen.Finding, list []int) {
	var sum ledger.Mass
	var tickets []string
	for _, i := range list {
		deck := d.MatchDeck[i]
		sum += deck.Fact.Net
		tickets = append(tickets, deck.Fact.Ticket)
		f.Records = append(f.Records, deck.Rec.ID())
	}
	f.Seen += fmt.Sprintf("; the deck weighed %d trucks for it, %s together: %s", len(list), sum, strings.Join(tickets, ", "))
}

// addTicket names the one truck that is known of a record.
func (j *judged) addTicket(d *screen.Data, f *screen.Finding, load, ticket int) {
	deck := d.MatchDeck[ticket]
	f.Records = append(f.Records, deck.Rec.ID())
	f.Seen += fmt.Sprintf("; the deck weighed %s on that truck, ticket %s", deck.Fact.Net, deck.Fact.Ticket)
	by := j.by[pairKey{d.MatchLoads[load].Fact.Loader, deck.Fact.Deck}]
	x, ok := ratio(f.Mass, deck.Fact.Net)
	if !ok || by == nil {
		return
	}
	if n := by.tenfold(x); n > 1 {
		f.Seen += fmt.Sprintf(": the record has %d times as much, as by a slip of the decimal point", n)
		f.Effects = onPile(f.Pile, by.expected(deck.Fact.Net)-f.Mass)
	}
}

// mostPlaces is by how many places a decimal point slips, at most.
const mostPlaces = 6

// tenfold returns the power of ten that a ratio's logarithm is off the usual one by, 1 where it is none.
func (p *pairing) tenfold(x float64) int {
	x -= p.bias
	n := math.Round(x / math.Ln10)
	if n < 1 || n > mostPlaces || math.Abs(x-n*math.Ln10) > unitScatter*p.sd {
		return 1
	}
	return int(math.Round(math.Pow(10, n)))
}
