package simyard

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

const maxMonth = 999

// Fault is something that goes wrong in the yard beyond its stated errors.
type Fault struct {
	Kind       FaultKind
	Pile       string // of a loss, a density or a survey; the pile that the stone truly left
	Other      string // the pile that the records have it from, or the one it was carried to
	Instrument string // a loader, belt or deck
	Month      int    // first month, counted from 1; a survey is the one that ends its month
	Months     int    // how many months it lasts; 0 for all from the first on
	Size       float64
}

// String returns the fault as [ParseFault] reads it.
func (f Fault) String() string {
	where := f.Instrument
	switch {
	case !f.Kind.known():
		return f.Kind.String()
	case f.Kind.is(atPile):
		where = f.Pile
	case f.Kind.is(betweenPiles):
		where = f.Pile + ">" + f.Other
	}
	months := strconv.Itoa(f.Month)
	switch {
	case f.Months == 0:
		months += "-"
	case f.Months > 1:
		months += "-" + strconv.Itoa(f.Month+f.Months-1)
	}
	return strings.Join([]string{f.Kind.String(), where, months, f.size()}, ":")
}

func (f Fault) size() string {
	switch faultKinds[f.Kind].measure {
	case inTonnes:
		return plain(f.Size) + "t"
	case inDays:
		return plain(f.Size) + "d"
	case inPercent:
		sign := ""
		if f.Size > 0 {
			sign = "+"
		}
		return sign + f.excess().inPercent() + "%"
	}
	return plain(f.Size)
}

func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// lasts reports whether a fault is there in a month.
func (f Fault) lasts(month int) bool {
	return month >= f.Month && (f.Months == 0 || month < f.Month+f.Months)
}

// excess returns the size of a fault that makes something read high.
func (f Fault) excess() PPB { return PPB(billion).times(f.Size) }

// count returns the size of a fault that is stated in pieces, without its sign.
func (f Fault) count() int { return int(math.Abs(f.Size)) }

// sign returns 1 or -1, as the size of a fault is.
func (f Fault) sign() int {
	if f.Size < 0 {
		return -1
	}
	return 1
}

// mass returns the size of a fault that is stated in t.
func (f Fault) mass() Grams { return Grams(math.Round(f.Size * float64(tonne))) }

// check holds a fault to what its kind asks for.
func (f Fault) check() error {
	if !f.Kind.known() {
		return fmt.Errorf("kind %d: want one of %s", f.Kind, listOf(FaultKinds(), FaultKind.String))
	}
	if err := f.checkPlace(); err != nil {
		return err
	}
	if f.Month < 1 || f.Month > maxMonth || f.Months < 0 || f.Months > maxMonth {
		return fmt.Errorf("month %d, lasting %d: want 1 to %d, lasting as many at most, or 0 for all from it on", f.Month, f.Months, maxMonth)
	}
	k := faultKinds[f.Kind]
	switch {
	case !(f.Size >= k.min && f.Size <= k.max):
		low, high := Fault{Kind: f.Kind, Size: k.min}, Fault{Kind: f.Kind, Size: k.max}
		return fmt.Errorf("size %s: want %s to %s", f.size(), low.size(), high.size())
	case k.measure == inPercent && f.excess() == 0:
		return fmt.Errorf("size %s: want one that is not zero", f.size())
	case (k.measure == inNumber || k.measure == inDays) && f.Size != math.Trunc(f.Size):
		return fmt.Errorf("size %s: want a whole number", f.size())
	case f.Size == 0:
		return fmt.Errorf("size %s: want one that is not zero", f.size())
	}
	return nil
}

func (f Fault) checkPlace() error {
	var codes, want []string
	switch faultKinds[f.Kind].place {
	case atPile:
		codes, want = []string{f.Pile}, pileCodes()
	case betweenPiles:
		codes, want = []string{f.Pile, f.Other}, pileCodes()
	case atLoader:
		codes, want = []string{f.Instrument}, scaleCodes("loader")
	case atBelt:
		codes, want = []string{f.Instrument}, scaleCodes("belt")
	case atDeck:
		codes, want = []string{f.Instrument}, scaleCodes("deck")
	case atTruckScale:
		codes, want = []string{f.Instrument}, append(scaleCodes("loader"), scaleCodes("deck")...)
	}
	for _, code := range codes {
		if !slices.Contains(want, code) {
			return fmt.Errorf("%q: want one of %s", code, strings.Join(want, ", "))
		}
	}
	if f.Kind.is(betweenPiles) && f.Pile == f.Other {
		return fmt.Errorf("%q twice: want two piles", f.Pile)
	}
	return nil
}

func pileCodes() []string {
	var codes []string
	for _, p := range piles {
		codes = append(codes, p.code)
	}
	return codes
}

func scaleCodes(kind string) []string {
	var codes []string
	for _, s := range scales {
		if s.kind == kind {
			codes = append(codes, s.code)
		}
	}
	return codes
}

func pileOf(code string) int { return slices.Index(pileCodes(), code) }

// scaleOf returns the place of an instrument among the scales.
func scaleOf(code string) int {
	return slices.IndexFunc(scales[:], func(s instrument) bool { return s.code == code })
}

func listOf[T any](all []T, name func(T) string) string {
	var names []string
	for _, v := range all {
		names = append(names, name(v))
	}
	return strings.Join(names, ", ")
}
