package simyard

import (
	"fmt"

	"repose/internal/stat"
)

// FaultKind is what can be made to go wrong.
type FaultKind uint8

// The kinds of faults.
const (
	Loss           FaultKind = iota + 1 // Size t leave Pile unrecorded, each month
	MissingRecords                      // Size t of Pile's loads are recorded and their records lost, each month
	Swap                                // Size t taken from Pile are posted to Other, each month
	MissedTransfer                      // what the route from Pile to Other carries is not recorded
	LumpedRecords                       // Size t of Pile's loads are recorded a month late
	LoaderBias                          // Instrument reads high by Size, a fraction
	BeltBias                            // Instrument reads high by Size, a fraction
	WrongDensity                        // Pile's density is high by Size, a fraction
	WrongSurvey                         // Pile's volume is high by Size, a fraction
)

var faultNames = [...]string{Loss: "loss", MissingRecords: "missing", Swap: "swap", MissedTransfer: "transfer",
	LumpedRecords: "lumped", LoaderBias: "loader", BeltBias: "belt", WrongDensity: "density", WrongSurvey: "survey"}

// String returns the name by which a fault is asked for.
func (k FaultKind) String() string {
	if k == 0 || int(k) >= len(faultNames) {
		return "unknown"
	}
	return faultNames[k]
}

// ParseFaultKind is the inverse of String.
func ParseFaultKind(name string) (FaultKind, error) {
	for k, n := range faultNames {
		if n == name && n != "" {
			return FaultKind(k), nil
		}
	}
	return 0, fmt.Errorf("fault %q: want one of %v", name, faultNames[1:])
}

// Fault is one thing gone wrong, from one month to another, both included.
type Fault struct {
	Kind        FaultKind
	Pile, Other int
	Instrument  int
	From, Until int
	Size        float64
}

// on reports whether the fault is at work in a month.
func (f Fault) on(month int) bool { return f.From <= month && month <= f.Until }

// check holds a fault to the yard.
func (f Fault) check(y *Yard) error {
	pile := func(p int) bool { return p >= 0 && p < len(y.Piles) }
	switch f.Kind {
	case Loss, MissingRecords, LumpedRecords, WrongDensity, WrongSurvey:
		if !pile(f.Pile) {
			return fmt.Errorf("%s: pile %d: want one of %d", f.Kind, f.Pile, len(y.Piles))
		}
	case Swap, MissedTransfer:
		if !pile(f.Pile) || !pile(f.Other) || f.Pile == f.Other {
			return fmt.Errorf("%s: piles %d and %d: want two of %d", f.Kind, f.Pile, f.Other, len(y.Piles))
		}
	case LoaderBias, BeltBias:
		instruments := y.Belts
		if f.Kind == LoaderBias {
			instruments = y.Loaders
		}
		if f.Instrument < 0 || f.Instrument >= instruments {
			return fmt.Errorf("%s: instrument %d: want one of %d", f.Kind, f.Instrument, instruments)
		}
	default:
		return fmt.Errorf("fault of an unknown kind")
	}
	if f.From < 1 || f.Until < f.From {
		return fmt.Errorf("%s: months %d to %d: want 1 or later, in order", f.Kind, f.From, f.Until)
	}
	return nil
}

// Cause returns what the balances should say of the fault. Records that come a month late look to them like one
// survey that is wrong.
func (f Fault) Cause() stat.Cause {
	c := stat.Cause{Pile: f.Pile, Other: stat.None, Instrument: stat.None}
	switch f.Kind {
	case Loss, MissingRecords:
		c.Class = stat.ClassLoss
	case Swap, MissedTransfer:
		c.Class, c.Other = stat.ClassSwap, f.Other
	case LoaderBias:
		c = stat.Cause{Class: stat.ClassLoader, Pile: stat.None, Other: stat.None, Instrument: f.Instrument}
	case BeltBias:
		c = stat.Cause{Class: stat.ClassBelt, Pile: stat.None, Other: stat.None, Instrument: f.Instrument}
	case WrongDensity:
		c.Class = stat.ClassDensity
	case WrongSurvey, LumpedRecords:
		c.Class = stat.ClassSurvey
	}
	return c
}

// bias returns by how much faults of a kind make an instrument, or a pile's survey, read high in a month.
func bias(faults []Fault, kind FaultKind, month, which int) float64 {
	factor := 1.0
	for _, f := range faults {
		at := f.Instrument
		if kind == WrongDensity || kind == WrongSurvey {
			at = f.Pile
		}
		if f.Kind == kind && at == which && f.on(month) {
			factor *= 1 + f.Size
		}
	}
	return factor
}
