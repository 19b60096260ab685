package value

import (
	"errors"
	"math/big"

	"github.com/shopspring/decimal"

	"repose/ledger"
)

// unitMasses is so many units of mass that they are a whole number of grams in every unit: a pound is 453.59237 g.
const unitMasses = "100000"

// Price is an amount of a currency for one unit of mass. It is exact, and may have more decimals than the currency.
type Price struct {
	Amount decimal.Decimal
	Per    ledger.MassUnit
}

// Of returns what a quantity is worth at the price, rounded once, half-even to the currency's minor unit.
func (p Price) Of(q ledger.Mass, c Currency) (Money, error) {
	grams, err := gramsOf(p.Per)
	if err != nil {
		return 0, err
	}
	units := decimal.RequireFromString(unitMasses)
	num := p.Amount.Mul(units).Mul(decimal.NewFromInt(int64(q))).Shift(c.decimals)
	scale := min(num.Exponent(), 0)
	n, den := num.Shift(-scale).BigInt(), new(big.Int).Mul(big.NewInt(int64(grams)), tenTo(-scale))
	return moneyOf(decimal.NewFromBigInt(quotientHalfEven(n, den), 0))
}

// Per returns the cost of one unit of mass, rounded half-even to the given number of decimal places; ok is false where
// there is no quantity. It is for showing alone: nothing is ever reckoned on with it.
func (l Lot) Per(u ledger.MassUnit, c Currency, places int32) (cost decimal.Decimal, ok bool) {
	grams, err := gramsOf(u)
	if err != nil || l.Quantity <= 0 {
		return decimal.Zero, false
	}
	num := new(big.Int).Mul(big.NewInt(int64(l.Cost)), big.NewInt(int64(grams)))
	den := new(big.Int).Mul(big.NewInt(int64(l.Quantity)), decimal.RequireFromString(unitMasses).BigInt())
	num.Mul(num, tenTo(places))
	den.Mul(den, tenTo(c.decimals))
	return decimal.NewFromBigInt(quotientHalfEven(num, den), -places), true
}

// gramsOf returns the mass of unitMasses units.
func gramsOf(u ledger.MassUnit) (ledger.Mass, error) {
	m, err := ledger.ParseMass(unitMasses, u)
	if err == nil && m == 0 {
		err = errors.New("price without a unit of mass: want one, such as t")
	}
	return m, err
}

func tenTo(n int32) *big.Int { return new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(n)), nil) }

// quotientHalfEven returns num/den rounded half-even to a whole number. den must be positive.
func quotientHalfEven(num, den *big.Int) *big.Int {
	q, r := new(big.Int).DivMod(num, den, new(big.Int)) // floor: 0 <= r < den
	switch r.Lsh(r, 1).Cmp(den) {
	case 1:
		return q.Add(q, big.NewInt(1))
	case 0:
		return q.Add(q, new(big.Int).And(q, big.NewInt(1)))
	}
	return q
}
