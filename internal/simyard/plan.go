package simyard

// The plan of the yard: what moves in a month, in solids. Months count from 1.

// swung returns a mean monthly mass as the season has it.
func (p pile) swung(swing int64, monthOfYear int) Grams {
	const unit = 100 * seasonUnit
	return Grams(mulDiv(p.monthly*int64(tonne), unit+swing*p.season[monthOfYear], unit))
}

// made returns what is made in a month of the year.
func (p pile) made(monthOfYear int) Grams { return p.swung(productionSwing, monthOfYear) }

// sold returns what is sold from a pile in a month of the year: what the season asks for, less what is
// carried off in a mean month and with what is carried to it.
func sold(pile, monthOfYear int) Grams {
	mass := piles[pile].swung(salesSwing, monthOfYear)
	for _, r := range routes {
		mean := Grams(mulDiv(r.mass*int64(tonne), 1, int64(r.every)))
		switch pile {
		case r.from:
			mass -= mean
		case r.to:
			mass += mean
		}
	}
	return mass
}

// soldBy returns the share of sales that a loader loads.
func (p pile) soldBy(loader int, sold Grams) Grams {
	usual := Grams(mulDiv(int64(sold), usualLoader, 100))
	if loader == p.loader {
		return usual
	}
	return sold - usual
}

// carried returns what a route carries in a month.
func (r route) carried(month int) Grams {
	if month%r.every != 0 {
		return 0
	}
	return Grams(r.mass) * tonne
}

// opening returns what lies in a pile when the book begins, such that the surveys of the first year without
// a fault have the pile's mean stock.
func (c calendar) opening(pile int) Grams {
	const year = 12
	var stock, sum Grams
	for t := 1; t <= year; t++ {
		stock += piles[pile].made(c.season(t)) - sold(pile, c.season(t))
		for _, r := range routes {
			switch pile {
			case r.from:
				stock -= r.carried(t)
			case r.to:
				stock += r.carried(t)
			}
		}
		sum += stock
	}
	return Grams(piles[pile].stock)*tonne - sum/year
}
