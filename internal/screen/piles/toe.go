package piles

import (
	"fmt"
	"math"

	"repose/internal/screen"
	"repose/ledger"
)

var toePercent = screen.Setting{Name: "rule toe jump percent", Holds: screen.Percent, Default: "15",
	Meaning: "By how much a toe area may leave what the volume makes of it, from one survey to the next."}

// toe finds surveys whose toe area has changed in a way that their volume has not. Piles of one shape have areas that go
// with the volume to the power of two thirds, so area / volume^(2/3) should stay where it was; a jump says that the line
// was drawn elsewhere: with a ramp, a berm or a neighbour in it, or without the skirt. In invented yards with a scatter
// of 2 % the ratio of two surveys passes 15 % by chance in less than 1 of 10,000.
type toe struct{}

func (toe) Info() screen.Info {
	return screen.Info{Name: "toe jump", Strength: screen.Likely, FalseAlarms: 0.05,
		Meaning:  "The area inside the toe line changed from the survey before in a way that the volume did not.",
		Benign:   "A pile that was spread, cut back or built higher.",
		Settle:   "Words from who drew the line; a survey with the right line.",
		Settings: []screen.Setting{toePercent}}
}

func (toe) Look(d *screen.Data, found func(screen.Finding)) {
	limit := d.Number(toePercent) / percentOfOne
	for _, id := range d.Month.Piles {
		c := d.Month.Final(id)
		if c == nil {
			continue
		}
		before, ok := surveyBefore(d, id, c.Survey)
		now, okNow := shape(c.Survey)
		then, okThen := shape(before)
		if !ok || !okNow || !okThen || math.Abs(now/then-1) <= limit {
			continue
		}
		area := c.Survey.ToeAreaM2.Decimal.InexactFloat64()
		f := screen.Finding{Subject: c.Record.ID(), Time: c.Survey.End, Pile: id.Code, Product: c.Product, Records: []string{c.Record.ID()},
			Seen: fmt.Sprintf("the toe area of pile %s is %.0f m2 in survey %s and %.0f m2 in survey %s; for their volumes that is %+.0f %%. "+
				"Were the pile round, 0.1 m of toe line is %.0f m2 of it", id.Code, before.ToeAreaM2.Decimal.InexactFloat64(), before.Survey, area,
				c.Survey.Survey, percentOfOne*(now/then-1), math.Sqrt(4*math.Pi*area)*tenthOfMetre)}
		if v := c.Survey.NetM3().InexactFloat64(); v > 0 && c.HasDensity {
			layer := ledger.Mass(math.RoundToEven(float64(c.Found.Solids)*area*tenthOfMetre/v/float64(ledger.Tonne))) * ledger.Tonne
			f.Seen += fmt.Sprintf("; were it 0.1 m too low, %v of solids", layer)
		}
		found(f)
	}
}

const (
	percentOfOne = 100
	tenthOfMetre = 0.1
)

// surveyBefore returns the pile's survey before another.
func surveyBefore(d *screen.Data, id ledger.PileID, s ledger.Survey) (ledger.Survey, bool) {
	list := d.Register.Surveys(id, d.Lead.AddDate(-1, 0, 0), s.End)
	if len(list) == 0 {
		return ledger.Survey{}, false
	}
	return list[len(list)-1].Fact.(ledger.Survey), true
}

// shape returns area / volume^(2/3); ok is false where either is not stated.
func shape(s ledger.Survey) (ratio float64, ok bool) {
	v := s.VolumeM3.InexactFloat64()
	if !s.ToeAreaM2.Valid || v <= 0 {
		return 0, false
	}
	return s.ToeAreaM2.Decimal.InexactFloat64() / math.Cbrt(v*v), true
}
