package demoyard

// files writes everything the yard sends, and counts its rows.
func (s *simulation) files() ([]File, []TableTruth, error) {
	var files []File
	var counts []TableTruth
	for _, book := range []struct {
		name   string
		sheets []sheet
	}{{"yard.xlsx", setUpSheets()}, {"lab.xlsx", s.labSheets()}} {
		file, err := workbook(book.name, book.sheets)
		if err != nil {
			return nil, nil, err
		}
		files = append(files, file)
		for _, sh := range book.sheets {
			counts = append(counts, TableTruth{File: book.name, Sheet: sh.name, Table: sh.name, Rows: len(sh.rows)})
		}
	}
	for _, t := range s.textTables() {
		file, err := t.file()
		if err != nil {
			return nil, nil, err
		}
		files = append(files, file)
		counts = append(counts, t.count)
	}
	deck, count, err := s.deckFile()
	if err != nil {
		return nil, nil, err
	}
	return append(files, deckMap(), deck), append(counts, count), nil
}

// truth gathers what the simulation knows.
func (s *simulation) truth(counts []TableTruth) Truth {
	t := Truth{Yard: yardCode, Zone: zoneName, Unrecorded: s.unrecorded, Tables: counts}
	for i, p := range piles {
		for month := range s.months[i] {
			s.months[i][month].Period = period(month)
			s.months[i][month].SurveyEnd = flightEnd(month, s.zone).UTC()
		}
		t.Piles = append(t.Piles, PileTruth{Pile: p.name, Product: products[p.product].code, OpeningG: p.opening * tonne,
			OpeningRecordedG: p.openingRecorded(), DryDensityKgM3: p.densityKgM3, Months: s.months[i][:]})
	}
	for _, i := range allInstruments() {
		t.Instruments = append(t.Instruments, InstrumentTruth{Instrument: i.code, BiasPPM: i.biasPPM, ScatterPPM: i.scatterPPM})
	}
	return t
}
