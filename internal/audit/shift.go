package audit

import (
	"slices"

	"github.com/shopspring/decimal"

	"repose/ledger"
)

var hundred = decimal.New(100, 0)

// shifted returns the closing with a quantity multiplied by a factor, or for points of moisture, with points added.
func (c Closing) shifted(q Quantity, factor, points decimal.Decimal) (Closing, error) {
	c.Weighings = slices.Clone(c.Weighings)
	if c.Survey != nil {
		c.Survey = new(*c.Survey)
	}
	switch q {
	case QuantityVolume:
		c.Survey.Survey.VolumeM3 = c.Survey.Survey.VolumeM3.Mul(factor)
	case QuantityDensity:
		c.Survey.Density.MoistTPerM3 = c.Survey.Density.MoistTPerM3.Mul(factor)
	case QuantityBelt:
		for i, w := range c.Weighings {
			if w.Belt == "" {
				continue
			}
			grams := decimal.New(int64(w.Wet), 0).Mul(factor).RoundBank(0)
			var err error
			if c.Weighings[i].Wet, err = ledger.Mass(grams.IntPart()).Add(0); err != nil {
				return c, err
			}
		}
	case QuantityMoisture:
		return c, c.eachMoisture(func(m decimal.Decimal) decimal.Decimal { return m.Mul(factor) })
	case QuantityMoisturePoint:
		return c, c.eachMoisture(func(m decimal.Decimal) decimal.Decimal { return m.Add(points) })
	}
	return c, nil
}

// eachMoisture changes every moisture of a closing that nothing else shares.
func (c Closing) eachMoisture(change func(decimal.Decimal) decimal.Decimal) (err error) {
	for i, w := range c.Weighings {
		if c.Weighings[i].Moisture, err = ledger.NewDryBasis(change(w.Moisture.Percent())); err != nil {
			return err
		}
	}
	if c.Survey == nil || c.Survey.Density.Moisture.Percent().IsZero() {
		return nil
	}
	c.Survey.Density.Moisture, err = ledger.NewDryBasis(change(c.Survey.Density.Moisture.Percent()))
	return err
}

// term is one addend of a closing figure: solids = wet 100 / (100 + moisture), in grams and unrounded.
type term struct {
	wet, moisture decimal.Decimal
	moves         bool // with the moisture; a dry density does not
	belt          bool
}

func (c Closing) terms() []term {
	var terms []term
	if m := c.Survey; m != nil {
		wet := m.Survey.NetM3().Mul(m.Density.MoistTPerM3).Mul(m.Density.Compaction).Shift(6)
		moisture := m.Density.Moisture.Percent()
		terms = append(terms, term{wet: wet, moisture: moisture, moves: !moisture.IsZero()})
	}
	for _, w := range c.Weighings {
		terms = append(terms, term{decimal.New(int64(w.Wet), 0), w.Moisture.Percent(), true, w.Belt != ""})
	}
	return terms
}

// slope returns the derivative of the figure by a quantity, times its step. With m for a moisture in per cent,
//
//	volume    gross volume x density x compaction / (100 + m)
//	density   wet / (100 + m)
//	belt      the sum over the belts' weighings of wet / (100 + m)
//	moisture  the sum of -wet 100 step / (100 + m)^2, the step m/100 or one point
//
// and of the adjusted mass (100 + reference) / 100 times that. Quotients have 6 places of a gram.
func (c Closing) slope(q Quantity) Change {
	const places = 6
	sum := decimal.Zero
	for i, t := range c.terms() {
		divisor := hundred.Add(t.moisture)
		isSurvey := i == 0 && c.Survey != nil
		switch {
		case q == QuantityVolume && isSurvey:
			gross := c.Survey.Survey.VolumeM3.Mul(c.Survey.Density.MoistTPerM3).Mul(c.Survey.Density.Compaction).Shift(6)
			sum = sum.Add(gross.DivRound(divisor, places))
		case q == QuantityDensity && isSurvey, q == QuantityBelt && t.belt:
			sum = sum.Add(t.wet.DivRound(divisor, places))
		case q == QuantityMoisture && t.moves:
			sum = sum.Sub(t.wet.Mul(t.moisture).DivRound(divisor.Mul(divisor), places))
		case q == QuantityMoisturePoint && t.moves:
			sum = sum.Sub(t.wet.Mul(hundred).DivRound(divisor.Mul(divisor), places))
		}
	}
	adjusted := sum.Mul(hundred.Add(c.Reference.Percent())).Shift(-2)
	return Change{ledger.Mass(sum.RoundBank(0).IntPart()), ledger.Mass(adjusted.RoundBank(0).IntPart())}
}
