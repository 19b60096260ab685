package report

import (
	"math"

	"github.com/shopspring/decimal"

	"repose/ledger"
)

// Schema is the version of the JSON documents. Fields are only ever added to them.
const Schema = 1

// Tonnes is a mass that JSON shows as an exact decimal string in tonnes.
type Tonnes ledger.Mass

// Mass returns the mass.
func (t Tonnes) Mass() ledger.Mass { return ledger.Mass(t) }

// MarshalText returns the tonnes with at least three decimal places and at most six.
func (t Tonnes) MarshalText() ([]byte, error) { return []byte(ledger.Mass(t).Tonnes()), nil }

// Percent is an exact or rounded percentage that JSON shows as a number.
type Percent decimal.Decimal

// MarshalJSON returns the number.
func (p Percent) MarshalJSON() ([]byte, error) { return []byte(decimal.Decimal(p).String()), nil }

// percentPlaces is the precision of a percentage that is computed here.
const percentPlaces = 4

// percentOf returns part as a percentage of whole, rounded half-even to four places; nil where whole is
// zero.
func percentOf(part, whole ledger.Mass) *Percent {
	if whole == 0 {
		return nil
	}
	p := Percent(decimal.NewFromInt(int64(part)).Mul(decimal.NewFromInt(100)).
		DivRound(decimal.NewFromInt(int64(whole)), 2*percentPlaces).RoundBank(percentPlaces))
	return &p
}

// Ratio is a figure of the statistics that JSON shows as a number with at most four places.
type Ratio float64

// MarshalJSON returns the number.
func (r Ratio) MarshalJSON() ([]byte, error) {
	return []byte(decimal.NewFromFloat(float64(r)).RoundBank(percentPlaces).String()), nil
}

// fromFloat returns a mass of the statistics, in t, rounded to the kilogram: more would be show.
func fromFloat(t float64) *Tonnes {
	return new(Tonnes(ledger.Mass(math.RoundToEven(t*1000)) * ledger.Kilogram))
}

func tonnes(m ledger.Mass) *Tonnes { return new(Tonnes(m)) }
