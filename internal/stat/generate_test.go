package stat

import (
	"fmt"
	"slices"

	"pgregory.net/rapid"
)

// drawYard draws an irregular yard: piles that are surveyed in some months only, open late and close early; two
// belts, a loader, calibrations and tests that change in mid-month; transfers; shared densities; bases.
func drawYard(t *rapid.T) *Observations {
	months := rapid.IntRange(2, 6).Draw(t, "months")
	piles := rapid.IntRange(1, 4).Draw(t, "piles")
	o := &Observations{Resolution: 1}
	uncertainty := rapid.Float64Range(0.002, 0.05)
	for range 2 { // epochs
		o.Instruments = append(o.Instruments,
			Instrument{1, BeltWeigher, uncertainty.Draw(t, "belt"), 0.004},
			Instrument{2, BeltWeigher, uncertainty.Draw(t, "belt"), 0.004},
			Instrument{1, LoaderScale, uncertainty.Draw(t, "loader"), 0.01})
	}
	for range 2 {
		o.Densities = append(o.Densities, Density{uncertainty.Draw(t, "density")})
		o.Bases = append(o.Bases, Base{50})
	}
	for range 2 * piles {
		o.Moistures = append(o.Moistures, Moisture{0.003, 0.002})
	}
	for pile := range piles {
		drawPile(t, o, pile, months)
	}
	slices.SortStableFunc(o.Balances, func(a, b Balance) int {
		if a.Period != b.Period {
			return a.Period - b.Period
		}
		return a.Pile - b.Pile
	})
	drawTransfers(t, o)
	return o
}

func drawPile(t *rapid.T, o *Observations, pile, months int) {
	mass := rapid.Float64Range(500, 40000)
	last, lastMonth := None, 0
	for month := range months + 1 {
		// Every pile has at least its first and its last survey.
		if month != pile%2 && month != months && rapid.IntRange(0, 3).Draw(t, "missed") == 0 {
			continue
		}
		if month < pile%2 {
			continue // not opened yet
		}
		s := Survey{Pile: pile, Mass: mass.Draw(t, "stock"), Volume: 0.01, Density: rapid.IntRange(-1, 1).Draw(t, "density"),
			Base: rapid.IntRange(-1, 1).Draw(t, "base"), Window: float64(rapid.IntRange(0, 1).Draw(t, "window")) * 20}
		o.Surveys = append(o.Surveys, s)
		if last != None {
			b := Balance{Pile: pile, From: lastMonth, Period: month, Opening: last, Closing: len(o.Surveys) - 1}
			for m := lastMonth + 1; m <= month; m++ {
				b.Flows = append(b.Flows, drawFlows(t, o, pile, m)...)
			}
			o.Balances = append(o.Balances, b)
		}
		last, lastMonth = len(o.Surveys)-1, month
	}
}

func drawFlows(t *rapid.T, o *Observations, pile, month int) []Flow {
	mass := rapid.Float64Range(10, 9000)
	var flows []Flow
	for range rapid.IntRange(0, 3).Draw(t, "flows") {
		in := rapid.IntRange(0, len(o.Instruments)-1).Draw(t, "instrument")
		f := Flow{Period: month, Instrument: in, Mass: mass.Draw(t, "mass"), Moisture: 2*pile + rapid.IntRange(0, 1).Draw(t, "moisture")}
		if o.Instruments[in].Kind == LoaderScale {
			f.Mass, f.Weighings = -f.Mass, f.Mass/25
		}
		flows = append(flows, f)
	}
	return flows
}

// drawTransfers carries stone between balances of different piles that close in the same month.
func drawTransfers(t *rapid.T, o *Observations) {
	for i := range o.Balances {
		for j := range o.Balances[:i] {
			a, b := &o.Balances[i], &o.Balances[j]
			if a.Pile == b.Pile || a.Period != b.Period || rapid.IntRange(0, 2).Draw(t, "transfer") > 0 {
				continue
			}
			f := Flow{Period: a.Period, Instrument: 2, Mass: -300, Weighings: 12, Moisture: 2 * a.Pile, Batch: 1 + i*len(o.Balances) + j}
			a.Flows = append(a.Flows, f)
			f.Mass = -f.Mass
			b.Flows = append(b.Flows, f)
		}
	}
}

// renumbered returns the observations with piles renumbered, and their balances in the order that follows. places
// says where each balance has gone.
func renumbered(o *Observations, number func(pile int) int) (renamed *Observations, places []int) {
	r := *o
	r.Surveys = slices.Clone(o.Surveys)
	for i := range r.Surveys {
		r.Surveys[i].Pile = number(r.Surveys[i].Pile)
	}
	order := make([]int, len(o.Balances))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		a, b := o.Balances[i], o.Balances[j]
		if a.Period != b.Period {
			return a.Period - b.Period
		}
		return number(a.Pile) - number(b.Pile)
	})
	r.Balances = make([]Balance, len(order))
	places = make([]int, len(order))
	for to, from := range order {
		r.Balances[to] = o.Balances[from]
		r.Balances[to].Pile = number(o.Balances[from].Pile)
		places[from] = to
	}
	return &r, places
}

// regularYard returns a yard of piles that are all surveyed every month, without errors, with one loss if it is not
// zero: of pile 1 in the last month but one.
func regularYard(months, piles int, loss float64) *Observations {
	o := &Observations{}
	epochs := (months + 2) / 3
	for range epochs {
		for id := range 4 {
			o.Instruments = append(o.Instruments, Instrument{id, BeltWeigher, 0.010, 0.005}, Instrument{id, LoaderScale, 0.007, 0.010})
		}
	}
	last := make([]int, piles)
	stock := func(pile, month int) float64 { return 4000 + 1500*float64(pile%20) + 400*float64((month+pile)%5) }
	for i := range piles {
		o.Densities = append(o.Densities, Density{0.03})
		o.Moistures = append(o.Moistures, Moisture{0.003, 0.003})
		last[i] = len(o.Surveys)
		o.Surveys = append(o.Surveys, Survey{Pile: i, Mass: stock(i, 0), Volume: 0.0112, Density: i, Base: None})
	}
	for month := 1; month <= months; month++ {
		for i := range piles {
			made := 2500 + 100*float64((month*i)%7)
			out := made + stock(i, month-1) - stock(i, month)
			closing := stock(i, month)
			if i == 1 && month >= months-1 {
				closing -= loss
			}
			o.Surveys = append(o.Surveys, Survey{Pile: i, Mass: closing, Volume: 0.0112, Density: i, Base: None})
			belt, loader := 8*((month-1)/3)+2*(i%4), 8*((month-1)/3)+2*(i%3)+1
			o.Balances = append(o.Balances, Balance{Pile: i, From: month - 1, Period: month, Opening: last[i], Closing: len(o.Surveys) - 1, Flows: []Flow{
				{Period: month, Instrument: belt, Mass: made, Moisture: i},
				{Period: month, Instrument: loader, Mass: -0.8 * out, Weighings: out / 25, Moisture: i},
				{Period: month, Instrument: loader%8 ^ 2 | loader&^7, Mass: -0.2 * out, Weighings: out / 100, Moisture: i},
			}})
			last[i] = len(o.Surveys) - 1
		}
	}
	return o
}

func yardName(months, piles int) string { return fmt.Sprintf("%dmonths/%dpiles", months, piles) }
