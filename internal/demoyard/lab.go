package demoyard

import "time"

// The lab's errors, as standard deviations.
const (
	moistureScatterBP = 20    // of one moisture test, sampling in it
	densityScatterPPM = 8_000 // of one density test; the files state it as 1 %
	wetMorningMM      = 6     // rain after which the lab tests at once
)

// densityDays are the days, from 2026-08-01, on which every pile's bulk density is tested. The first
// serves two surveys.
var densityDays = [...]int{26, 87}

// densityTestOf says which of the density tests is in force at a month's survey.
var densityTestOf = [monthCount]int{0, 0, 1}

// testedAs are the moisture samples of a round: by pile, except that both piles of 20 mm share one.
var testedAs = [...]struct {
	pile, product string
	of            int
}{
	{pile: piles[forty].name, of: mm40}, {product: products[mm20].code, of: mm20}, {pile: piles[ten].name, of: mm10},
	{pile: piles[sandPile].name, of: washedSand}, {pile: piles[basePile].name, of: crusherRun},
}

// labWork writes the lab's sheet: moistures on the last day before the book begins, on Mondays, on a wet
// morning and two days after it; densities twice.
func (s *simulation) labWork(d dice) {
	for day := -1; day < dayCount; day++ {
		if s.moistureDay(day) {
			s.testMoistures(day, d)
		}
	}
	for n, day := range densityDays {
		s.testDensities(n, day, d)
	}
}

func (s *simulation) moistureDay(day int) bool {
	if day < 0 {
		return true
	}
	wet := func(day int) bool { return day >= 0 && s.weather.rainMM[day] >= wetMorningMM }
	return staffed(day) && (wet(day) || wet(day-2) || weekday(day) == time.Monday)
}

func (s *simulation) testMoistures(day int, d dice) {
	for i, t := range testedAs {
		m := s.weather.at(day, t.of) + d.bell(moistureScatterBP)
		s.moistures = append(s.moistures, moistureRow{pile: t.pile, product: t.product,
			taken: clock(day, 6, 25+5*i, s.zone), moistureBP: rounded(max(m, 10), 10)})
	}
}

func (s *simulation) testDensities(n, day int, d dice) {
	for i, p := range piles {
		m := s.weather.at(day, p.product)
		ppm := d.bell(densityScatterPPM)
		loose := p.densityKgM3 * 1_000 * 1_000 / p.compaction // grams per cubic metre
		moist := loose * (10_000 + m) / 10_000
		s.densities = append(s.densities, densityRow{pile: i, taken: clock(day, 8, 10*i, s.zone),
			gramsPerM3: withError(moist, ppm), moistureBP: rounded(m+d.bell(moistureScatterBP/2), 10)})
		for month, test := range densityTestOf {
			if test == n {
				s.months[i][month].DensityPPM = ppm
			}
		}
	}
}
