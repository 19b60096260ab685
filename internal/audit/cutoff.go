package audit

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"repose/ledger"
)

// Movement is a weighing of an instrument.
type Movement struct {
	ID, Instrument, Ticket string
	At                     time.Time
	Pile                   string
	Mass                   ledger.Mass   // solids, zero or more
	Period                 ledger.Period // in which it is entered; zero where it is not
}

func (m Movement) compare(n Movement) int {
	return cmp.Or(m.At.Compare(n.At), cmp.Compare(m.Ticket, n.Ticket), cmp.Compare(m.ID, n.ID))
}

// CutLine is a movement beside a cut.
type CutLine struct {
	Movement
	Belongs ledger.Period // the month of its instant
	Wrong   bool          // entered in another period than it belongs to, or in none
}

// InstrumentCut is what an instrument weighed last before a cut, and first after it, each in order of time.
type InstrumentCut struct {
	Instrument    string
	Before, After []CutLine
}

// NewCutOff returns, for each instrument in order of name, its last n movements before a cut and its first n after it. The
// period that a movement belongs to is a calendar month in the zone, whatever the cut. A movement that was entered late in
// the next open period is wrong here too: it is what the auditor looks for.
func NewCutOff(cut Cut, zone *time.Location, n int, movements []Movement) []InstrumentCut {
	n = max(n, 0)
	byInstrument := map[string][]Movement{}
	for _, m := range movements {
		byInstrument[m.Instrument] = append(byInstrument[m.Instrument], m)
	}
	cuts := make([]InstrumentCut, 0, len(byInstrument))
	for _, name := range slices.Sorted(maps.Keys(byInstrument)) {
		all := byInstrument[name]
		slices.SortFunc(all, Movement.compare)
		first := len(all)
		if i := slices.IndexFunc(all, func(m Movement) bool { return !cut.Takes(m.At) }); i >= 0 {
			first = i
		}
		cuts = append(cuts, InstrumentCut{Instrument: name,
			Before: cutLines(zone, all[max(0, first-n):first]), After: cutLines(zone, all[first:min(len(all), first+n)])})
	}
	return cuts
}

func cutLines(zone *time.Location, movements []Movement) []CutLine {
	lines := make([]CutLine, len(movements))
	for i, m := range movements {
		belongs := ledger.PeriodOf(m.At, zone)
		lines[i] = CutLine{Movement: m, Belongs: belongs, Wrong: m.Period != belongs}
	}
	return lines
}

// Pair is a truck that a loader weighed and then a deck scale.
type Pair struct{ Loader, Deck Movement }

// Straddling returns the trucks that had been loaded before a cut and were weighed out after it, in order of loading, and
// what their loaders weighed. That stone lies no longer in the pile, and a book that goes by the deck ticket still holds
// it: unless it is named, it looks like a loss of as much.
func Straddling(cut Cut, pairs []Pair) (straddling []Pair, mass ledger.Mass, err error) {
	for _, p := range pairs {
		if !cut.Takes(p.Loader.At) || cut.Takes(p.Deck.At) {
			continue
		}
		straddling = append(straddling, p)
		if mass, err = mass.Add(p.Loader.Mass); err != nil {
			return nil, 0, err
		}
	}
	slices.SortFunc(straddling, func(a, b Pair) int { return a.Loader.compare(b.Loader) })
	return straddling, mass, nil
}
