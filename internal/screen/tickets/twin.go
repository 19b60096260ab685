package tickets

import (
	"fmt"
	"slices"
	"time"

	"repose/internal/screen"
	"repose/internal/stat"
	"repose/ledger"
)

// The settings of the two rules about records that are alike.
var (
	twinMinutes = screen.Setting{Name: "rule near twin minutes", Holds: screen.Minutes, Default: "15",
		Meaning: "A truck that is loaded twice within less time than this cannot have been away in between."}
	reissueMinutes = screen.Setting{Name: "rule void and reissue minutes", Holds: screen.Minutes, Default: "120",
		Meaning: "How long after a void its reissue may come."}
)

// twin finds two kept loads of one truck out of one pile with the same net mass, so soon after one another that the truck
// cannot have been away. Equal masses alone are no evidence: loads that scatter by 0.6 t and are shown to 20 kg agree by
// chance in 1 of 106 pairs (d / (2 sqrt(pi) sd)), so the time and the truck have to agree too. Two deck tickets, one for
// each load, clear it.
type twin struct{}

func (twin) Info() screen.Info {
	return screen.Info{Name: "near twin", Strength: screen.Likely, FalseAlarms: 0.05,
		Meaning:  "Two kept loads of one truck, pile and mass, minutes apart: one truck that was entered twice.",
		Benign:   "A truck with a trailer that was filled to the same mark; two trucks under one code.",
		Settle:   "Void one of the two; or words, where both left.",
		Settings: []screen.Setting{twinMinutes}}
}

func (twin) Look(d *screen.Data, found func(screen.Finding)) {
	ticketed := ticketedLoads(d)
	within := d.Duration(twinMinutes)
	var twins [][2]screen.Row[ledger.Load]
	last := map[string]screen.Row[ledger.Load]{} // by truck
	for _, l := range d.Loads {
		f := l.Fact
		if f.Void || f.Truck == "" || f.Net == 0 {
			continue
		}
		before, ok := last[f.Truck]
		last[f.Truck] = l
		if !ok || l.At().Sub(before.At()) > within || before.Fact.Pile != f.Pile || before.Fact.Net != f.Net {
			continue
		}
		if ticketed[before.Rec] && ticketed[l.Rec] || parts(before.Fact, f) {
			continue // the deck weighed two trucks; or one record was split into them
		}
		twins = append(twins, [2]screen.Row[ledger.Load]{before, l})
	}
	if len(twins) == 0 {
		return
	}
	chance := equalChance(d)
	for _, t := range twins {
		found(twinFinding(d, t[0], t[1], chance))
	}
}

// ticketedLoads returns the loads that a deck ticket was found for.
func ticketedLoads(d *screen.Data) map[*ledger.Record]bool {
	ticketed := make(map[*ledger.Record]bool, len(d.Match.Pairs))
	for _, p := range d.Match.Pairs {
		ticketed[d.MatchLoads[p.Load].Rec] = true
	}
	return ticketed
}

// equalChance returns how likely two loads of the month show the same mass by chance.
func equalChance(d *screen.Data) float64 {
	kept := make([]ledger.Mass, 0, len(d.Loads))
	for _, l := range d.Loads {
		if !l.Fact.Void {
			kept = append(kept, l.Fact.Net)
		}
	}
	mean, sd := loads(slices.Values(kept))
	if sd == 0 {
		return 1
	}
	return stat.Load{Mean: mean / float64(ledger.Tonne), Deviation: sd / float64(ledger.Tonne)}.EqualNetChance(division(kept))
}

// division guesses in which steps a scale shows, in t: the largest of the usual ones that all masses are multiples of.
func division(masses []ledger.Mass) float64 {
	for _, step := range []ledger.Mass{50 * ledger.Kilogram, 20 * ledger.Kilogram, 10 * ledger.Kilogram} {
		all := true
		for _, m := range masses {
			all = all && m%step == 0
		}
		if all {
			return float64(step) / float64(ledger.Tonne)
		}
	}
	return float64(ledger.Kilogram) / float64(ledger.Tonne)
}

func twinFinding(d *screen.Data, first, second screen.Row[ledger.Load], chance float64) screen.Finding {
	f := second.Fact
	return screen.Finding{Subject: second.Rec.ID() + "/" + first.Rec.ID(), Time: second.At(), Pile: f.Pile, Mass: f.Net,
		Records: []string{second.Rec.ID(), first.Rec.ID()}, Instrument: f.Loader, Product: f.Product, Truck: f.Truck, Customer: f.Customer,
		Effects: effect(f.Pile, -f.Net),
		Seen: fmt.Sprintf("loads %s and %s are of the same truck, pile and mass, %v, %.0f min apart; two loads agree so by chance in %.2g of all pairs",
			first.Fact.Ticket, f.Ticket, f.Net, second.At().Sub(first.At()).Minutes(), chance)}
}

// effect is that of a mass on a pile; none where the pile is not known.
func effect(pile string, m ledger.Mass) []screen.Effect {
	if pile == "" {
		return nil
	}
	return []screen.Effect{{Pile: pile, Mass: m}}
}

// reissue lists a void load that a like load of the same truck follows: the usual way of correcting a ticket. It is
// there to be seen with its successor, and accuses nobody; it has no effect on a pile.
type reissue struct{}

func (reissue) Info() screen.Info {
	return screen.Info{Name: "void and reissue", Strength: screen.Likely, FalseAlarms: 0.2,
		Meaning:  "A load was voided, and one of the same truck and about the same mass was issued under one of the next numbers.",
		Benign:   "This is how a wrong customer or product on a ticket is corrected.",
		Settle:   "Words: why it was reissued. Where both trucks left, reinstate the void one.",
		Settings: []screen.Setting{reissueMinutes}}
}

func (reissue) Look(d *screen.Data, found func(screen.Finding)) {
	within := d.Duration(reissueMinutes)
	for i, v := range d.Loads {
		if !v.Fact.Void || v.Fact.Truck == "" {
			continue
		}
		if r, ok := successor(d, i, within); ok {
			f := v.Fact
			found(screen.Finding{Subject: v.Rec.ID(), Time: v.At(), Pile: f.Pile, Mass: f.Net, Records: []string{v.Rec.ID(), r.Rec.ID()},
				Instrument: f.Loader, Product: f.Product, Truck: f.Truck, Customer: f.Customer,
				Seen: fmt.Sprintf("load %s, %v, was voided at %s and load %s, %v, of the same truck followed at %s", f.Ticket, f.Net,
					d.Clock(v.At()), r.Fact.Ticket, r.Fact.Net, d.Clock(r.At()))})
		}
	}
}

// successor returns the first kept load of the same loader and truck after the i-th whose mass is within a hundredth.
func successor(d *screen.Data, i int, within time.Duration) (screen.Row[ledger.Load], bool) {
	v := d.Loads[i]
	for _, l := range d.Loads[i+1:] {
		f := l.Fact
		if l.At().Sub(v.At()) > within {
			break
		}
		alike := (f.Net-v.Fact.Net).Abs()*alikeShare <= max(f.Net, v.Fact.Net)
		if !f.Void && f.Loader == v.Fact.Loader && f.Truck == v.Fact.Truck && alike {
			return l, true
		}
	}
	return screen.Row[ledger.Load]{}, false
}
