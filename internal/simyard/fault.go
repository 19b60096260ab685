package simyard

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// FaultKind is a kind of fault.
type FaultKind uint8

// The kinds of faults, and what Size means for each.
const (
	Loss           FaultKind = iota + 1 // t of solids a month, carried off without a record
	Swap                                // t of solids a month, loaded from Pile and recorded from Other
	Loader                              // fraction by which a loader's scale reads high
	Belt                                // fraction by which a belt reads high
	Density                             // fraction by which the density in use is above the pile's
	Survey                              // fraction by which a survey's volume is high
	MissedTransfer                      // t of solids a month, carried from Pile to Other without a record
	Lumped                              // truckloads that a loader has on a single record, once a month
	Missing                             // tickets of a loader a month that are not in the tables
)

// place says where a kind of fault happens.
type place uint8

const (
	atPile place = iota + 1
	betweenPiles
	atLoader
	atBelt
)

// measure says how the size of a kind of fault is written.
type measure uint8

const (
	inTonnes measure = iota + 1
	inPercent
	inNumber
)

// faultKinds are the names, places and sizes of the kinds.
var faultKinds = [...]struct {
	name     string
	place    place
	measure  measure
	min, max float64 // of Size
}{
	Loss:           {"loss", atPile, inTonnes, 1, 100_000},
	Swap:           {"swap", betweenPiles, inTonnes, 1, 100_000},
	Loader:         {"loader", atLoader, inPercent, -0.5, 0.5},
	Belt:           {"belt", atBelt, inPercent, -0.5, 0.5},
	Density:        {"density", atPile, inPercent, -0.5, 0.5},
	Survey:         {"survey", atPile, inPercent, -0.5, 0.5},
	MissedTransfer: {"missed-transfer", betweenPiles, inTonnes, 1, 100_000},
	Lumped:         {"lumped", atLoader, inNumber, 2, 6},
	Missing:        {"missing", atLoader, inNumber, 1, 1_000},
}

// String returns the kind's name on the command line, and "unknown" for what is no kind.
func (k FaultKind) String() string {
	if !k.known() {
		return "unknown"
	}
	return faultKinds[k].name
}

func (k FaultKind) known() bool { return k >= Loss && int(k) < len(faultKinds) }

func (k FaultKind) is(p place) bool { return faultKinds[k].place == p }

// FaultKinds returns all kinds.
func FaultKinds() []FaultKind {
	var all []FaultKind
	for k := Loss; int(k) < len(faultKinds); k++ {
		all = append(all, k)
	}
	return all
}

const maxMonth = 999

// Fault is something that goes wrong in the yard beyond its stated errors.
type Fault struct {
	Kind       FaultKind
	Pile       string // of a loss, a density or a survey; the pile that the stone truly left
	Other      string // the pile that the records have it from, or the one it was carried to
	Instrument string // a loader or belt
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
	case k.measure == inNumber && f.Size != math.Trunc(f.Size):
		return fmt.Errorf("size %s: want a whole number", f.size())
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
