package ledger

import (
	"fmt"
	"maps"
	"time"

	"github.com/shopspring/decimal"
)

// dryDensityPlaces is the precision of a dry bulk density that is shown; the mass of a survey is not
// computed from the rounded figure.
const dryDensityPlaces = 6

// Dry returns the dry bulk density in t/m3, moist / (1 + moisture) x compaction, rounded half-even to six
// places for display.
func (d DensityTest) Dry() decimal.Decimal {
	return quotient(d.MoistTPerM3.Mul(d.Compaction).Mul(hundred), hundred.Add(d.Moisture.pct), dryDensityPlaces)
}

// NetM3 returns the volume less the deduction, in cubic metres.
func (s Survey) NetM3() decimal.Decimal { return s.VolumeM3.Sub(s.DeductionM3) }

// Solids returns the oven-dry mass of a surveyed volume,
//
//	(volume - deduction) x moist density / (1 + test moisture) x compaction factor,
//
// rounded once, half-even to the gram.
func (s Survey) Solids(d DensityTest) (Mass, error) {
	grams := s.NetM3().Mul(d.MoistTPerM3).Mul(d.Compaction).Shift(6).Mul(hundred)
	m, err := divideToMass(grams, hundred.Add(d.Moisture.pct))
	if err != nil {
		return 0, fmt.Errorf("survey %s of pile %s: %w", s.Survey, s.Pile, err)
	}
	return m, nil
}

// Outcome is what a close does about a difference between book and survey.
type Outcome uint8

// The outcomes, a fixed list.
const (
	OutcomeNoSurvey   Outcome = iota + 1 // there is no survey to set against the book
	OutcomeNoDensity                     // a volume, but no density to turn it into mass
	OutcomeKeepBook                      // the book stands; the difference is on record
	OutcomeTakeSurvey                    // the book takes the survey's figure
	OutcomeSuperseded                    // a later survey of the same month decides
)

var outcomeNames = [...]string{OutcomeNoSurvey: "no survey", OutcomeNoDensity: "no density",
	OutcomeKeepBook: "keep book", OutcomeTakeSurvey: "take survey", OutcomeSuperseded: "later survey decides"}

// String returns the outcome in words.
func (o Outcome) String() string { return nameOf(outcomeNames[:], int(o)) }

// Item is a movement named beside a survey: one inside its window, or one that straddles its end.
type Item struct {
	Record *Record
	Net    Amount      // into the pile if positive
	Deck   *DeckTicket // for a truck loaded before the survey's end and weighed out after it
}

// Comparison is one survey of one pile set against the book at the survey's end instant.
type Comparison struct {
	Pile    PileID
	Product string
	Survey  Survey
	Record  *Record // the survey's

	Density      DensityTest // where HasDensity
	HasDensity   bool
	DensityLater bool // the test was taken after the survey
	Moisture     DryBasis
	MoistureFrom Flags

	Book       Amount // before any adjustment
	Found      Amount // what the survey says lies there
	Base       Base   // the survey or opening before, with what came and went since
	HasBase    bool
	Limit      Mass
	HasLimit   bool
	Outcome    Outcome
	Decided    bool // by a person, whatever the policy says
	AfterIn    Mass // solids that came and went between the survey and the period's end
	AfterOut   Mass
	InWindow   []Item // movements of the pile while it was being surveyed
	Straddling []Item // loaded before the survey's end, weighed out after it
}

// Difference is book less survey in solids; positive means that stone is missing.
func (c *Comparison) Difference() Mass { return c.Book.Solids - c.Found.Solids }

// Residual is the survey or opening before, plus what came, less what went, less this survey. It is the
// difference without what earlier differences left in the book. ok is false without a base.
func (c *Comparison) Residual() (m Mass, ok bool) {
	return c.Base.Solids + c.Base.In - c.Base.Out - c.Found.Solids, c.HasBase
}

// Breach reports whether the difference passes the yard's own limit, in either direction.
func (c *Comparison) Breach() bool { return c.HasLimit && c.Difference().Abs() > c.Limit }

// Rolled is the survey carried forward to the period's end: what was found, plus what came in since,
// less what went out.
func (c *Comparison) Rolled() Mass { return c.Found.Solids + c.AfterIn - c.AfterOut }

// compare sets a survey against the book as it stands.
func compare(reg *Register, rec *Record, state *State) (*Comparison, error) {
	s := rec.Fact.(Survey)
	id := PileID{rec.Yard, s.Pile}
	c := &Comparison{Pile: id, Product: reg.Pile(id, s.End).Product, Survey: s, Record: rec,
		Book: state.Balances[id.Account()], Outcome: OutcomeNoDensity}
	c.Base, c.HasBase = state.Bases[id]
	c.Base.Streams = maps.Clone(c.Base.Streams)
	c.Moisture, c.MoistureFrom = reg.Moisture(id, s.End)
	c.Density, c.DensityLater, c.HasDensity = reg.Density(id, s.End)
	if !c.HasDensity {
		return c, nil
	}
	var err error
	if c.Found.Solids, err = s.Solids(c.Density); err != nil {
		return nil, err
	}
	if c.Found.Water, err = c.Moisture.Water(c.Found.Solids); err != nil {
		return nil, err
	}
	policies := reg.Policies(rec.Yard, s.End)
	c.Limit, c.HasLimit = policies.Limit.For(c.Book.Solids, c.Base.Throughput())
	c.Outcome = OutcomeKeepBook
	if policies.Adjust == AdjustAlways || policies.Adjust == AdjustOutside && c.Breach() {
		c.Outcome = OutcomeTakeSurvey
	}
	if a, ok := reg.adjustments[rec.ID()]; ok {
		c.Outcome, c.Decided = OutcomeKeepBook, true
		if a.Take {
			c.Outcome = OutcomeTakeSurvey
		}
	}
	return c, nil
}

// adjustment returns the entry by which the book takes the survey's figure: the difference in solids,
// with the water that goes with it at the pile's moisture, into shrinkage.
func (c *Comparison) adjustment() (Entry, error) {
	e := Entry{Record: c.Record, Moisture: c.Moisture, Flags: c.MoistureFrom}
	d := c.Difference()
	water, err := c.Moisture.Water(d)
	if err != nil {
		return Entry{}, err
	}
	shrinkage := Account{KindShrinkage, c.Pile.Yard, ShrinkageUnexplained}
	return e, e.leg(c.Pile.Account(), shrinkage, Amount{d, water})
}

// straddles reports whether a truck loaded at one instant and weighed at another was between the two
// when the survey ended.
func (c *Comparison) straddles(loaded, weighed time.Time) bool {
	return !loaded.After(c.Survey.End) && weighed.After(c.Survey.End)
}
