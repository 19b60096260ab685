package demoyard

import "time"

// The book begins with the first day; instruments were certified, and piles laid out, before it.
var (
	certifiedFrom  = time.Date(2026, time.June, 1, 0, 0, 0, 0, time.UTC)
	certifiedUntil = time.Date(2027, time.June, 1, 0, 0, 0, 0, time.UTC)
	pilesOpened    = time.Date(2025, time.November, 17, 0, 0, 0, 0, time.UTC)
	bookBegins     = time.Date(firstYear, firstMonth, 1, 0, 0, 0, 0, time.UTC)
)

// setUpSheets are the sheets of the set-up workbook.
func setUpSheets() []sheet {
	return []sheet{
		{name: "yards", header: []string{"yard", "name", "time zone", "unit"},
			rows: [][]cell{{text(yardCode), text(yardName), text(zoneName), text("t")}}},
		productSheet(), pileSheet(), instrumentSheet(), hoursSheet(), policySheet(), openingSheet(),
	}
}

func productSheet() sheet {
	sh := sheet{name: "products", header: []string{"product", "name", "reference moisture [% dry]", "absorption [% dry]"}}
	for _, p := range products {
		sh.rows = append(sh.rows, []cell{text(p.code), text(p.name), number(percent(p.referenceBP)), number(percent(p.absorptionBP))})
	}
	return sh
}

func pileSheet() sheet {
	sh := sheet{name: "piles", header: []string{"pile", "product", "opened"}}
	for _, p := range piles {
		sh.rows = append(sh.rows, []cell{text(p.name), text(products[p.product].code), date(pilesOpened)})
	}
	return sh
}

// allInstruments lists every weighing instrument in the order of the files.
func allInstruments() []instrument {
	all := append(belts[:len(belts):len(belts)], loaders[:]...)
	return append(all, deckScale)
}

func instrumentSheet() sheet {
	sh := sheet{name: "instruments", header: []string{"instrument", "kind", "from", "until", "systematic [%]", "random [%]",
		"modulus [t]", "certificate"}}
	for _, i := range allInstruments() {
		modulus := ""
		if i.modulusT > 0 {
			modulus = fixed(i.modulusT, 0)
		}
		sh.rows = append(sh.rows, []cell{text(i.code), text(i.kind), date(certifiedFrom), date(certifiedUntil),
			number(i.statedBias), number(i.statedScatter), number(modulus), text(i.certificate)})
	}
	return sh
}

func hoursSheet() sheet {
	sh := sheet{name: "hours", header: []string{"weekday", "open", "close"}}
	for day := time.Monday; day <= time.Saturday; day++ {
		sh.rows = append(sh.rows, []cell{text(day.String()), clockHour(openHour), clockHour(closeHour)})
	}
	return sh
}

func policySheet() sheet {
	sh := sheet{name: "policy", header: []string{"name", "value", "from", "reason"}}
	for _, p := range policies {
		value := text(p.value)
		if p.number {
			value = number(p.value)
		}
		sh.rows = append(sh.rows, []cell{text(p.name), value, date(bookBegins), text(p.reason)})
	}
	return sh
}

func openingSheet() sheet {
	sh := sheet{name: "opening", header: []string{"pile", "time", "solids [t]"}}
	for _, p := range piles {
		sh.rows = append(sh.rows, []cell{text(p.name), dateTime(bookBegins), number(tonnes(p.openingRecorded(), 1))})
	}
	return sh
}

// openingRecorded returns the solids that the opening states, in grams, to the tenth of a tonne.
func (p pile) openingRecorded() int64 {
	return rounded(withError(p.opening*tonne, p.openingErrorPPM), tonne/10)
}

// labSheets are the sheets of the lab's workbook.
func (s *simulation) labSheets() []sheet {
	moistures := sheet{name: "moistures", header: []string{"pile", "product", "taken", "moisture [% dry]", "tests"}}
	for _, m := range s.moistures {
		moistures.rows = append(moistures.rows, []cell{text(m.pile), text(m.product), dateTime(wall(m.taken, s.zone)),
			number(percent(m.moistureBP)), number("2")})
	}
	densities := sheet{name: "densities", header: []string{"pile", "taken", "bulk density [t/m3]", "moisture [% dry]", "u [%]",
		"tests", "method", "compaction factor"}}
	for _, d := range s.densities {
		p := piles[d.pile]
		densities.rows = append(densities.rows, []cell{text(p.name), dateTime(wall(d.taken, s.zone)),
			number(fixed(rounded(d.gramsPerM3, kilogram)/kilogram, 3)), number(percent(d.moistureBP)), number("1.0"),
			number("3"), text("loose, 15 l measure"), number(fixed(p.compaction/10, 2))})
	}
	return []sheet{moistures, densities}
}

// percent writes hundredths of a per cent with one place.
func percent(bp int64) string { return fixed(bp/10, 1) }
