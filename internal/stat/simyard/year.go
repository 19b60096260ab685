package simyard

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// MovementKind says which way stone moved.
type MovementKind uint8

// The kinds of movements.
const (
	Produced    MovementKind = iota + 1 // over a belt into Pile
	Sold                                // by a loader out of Pile
	Transferred                         // by a loader from Pile to Other
)

// Movement is what one instrument moved in one month.
type Movement struct {
	Month       int
	Kind        MovementKind
	Pile, Other int
	Instrument  int
	True        float64 // t; what was lost unrecorded is in Lost of the Stock
	Recorded    float64 // t; 0 where no record was kept
	Loads       float64 // 0 for belts
}

// Stock is what lay in a pile at the end of a month.
type Stock struct {
	Month, Pile int
	True        float64 // t
	Surveyed    float64 // t, volume x density
	Lost        float64 // t that left unrecorded in the month
}

// Year is what happened in a yard and what was recorded of it, month by month. It may be longer than a year.
type Year struct {
	Yard      Yard
	Faults    []Fault
	Movements []Movement
	Stocks    []Stock // month 0 first, piles in order
}

// Simulate returns a year with errors drawn from rng, or without errors for a nil rng. Faults do not change which errors are
// drawn, so the same seed with and without a fault differs by the fault alone.
func Simulate(y Yard, rng *rand.Rand, faults ...Fault) (*Year, error) {
	for _, f := range faults {
		if err := f.check(&y); err != nil {
			return nil, err
		}
	}
	if y.Months < 1 || y.CalibrationMonths < 1 {
		return nil, fmt.Errorf("%d months with calibrations every %d: want at least one of each", y.Months, y.CalibrationMonths)
	}
	s := &simulation{Year: &Year{Yard: y, Faults: faults}, dice: dice{rng, y.ErrorScale}, stock: make([]float64, len(y.Piles))}
	s.begin()
	for month := 1; month <= y.Months; month++ {
		s.month(month)
	}
	return s.Year, nil
}

// dice draws errors.
type dice struct {
	rng   *rand.Rand
	scale float64
}

// factor returns 1 plus an error of a relative standard uncertainty.
func (d dice) factor(sigma float64) float64 {
	if d.rng == nil {
		return 1
	}
	return 1 + d.scale*sigma*d.rng.NormFloat64()
}

func (d dice) factors(n int, sigma float64) []float64 {
	f := make([]float64, n)
	for i := range f {
		f[i] = d.factor(sigma)
	}
	return f
}

type simulation struct {
	*Year
	dice
	stock          []float64
	density        []float64 // by pile
	moisture       []float64 // by pile
	belts, loaders []float64 // by epoch and instrument
	monthMoisture  []float64 // by pile
}

func (s *simulation) begin() {
	y, e := &s.Yard, s.Yard.Stated
	epochs := y.epoch(y.Months) + 1
	s.density = s.factors(len(y.Piles), e.Density)
	s.moisture = s.factors(len(y.Piles), e.MoistureSystematic)
	s.belts = s.factors(epochs*y.Belts, e.BeltSystematic)
	s.loaders = s.factors(epochs*y.Loaders, e.LoaderSystematic)
	for i := range y.Piles {
		s.stock[i] = y.opening(i)
	}
	s.survey(0)
}

// epoch returns the calibration epoch of a month, from 0.
func (y *Yard) epoch(month int) int { return (month - 1) / y.CalibrationMonths }

func (s *simulation) month(month int) {
	s.monthMoisture = s.factors(len(s.stock), s.Yard.Stated.MoistureRandom)
	for i := range s.Yard.Piles {
		s.produce(month, i)
		s.sell(month, i)
	}
	for _, r := range s.Yard.Routes {
		if r.moved(month) > 0 {
			s.transfer(month, r)
		}
	}
	s.survey(month)
}

