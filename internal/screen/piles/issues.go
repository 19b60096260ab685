package piles

import (
	"fmt"
	"maps"
	"slices"

	"repose/internal/screen"
	"repose/ledger"
)

// noInternal finds a month without any use of the yard's own, where the month before had some. Roads, ramps and berms
// eat stone in every month; where nobody writes it down it comes up as loss. It is a habit of the records, and names
// none of them. A month whose loads do not reach its last week is still running, and says nothing yet.
type noInternal struct{}

func (noInternal) Info() screen.Info {
	return screen.Info{Name: "no internal use", Strength: screen.Pattern, FalseAlarms: 0.05,
		Meaning: "No internal use is on record in the month, and the month before had some.",
		Benign:  "No work on roads and ramps.",
		Settle:  "Internal use by estimate; words."}
}

const lastWeek = 7 * screen.After

func (noInternal) Look(d *screen.Data, found func(screen.Finding)) {
	var before, now ledger.Mass
	var last *ledger.Record
	ran := false
	for _, l := range d.Loads {
		ran = ran || d.In(l.At()) && l.At().After(d.End.Add(-lastWeek))
		if l.Fact.Void || l.Fact.Purpose != ledger.PurposeInternal || !l.At().Before(d.End) {
			continue
		}
		if l.At().Before(d.Start) {
			before, last = before+l.Fact.Net, l.Rec
		} else {
			now += l.Fact.Net
		}
	}
	if before > 0 && now == 0 && ran {
		found(screen.Finding{Subject: "month", Time: d.End.Add(-1), Mass: before, Records: []string{last.ID()},
			Seen: fmt.Sprintf("no internal use is on record; the month before had %v", before)})
	}
}

// freeIssue lists what went out without charge, by customer: samples, donations, exchange. It is there to be seen; a levy
// or royalty may be due on it all the same.
type freeIssue struct{}

func (freeIssue) Info() screen.Info {
	return screen.Info{Name: "free issue", Strength: screen.Certain,
		Meaning: "Stone went out without charge.",
		Benign:  "This is what free issue is for.",
		Settle:  "Words: who agreed to it."}
}

func (freeIssue) Look(d *screen.Data, found func(screen.Finding)) {
	groups := map[string][]screen.Row[ledger.Load]{}
	for _, l := range d.Loads {
		if !l.Fact.Void && l.Fact.Purpose == ledger.PurposeFree && d.In(l.At()) {
			groups[l.Fact.Customer] = append(groups[l.Fact.Customer], l)
		}
	}
	for _, customer := range slices.Sorted(maps.Keys(groups)) {
		f := screen.Finding{Subject: "customer " + customer, Time: groups[customer][0].At(), Customer: customer}
		for _, l := range groups[customer] {
			f.Mass += l.Fact.Net
			f.Records = append(f.Records, l.Rec.ID())
		}
		who := customer
		if who == "" {
			who = "nobody named"
		}
		f.Seen = fmt.Sprintf("%v went to %s without charge, %s", f.Mass, who, times(len(f.Records)))
		found(f)
	}
}

// unsurveyed finds piles that hold or moved stone and that no survey of the month names, though others were surveyed: a
// pile that the surveyor knows by another name, merged with a neighbour, or forgot; and surveys of a pile that the
// register does not name.
type unsurveyed struct{}

func (unsurveyed) Info() screen.Info {
	return screen.Info{Name: "survey gap", Strength: screen.Certain,
		Meaning: "Other piles were surveyed in the month and this one was not, or a survey names a pile that the register lacks.",
		Benign:  "A pile on another survey plan; two piles that were measured as one; another name for it.",
		Settle:  "The survey, taken in late; a row of piles; words."}
}

func (unsurveyed) Look(d *screen.Data, found func(screen.Finding)) {
	flown := false
	for _, s := range d.Surveys {
		if !d.In(s.At()) {
			continue
		}
		flown = true
		if !d.Register.Known(ledger.PileID{Yard: d.Yard, Code: s.Fact.Pile}) {
			found(screen.Finding{Subject: s.Rec.ID(), Time: s.At(), Pile: s.Fact.Pile, Records: []string{s.Rec.ID()},
				Seen: fmt.Sprintf("survey %s names pile %s, which is not in the register", s.Fact.Survey, s.Fact.Pile)})
		}
	}
	if !flown {
		return
	}
	for _, id := range d.Month.Piles {
		held := d.Month.Closing.Balances[id.Account()].Solids
		if d.Month.Final(id) == nil && (held != 0 || moved(d.Month.Flows[id])) {
			found(screen.Finding{Subject: id.Code, Time: d.End.Add(-1), Pile: id.Code, Mass: d.AsWeighed(id.Code, d.End.Add(-1), held.Abs()),
				Seen: fmt.Sprintf("pile %s holds %v of solids by the book and no survey of the month names it, though others were surveyed", id.Code, held)})
		}
	}
}
