package simyard

import "repose/internal/stat"

// Observations returns what the year's records say, with the stated uncertainties.
func (y *Year) Observations() *stat.Observations {
	yard, e := &y.Yard, y.Yard.Stated
	o := &stat.Observations{}
	epochs := yard.epoch(yard.Months) + 1
	for range epochs {
		for b := range yard.Belts {
			o.Instruments = append(o.Instruments, stat.Instrument{ID: b, Kind: stat.BeltWeigher, Systematic: e.BeltSystematic, Random: e.BeltRandom})
		}
	}
	for range epochs {
		for l := range yard.Loaders {
			o.Instruments = append(o.Instruments, stat.Instrument{ID: l, Kind: stat.LoaderScale, Systematic: e.LoaderSystematic, Random: e.Weighing})
		}
	}
	for range yard.Piles {
		o.Densities = append(o.Densities, stat.Density{Relative: e.Density})
		o.Moistures = append(o.Moistures, stat.Moisture{Systematic: e.MoistureSystematic, Random: e.MoistureRandom})
	}
	n := len(yard.Piles)
	for i, s := range y.Stocks {
		o.Surveys = append(o.Surveys, stat.Survey{Pile: s.Pile, Mass: s.Surveyed, Volume: e.Volume, Density: s.Pile, Base: stat.None})
		if s.Month > 0 {
			o.Balances = append(o.Balances, stat.Balance{Pile: s.Pile, From: s.Month - 1, Period: s.Month, Opening: i - n, Closing: i})
		}
	}
	for i, m := range y.Movements {
		if m.Recorded == 0 {
			continue
		}
		f := stat.Flow{Period: m.Month, Instrument: yard.epoch(m.Month)*yard.Belts + m.Instrument, Mass: m.Recorded, Moisture: m.Pile}
		row := (m.Month - 1) * n
		if m.Kind != Produced {
			f.Instrument = epochs*yard.Belts + yard.epoch(m.Month)*yard.Loaders + m.Instrument
			f.Weighings, f.Mass = m.Loads, -m.Recorded
		}
		if m.Kind == Transferred {
			f.Batch = i + 1
			in := f
			in.Mass = m.Recorded
			o.Balances[row+m.Other].Flows = append(o.Balances[row+m.Other].Flows, in)
		}
		o.Balances[row+m.Pile].Flows = append(o.Balances[row+m.Pile].Flows, f)
	}
	return o
}

// PriorRoutes returns the yard's routes as prior knowledge of swaps.
func (y *Yard) PriorRoutes() []stat.Route {
	var routes []stat.Route
	for _, r := range y.Routes {
		routes = append(routes, stat.Route{From: r.From, To: r.To, Mass: r.Mass})
	}
	return routes
}