// solids returns the factor by which moistures make a pile's solids wrong.
func (s *simulation) solids(pile int) float64 { return s.moisture[pile] * s.monthMoisture[pile] }

func (s *simulation) produce(month, pile int) {
	y, p := &s.Yard, s.Yard.Piles[pile]
	mass := y.made(pile, month)
	reading := s.belts[y.epoch(month)*y.Belts+p.Belt] * bias(s.Faults, BeltBias, month, p.Belt) * s.factor(y.Stated.BeltRandom)
	s.stock[pile] += mass
	s.Movements = append(s.Movements, Movement{Month: month, Kind: Produced, Pile: pile, Other: pile, Instrument: p.Belt,
		True: mass, Recorded: mass * reading * s.solids(pile)})
}

// loaded returns what a loader records of a mass.
func (s *simulation) loaded(month, pile, loader int, mass float64) (recorded, loads float64) {
	y := &s.Yard
	loads = mass / y.LoadMass
	reading := s.loaders[y.epoch(month)*y.Loaders+loader] * bias(s.Faults, LoaderBias, month, loader)
	return mass * reading * s.factor(y.Stated.Weighing/math.Sqrt(loads)) * s.solids(pile), loads
}

func (s *simulation) sell(month, pile int) {
	y, p := &s.Yard, s.Yard.Piles[pile]
	total := y.sold(pile, month)
	for k := range min(2, y.Loaders) {
		share := y.MainLoader
		if k == 1 {
			share = 1 - y.MainLoader
		}
		m := Movement{Month: month, Kind: Sold, Pile: pile, Other: pile, Instrument: (p.Loader + k) % y.Loaders, True: total * share}
		m.Recorded, m.Loads = s.loaded(month, pile, m.Instrument, m.True)
		if k == 0 {
			m.Recorded += s.misposted(month, pile)
		}
		s.Movements = append(s.Movements, m)
	}
	s.stock[pile] -= total + s.lost(month, pile)
}

// misposted returns what faults add to the records of a pile's outbound.
func (s *simulation) misposted(month, pile int) float64 {
	mass := 0.0
	for _, f := range s.Faults {
		switch {
		case f.Kind == Swap && f.on(month) && f.Pile == pile, f.Kind == MissingRecords && f.on(month) && f.Pile == pile,
			f.Kind == LumpedRecords && f.on(month) && f.Pile == pile:
			mass -= f.Size
		case f.Kind == Swap && f.on(month) && f.Other == pile:
			mass += f.Size
		}
		if f.Kind == LumpedRecords && f.on(month-1) && f.Pile == pile {
			mass += f.Size
		}
	}
	return mass
}

// lost returns what leaves a pile unrecorded.
func (s *simulation) lost(month, pile int) float64 {
	mass := 0.0
	for _, f := range s.Faults {
		if f.Kind == Loss && f.on(month) && f.Pile == pile {
			mass += f.Size
		}
	}
	return mass
}

func (s *simulation) transfer(month int, r Route) {
	m := Movement{Month: month, Kind: Transferred, Pile: r.From, Other: r.To, Instrument: r.Loader, True: r.Mass}
	m.Recorded, m.Loads = s.loaded(month, r.From, r.Loader, r.Mass)
	for _, f := range s.Faults {
		if f.Kind == MissedTransfer && f.on(month) && f.Pile == r.From && f.Other == r.To {
			m.Recorded = 0
		}
	}
	s.stock[r.From] -= r.Mass
	s.stock[r.To] += r.Mass
	s.Movements = append(s.Movements, m)
}

func (s *simulation) survey(month int) {
	for i, mass := range s.stock {
		read := s.density[i] * s.factor(s.Yard.Stated.Volume) * bias(s.Faults, WrongDensity, month, i) * bias(s.Faults, WrongSurvey, month, i)
		s.Stocks = append(s.Stocks, Stock{Month: month, Pile: i, True: mass, Surveyed: mass * read, Lost: s.lost(month, i)})
	}
}
