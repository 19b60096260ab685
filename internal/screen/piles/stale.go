package piles

import (
	"fmt"
	"strings"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

// How old what a survey or a month rests on may be.
var (
	densityDays = screen.Setting{Name: "rule stale density days", Holds: screen.Days, Default: "180",
		Meaning: "How old the bulk density may be that turns a survey into mass."}
	moistureDays = screen.Setting{Name: "rule stale moisture days", Holds: screen.Days, Default: "45",
		Meaning: "How old the moisture of a pile that moves may be at the month's end."}
	baseDays = screen.Setting{Name: "rule stale base days", Holds: screen.Days, Default: "365",
		Meaning: "How long surveys may be taken from one base surface: the ground under a pile settles and is dug."}
)

// staleDensity, staleMoisture and staleBase find what is too old at a survey or a month's end, and say what it may
// mean in tonnes. The limits are common practice, no source. It is certain that they are that old.
type (
	staleDensity  struct{}
	staleMoisture struct{}
	staleBase     struct{}
)

func (staleDensity) Info() screen.Info {
	return screen.Info{Name: "stale density", Strength: screen.Certain,
		Meaning:  "A survey was turned into mass by a bulk density that is older than the yard allows.",
		Benign:   "A pile that has not been built on since the test.",
		Settle:   "A new density test of the pile; words.",
		Settings: []screen.Setting{densityDays}}
}

func (staleMoisture) Info() screen.Info {
	return screen.Info{Name: "stale moisture", Strength: screen.Certain,
		Meaning:  "A pile that moved in the month has no moisture test, or one that is older than the yard allows.",
		Benign:   "A dry stone that hardly takes up water; a test that is still to come.",
		Settle:   "A new moisture test; the open month corrects itself.",
		Settings: []screen.Setting{moistureDays}}
}

func (staleBase) Info() screen.Info {
	return screen.Info{Name: "stale base", Strength: screen.Certain,
		Meaning:  "Surveys of a pile have been taken from the same base surface for longer than the yard allows.",
		Benign:   "A paved base; a base that was checked and kept its name.",
		Settle:   "A new base when the pile is empty; words, with how the base was checked.",
		Settings: []screen.Setting{baseDays}}
}

func (staleDensity) Look(d *screen.Data, found func(screen.Finding)) {
	allowed := d.Duration(densityDays)
	for _, id := range d.Month.Piles {
		c := d.Month.Final(id)
		if c == nil || !c.HasDensity || c.DensityLater {
			continue
		}
		if age := c.Survey.End.Sub(c.Density.Taken); age > allowed {
			found(screen.Finding{Subject: id.Code, Time: c.Survey.End, Pile: id.Code, Product: c.Product,
				Records: []string{c.Record.ID(), "density:" + d.Yard + ":" + c.Density.Key()},
				Seen: fmt.Sprintf("survey %s of pile %s rests on a density that is %d days old; 1 %% of density is %v of solids there",
					c.Survey.Survey, id.Code, days(age), percent(c.Found.Solids))})
		}
	}
}

// percent returns a hundredth of a mass.
func percent(m ledger.Mass) ledger.Mass { return m / 100 / ledger.Kilogram * ledger.Kilogram }

func (staleMoisture) Look(d *screen.Data, found func(screen.Finding)) {
	allowed := d.Duration(moistureDays)
	end := d.End.Add(-1)
	for _, id := range d.Month.Piles {
		if !moved(d.Month.Flows[id]) {
			continue
		}
		held := d.Month.Closing.Balances[id.Account()].Solids
		f := screen.Finding{Subject: id.Code, Time: end, Pile: id.Code, Product: d.Register.Pile(id, end).Product}
		test, ok := d.Register.MoistureTest(id, end)
		switch age := end.Sub(test.Taken); {
		case !ok:
			f.Seen = fmt.Sprintf("pile %s moved in the month and nobody has tested its moisture; the product's reference is assumed, and 1 point is %v of solids there",
				id.Code, percent(held))
		case age > allowed:
			f.Records = []string{"moisture:" + d.Yard + ":" + test.Key()}
			f.Seen = fmt.Sprintf("the moisture of pile %s is %d days old; 1 point of moisture is %v of solids there", id.Code, days(age), percent(held))
		default:
			continue
		}
		found(f)
	}
}

// moved reports whether stone came to a pile or left it.
func moved(f *ledger.Flows) bool {
	for c, a := range f {
		if a.Solids != 0 && ledger.Column(c) != ledger.ColumnShrinkage && ledger.Column(c) != ledger.ColumnOpening {
			return true
		}
	}
	return false
}

func (staleBase) Look(d *screen.Data, found func(screen.Finding)) {
	allowed := d.Duration(baseDays)
	for _, id := range d.Month.Piles {
		c := d.Month.Final(id)
		if c == nil || c.Survey.Base == "" {
			continue
		}
		since, what := baseSince(d, id, c.Survey)
		if age := c.Survey.End.Sub(since); age > allowed {
			found(screen.Finding{Subject: id.Code, Time: c.Survey.End, Pile: id.Code, Product: c.Product, Records: []string{c.Record.ID()},
				Seen: fmt.Sprintf("survey %s of pile %s was taken from base %q, which %s, %d days before", c.Survey.Survey, id.Code, c.Survey.Base, what, days(age))})
		}
	}
}

// baseSince returns from when on a base has been in use: the date in its name, or the first survey from it.
func baseSince(d *screen.Data, id ledger.PileID, s ledger.Survey) (since time.Time, what string) {
	for _, word := range strings.Fields(s.Base) {
		if t, err := time.ParseInLocation(time.DateOnly, word, d.Zone); err == nil {
			return t, "by its name is of " + word
		}
	}
	since = s.End
	for _, rec := range d.Register.Surveys(id, time.Time{}, s.End) {
		if f := rec.Fact.(ledger.Survey); f.Base == s.Base && f.End.Before(since) {
			since = f.End
		}
	}
	return since, "was first used on " + since.In(d.Zone).Format(time.DateOnly)
}
