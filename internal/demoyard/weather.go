package demoyard

// weather is the rain of each day and the moisture it leaves at the faces of the piles. The water is
// uniform over a face; the solids of a pile never change with it.
type weather struct {
	rainMM   [dayCount]int64
	moisture [dayCount][productCount]int64 // hundredths of a per cent of dry mass
}

// rainyPercent is the chance of rain on a day of each month.
var rainyPercent = [monthCount]int64{21, 31, 43}

// keptPercent of the moisture above the drained state is still there a day later.
const keptPercent = 62

func newWeather(d dice) *weather {
	var w weather
	var excess [productCount]int64
	for day := range dayCount {
		if d.below(100) < rainyPercent[monthOfDay(day)] {
			w.rainMM[day] = d.within(2, 19)
		}
		for p := range products {
			excess[p] = excess[p]*keptPercent/100 + w.rainMM[day]*products[p].gainBPPerMM
			w.moisture[day][p] = products[p].drainedBP + excess[p]
		}
	}
	return &w
}

// at returns the moisture of a product on a day; before the first day every face is drained.
func (w *weather) at(day, product int) int64 {
	if day < 0 {
		return products[product].drainedBP
	}
	return w.moisture[day][product]
}

// solidsOf returns the dry part of a wet mass in grams, rounded half up.
func solidsOf(wet, moistureBP int64) int64 {
	den := 10_000 + moistureBP
	return (wet*10_000 + den/2) / den
}

// withError returns a true mass or volume as an instrument with that error, in ppm, shows it.
func withError(v, ppm int64) int64 { return v + v*ppm/1_000_000 }

// rounded returns v rounded half up to a multiple of step; v is not negative.
func rounded(v, step int64) int64 { return (v + step/2) / step * step }
