package workbook

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"time"

	"github.com/shopspring/decimal"
)

// kind says what a cell holds. It settles how the cell is shown and which column takes it.
type kind uint8

const (
	kindText    kind = iota + 1
	kindTonnes       // mass in tonnes, three places
	kindNumber       // other decimal, with the column's places
	kindPercent      // stored as a fraction, shown in per cent
	kindDate         // civil day
	kindInstant      // local time of the book's zone
	kindInteger      // count; a number that only names something is text
	kindBool         // TRUE or FALSE
	kindCheck        // the word wordOK or wordBroken
	kindAny          // of a column only: every cell goes by its own kind
)

func (k kind) String() string {
	names := [...]string{kindText: "text", kindTonnes: "tonnes", kindNumber: "number", kindPercent: "percent",
		kindDate: "date", kindInstant: "instant", kindInteger: "integer", kindBool: "bool", kindCheck: "check", kindAny: "any"}
	if k == 0 || int(k) >= len(names) {
		return "blank"
	}
	return names[k]
}

// The two words of a check cell. Colour only repeats what they say.
const (
	wordOK     = "OK"
	wordBroken = "BROKEN"
)

// maxInteger is the largest count that a spreadsheet shows without losing a digit: it keeps fifteen.
const maxInteger = 999_999_999_999_999

// value is the content of one cell. The zero value is a blank cell.
type value struct {
	kind    kind
	places  int     // decimals of a kindNumber in a kindAny column
	n       int64   // grams, count, serial day, milliseconds since 1970 in UTC, or 0 and 1
	f       float64 // number, fraction of a kindPercent, or fraction of a gram beside n
	text    string
	formula string // as typed, without "="; may name columns in braces, see formula
}

// text is a cell that shows s as it is, whatever s begins with.
func text(s string) value { return value{kind: kindText, text: s} }

// tonnes is a mass given in grams.
func tonnes(grams int64) value { return value{kind: kindTonnes, n: grams} }

// tonnesOf is a mass given in grams that need not be whole, as a formula works it out.
func tonnesOf(grams decimal.Decimal) value {
	whole := grams.Floor()
	return value{kind: kindTonnes, n: whole.IntPart(), f: grams.Sub(whole).InexactFloat64()}
}

// number is an exact decimal. In a kindAny column it shows the places it was written with.
func number(d decimal.Decimal) value {
	return value{kind: kindNumber, f: d.InexactFloat64(), places: min(max(0, int(-d.Exponent())), maxPlaces)}
}

// float is a number from statistics, which has no places of its own: a kindAny column shows four.
func float(f float64) value { return value{kind: kindNumber, f: f, places: 4} }

// percent takes per cent: 4.25 is shown as 4.25% and stored as 0.0425.
func percent(d decimal.Decimal) value {
	return value{kind: kindPercent, f: hundredth(d)}
}

// hundredth returns the float64 that is nearest to a hundredth of d. Where one division of two numbers that are exact gives
// that, it saves a division of large ones.
func hundredth(d decimal.Decimal) float64 {
	if places := 2 - int(d.Exponent()); places >= 0 && places < len(powerOfTen) && d.NumDigits() <= 15 {
		return float64(d.CoefficientInt64()) / float64(powerOfTen[places])
	}
	return d.Shift(-2).InexactFloat64()
}

// ratio takes a fraction: 0.0425 is shown as 4.25%.
func ratio(f float64) value { return value{kind: kindPercent, f: f} }

// date is the civil day of t in t's own zone.
func date(t time.Time) value {
	y, m, d := t.Date()
	days := time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / secondsPerDay
	return value{kind: kindDate, n: days + serialOf1970}
}

// instant is shown in the book's zone, to the second; milliseconds are kept.
func instant(t time.Time) value { return value{kind: kindInstant, n: t.UnixMilli()} }

// integer is a count of at most fifteen digits.
func integer(n int64) value { return value{kind: kindInteger, n: n} }

// boolean is a real TRUE or FALSE, which filters and formulas take as such.
func boolean(b bool) value { return value{kind: kindBool, n: bit(b)} }

// check is the result of a test.
func check(ok bool) value {
	if ok {
		return value{kind: kindCheck, text: wordOK}
	}
	return value{kind: kindCheck, text: wordBroken}
}

// computed is a formula together with its result as the program knows it. Viewers that do not compute
// show the result; those that do must come to the same.
func computed(formula string, result value) value {
	result.formula = formula
	return result
}

// link is a text that leads to a cell of this workbook. A formula takes a label of up to 255 characters.
func link(label string, to cellRef) value {
	label = clip(cleanLine(label), 100)
	return computed("HYPERLINK("+quoted("#"+to.String())+","+quoted(label)+")", text(label))
}

func bit(b bool) int64 {
	if b {
		return 1
	}
	return 0
}

// Serial dates count days from 1899-12-30, so that 1970-01-01 is day 25569. Before 1900-03-01 the
// numbering of spreadsheets is a day off, by a leap day that never was (ECMA-376 Part 1, 18.17.4.1).
const (
	secondsPerDay = 24 * 60 * 60
	serialOf1970  = 25569
	firstSerial   = 61      // 1900-03-01
	lastSerial    = 2958465 // 9999-12-31
)

var (
	errNotFinite = errors.New("not a finite number")
	errSerial    = errors.New("want a day from 1900-03-01 to 9999-12-31")
	errInteger   = errors.New("a count has at most fifteen digits; write what only names something as text")
)

// content returns what the stream writer is to be given: a string, float64, int64 or bool, or nil for a
// blank cell.
func (v value) content(zone *time.Location) (any, error) {
	switch v.kind {
	case kindText, kindCheck:
		return cleanText(v.text)
	case kindTonnes:
		if v.f != 0 {
			return fifteenDigits((float64(v.n) + v.f) / 1e6), nil
		}
		return gramsToTonnes(v.n), nil
	case kindNumber, kindPercent:
		if math.IsNaN(v.f) || math.IsInf(v.f, 0) {
			return nil, fmt.Errorf("%v: %w", v.f, errNotFinite)
		}
		return fifteenDigits(v.f), nil
	case kindDate:
		if v.n < firstSerial || v.n > lastSerial {
			return nil, fmt.Errorf("day number %d: %w", v.n, errSerial)
		}
		return v.n, nil
	case kindInstant:
		return instantSerial(time.UnixMilli(v.n), zone)
	case kindInteger:
		if v.n > maxInteger || v.n < -maxInteger {
			return nil, fmt.Errorf("%d: %w", v.n, errInteger)
		}
		return v.n, nil
	case kindBool:
		return v.n != 0, nil
	}
	return nil, nil
}

// gramsToTonnes returns grams/1e6 as a workbook keeps it: exact to the gram below 10^9 t, where fifteen
// digits hold every gram and the one division of two exact numbers gives the nearest float64; beyond,
// to fifteen digits.
func gramsToTonnes(grams int64) float64 {
	const exact = 1e15
	if grams > -exact && grams < exact {
		return float64(grams) / 1e6
	}
	return fifteenDigits(float64(grams) / 1e6)
}

// fifteenDigits returns f to the fifteen digits that a workbook keeps. The library cuts the rest off
// instead of rounding.
func fifteenDigits(f float64) float64 {
	f, _ = strconv.ParseFloat(strconv.FormatFloat(f, 'e', 14, 64), 64) // always well formed
	return f
}
