package value

import (
	"fmt"
	"strings"

	"github.com/shopspring/decimal"

	"repose/ledger"
)

// usualDecimals is how many decimals the minor unit of a currency stands for, unless unusualDecimals says otherwise.
const usualDecimals = 2

// unusualDecimals are the currencies of ISO 4217 whose minor unit is no hundredth (from memory). A code that is not
// here has two decimals; whether it is on the standard's list is not checked, because that list changes.
var unusualDecimals = map[string]int32{
	"BIF": 0, "CLP": 0, "DJF": 0, "GNF": 0, "ISK": 0, "JPY": 0, "KMF": 0, "KRW": 0, "PYG": 0, "RWF": 0, "UGX": 0,
	"UYI": 0, "VND": 0, "VUV": 0, "XAF": 0, "XOF": 0, "XPF": 0,
	"BHD": 3, "IQD": 3, "JOD": 3, "KWD": 3, "LYD": 3, "OMR": 3, "TND": 3,
	"CLF": 4, "UYW": 4,
}

// Currency is a currency with its minor unit. It is comparable; the zero Currency is none, and counts whole units.
type Currency struct {
	code     string
	decimals int32
}

// ParseCurrency reads the three capital letters of ISO 4217.
func ParseCurrency(code string) (Currency, error) {
	if len(code) != 3 || strings.Trim(code, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != "" {
		return Currency{}, fmt.Errorf("currency %q: want three capital letters, such as EUR", code)
	}
	if n, ok := unusualDecimals[code]; ok {
		return Currency{code, n}, nil
	}
	return Currency{code, usualDecimals}, nil
}

// String returns the code.
func (c Currency) String() string { return c.code }

// Decimals returns how many places after the point the minor unit is.
func (c Currency) Decimals() int32 { return c.decimals }

// Parse reads a plain decimal number of the currency. A digit below the minor unit is refused, never dropped.
func (c Currency) Parse(s string) (Money, error) {
	d, err := ledger.ParseDecimal(s)
	if err != nil {
		return 0, err
	}
	minor := d.Shift(c.decimals)
	if !minor.IsInteger() {
		return 0, fmt.Errorf("%q %s: finer than the %d decimals of the currency", s, c.code, c.decimals)
	}
	return moneyOf(minor)
}

// Decimal returns the amount in the currency's unit, exactly.
func (c Currency) Decimal(m Money) decimal.Decimal { return decimal.New(int64(m), -c.decimals) }

// Format returns the amount with all decimals of the currency and without its code: 1234 cents are 12.34.
func (c Currency) Format(m Money) string { return c.Decimal(m).StringFixed(c.decimals) }

// moneyOf returns a whole number of minor units as Money.
func moneyOf(minor decimal.Decimal) (Money, error) {
	n := minor.BigInt()
	if !n.IsInt64() {
		return 0, ErrMoneyRange
	}
	return Money(n.Int64()).checked()
}
