package simyard

import "time"

// errorDraws holds one draw for each source of error, except for single weighings, which are drawn as they
// happen.
type errorDraws struct {
	opening  [pileCount]PPB    // of the stock that the opening states
	density  [pileCount][]PPB  // of each density test
	volume   [pileCount][]PPB  // of each survey, from survey 0
	scale    [scaleCount][]PPB // of each calibration
	belt     [pileCount][]PPB  // of a belt's random error at each pile and month
	moisture [pileCount]PPB    // of all moisture tests of a pile
	test     [pileCount][]PPB  // of a single moisture test, from month 0
}

// drawErrors draws what is wrong in the yard.
func drawErrors(cfg Config) errorDraws {
	var e errorDraws
	draw := func(stream uint64) func(sigma PPB) PPB {
		d := newDice(cfg.Seed, stream)
		return func(sigma PPB) PPB { return d.normal(sigma.times(cfg.Scale)) }
	}
	opening, density, volume := draw(openingStream), draw(densityStream), draw(volumeStream)
	scale, belt, moisture := draw(scaleStream), draw(beltStream), draw(moistureStream)
	for i := range piles {
		e.opening[i] = opening(openingU)
		e.moisture[i] = moisture(moistureU)
	}
	for t := range cfg.Months + 1 {
		for i, p := range piles {
			if t == 0 || cfg.DensityMonths > 0 && t%cfg.DensityMonths == 0 {
				e.density[i] = append(e.density[i], density(densityU))
			}
			e.volume[i] = append(e.volume[i], volume(volumeU))
			e.test[i] = append(e.test[i], moisture(moistureU))
			e.belt[i] = append(e.belt[i], belt(scales[p.belt].random))
		}
		if t > 0 && epoch(t)*calibrationMonths == t-1 {
			for i, in := range scales {
				e.scale[i] = append(e.scale[i], scale(in.systematic))
			}
		}
	}
	return e
}

// epoch returns the calibration, counted from 0, in which a month lies.
func epoch(month int) int { return (month - 1) / calibrationMonths }

// testedDensity returns what a density test says, in g of solids in a m3.
func (s *simulation) testedDensity(pile, test int) Grams {
	return Grams(piles[pile].density).with(s.errors.density[pile][test])
}

// densityTaken returns when a density test is taken: on the morning before the first survey that uses it.
func (s *simulation) densityTaken(test int) time.Time {
	return clock(s.cal.lastDay(test*s.cfg.DensityMonths), openHour-1, 0)
}

// tested returns what the test of a month says of a pile's moisture: what makes solids wrong by e in
//
//	1 + tested = (1 + true) / (1 + e)
//
// and never less than none.
func (s *simulation) tested(pile, month int) millionths {
	wet := million + int64(s.months[month].moisture[pile])
	e := s.errors.moisture[pile] + s.errors.test[pile][month]
	return millionths(max(mulDiv(wet, billion, billion+int64(e))-million, 0))
}

// reading returns what an instrument shows of a wet mass in a month, with the error of its calibration and
// with that of faults.
func (s *simulation) reading(scale, month int, wet Grams) Grams {
	wet = wet.with(s.errors.scale[scale][epoch(month)])
	for _, f := range s.cfg.Faults {
		if (f.Kind == Loader || f.Kind == Belt) && scaleOf(f.Instrument) == scale && f.lasts(month) {
			wet = wet.with(f.excess())
		}
	}
	return wet
}

// surveyed returns the litres that a survey measures where so much solids lie. A pile whose density is
// below the one in use stands higher.
func (s *simulation) surveyed(pile, month int) int64 {
	solids := s.stock[pile][month].with(s.errors.volume[pile][month])
	for _, f := range s.cfg.Faults {
		if (f.Kind == Survey || f.Kind == Density) && pileOf(f.Pile) == pile && f.lasts(month) {
			solids = solids.with(f.excess())
		}
	}
	return mulDiv(int64(solids), 1_000, piles[pile].density)
}
