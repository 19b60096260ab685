package simyard

// truth gathers what the simulation knows.
func (s *simulation) truth() Truth {
	t := Truth{Schema: 1, Yard: yardCode, Seed: s.cfg.Seed, Scale: s.cfg.Scale, Faults: []FaultTruth{}}
	for month := 1; month <= s.cfg.Months; month++ {
		t.Periods = append(t.Periods, s.cal.period(month))
	}
	for i := range piles {
		t.Piles = append(t.Piles, s.pileTruth(i))
	}
	s.addMovements(t.Piles)
	s.addShrinkage(t.Piles)
	for i, in := range scales {
		t.Instruments = append(t.Instruments, InstrumentTruth{in.code, s.errors.scale[i]})
	}
	for i, f := range s.cfg.Faults {
		t.Faults = append(t.Faults, s.faultTruth(f, s.effects[i]))
	}
	return t
}

func (s *simulation) pileTruth(pile int) PileTruth {
	p, e := piles[pile], s.errors
	t := PileTruth{Pile: p.code, Density: Grams(p.density), OpeningErrorPPB: e.opening[pile],
		MoistureErrorPPB: e.moisture[pile], DensityTestErrorsPPB: e.density[pile]}
	for month := range s.months {
		_, end := s.cal.flown(month)
		t.Surveys = append(t.Surveys, PileSurvey{Survey: surveyCode(month), End: end, Solids: s.stock[pile][month],
			VolumeErrorPPB: e.volume[pile][month], DensityTest: s.cfg.densityTest(month)})
		if month == 0 {
			continue
		}
		m := s.months[month]
		t.Months = append(t.Months, MonthOfPile{Period: s.cal.period(month), Made: m.made[pile], Lost: m.lost[pile],
			MoisturePPM: int64(m.moisture[pile]), MoistureErrorPPB: e.moisture[pile] + e.test[pile][month],
			BeltRandomErrorPPB: e.belt[pile][month]})
	}
	return t
}

// addMovements adds up loads and transfers, as they were and as they were recorded.
func (s *simulation) addMovements(all []PileTruth) {
	for _, l := range s.loads {
		all[l.pile].Months[l.month-1].Sold += l.solids
		if l.fate == missed {
			continue
		}
		w := all[l.recorded].Months[l.month-1].weighings(scales[loaderScale(l.loader)].code, "")
		w.add(l.wet, l.shown-s.reading(loaderScale(l.loader), l.month, l.wet))
		if l.fate == written {
			w.Records++
		}
	}
	for _, h := range s.hauls {
		r := routes[h.route]
		from, to := &all[r.from].Months[h.month-1], &all[r.to].Months[h.month-1]
		from.CarriedOut += h.solids
		to.CarriedIn += h.solids
		if !h.missed {
			w := from.weighings(scales[loaderScale(r.loader)].code, piles[r.to].code)
			w.add(h.wet, h.shown-s.reading(loaderScale(r.loader), h.month, h.wet))
			w.Records++
		}
	}
}

// weighings returns the element of a loader and a destination, made on first use.
func (m *MonthOfPile) weighings(loader, to string) *Weighings {
	for i := range m.Weighings {
		if w := &m.Weighings[i]; w.Loader == loader && w.To == to {
			return w
		}
	}
	m.Weighings = append(m.Weighings, Weighings{Loader: loader, To: to})
	return &m.Weighings[len(m.Weighings)-1]
}

func (w *Weighings) add(wet, err Grams) {
	w.Wet += wet
	w.Error += err
}

// addShrinkage adds up what the records do not have, by pile and month.
func (s *simulation) addShrinkage(all []PileTruth) {
	for i, p := range all {
		for t := range p.Months {
			all[i].Months[t].Shrinkage += p.Months[t].Lost
		}
	}
	for _, l := range s.loads {
		month := func(pile int) *MonthOfPile { return &all[pile].Months[l.month-1] }
		if l.fate == missed || l.recorded != l.pile {
			month(l.pile).Shrinkage += l.solids
		}
		if l.recorded != l.pile { // the records have its wet mass leave the other pile, at that pile's moisture
			month(l.recorded).Shrinkage -= l.wet.dry(s.months[l.month].moisture[l.recorded])
		}
	}
	for _, h := range s.hauls {
		if h.missed {
			all[routes[h.route].from].Months[h.month-1].Shrinkage += h.solids
			all[routes[h.route].to].Months[h.month-1].Shrinkage -= h.solids
		}
	}
}

func (s *simulation) faultTruth(f Fault, effects []effect) FaultTruth {
	t := FaultTruth{Fault: f.String()}
	for _, e := range effects {
		m := FaultMonth{Period: s.cal.period(e.month), Solids: e.solids}
		for _, k := range e.loads {
			l := s.loads[k]
			id := recordID("load", scales[loaderScale(l.loader)].code, l.ticket)
			switch l.fate {
			case written:
				m.Wrong = append(m.Wrong, id)
			case missed:
				m.Absent = append(m.Absent, id)
			}
			m.Deck = append(m.Deck, recordID("deck", scales[deckScale].code, l.deckTicket))
		}
		if f.Kind == Survey || f.Kind == Density {
			m.Wrong = append(m.Wrong, recordID("survey", surveyCode(e.month), f.Pile))
		}
		t.Months = append(t.Months, m)
	}
	return t
}

// recordID returns the name that a book gives to a record with a key of two parts.
func recordID(kind, first, second string) string {
	return kind + ":" + yardCode + ":" + first + "/" + second
}
