package simyard

import "time"

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
	for i := range s.cfg.Faults {
		t.Faults = append(t.Faults, s.faultTruth(i))
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
			VolumeErrorPPB: e.volume[pile][month], DensityTest: s.densityInForce(pile, month)})
		if month == 0 {
			continue
		}
		m := s.months[month]
		t.Months = append(t.Months, MonthOfPile{Period: s.cal.period(month), Made: m.made[pile], Lost: m.lost[pile],
			MoisturePPM: int64(m.moisture[pile]), MoistureErrorPPB: e.moisture[pile] + e.test[pile][month],
			BeltRandomErrorPPB: e.belt[pile][month], BeltSlip: s.beltSlip(pile, month)})
		if used := s.moistureInForce(pile, month); used != s.tested(pile, month) {
			t.Months[month-1].MoistureInForcePPM = int64(used)
		}
	}
	return t
}

// addMovements adds up loads, transfers and what was fed, as they were and as they were recorded.
func (s *simulation) addMovements(all []PileTruth) {
	for _, l := range s.loads {
		all[l.pile].Months[l.month-1].Sold += l.solids
		if !l.fate.counted() {
			continue
		}
		w := all[l.recorded].Months[l.month-1].weighings(scales[loaderScale(l.loader)].code, "")
		w.add(l.wet, l.shown-s.reading(loaderScale(l.loader), l.month, l.wet))
		w.Slip += l.slip
		for _, r := range l.records {
			if !r.void {
				w.Records++
			}
		}
	}
	for _, h := range s.hauls {
		r := routes[h.route]
		from, to := &all[r.from].Months[h.month-1], &all[r.to].Months[h.month-1]
		from.CarriedOut += h.solids
		to.CarriedIn += h.solids
		if h.missed {
			continue
		}
		destination := piles[r.to].code
		if h.oneSided {
			destination = nowhere
		}
		w := from.weighings(scales[loaderScale(r.loader)].code, destination)
		w.add(h.wet, h.shown-s.reading(loaderScale(r.loader), h.month, h.wet))
		w.Records++
	}
	for _, f := range s.feeds {
		m := &all[f.pile].Months[f.month-1]
		m.Fed += f.solids
		w := m.weighings(scales[loaderScale(feedLoader)].code, crusher)
		w.add(f.wet, f.shown-s.reading(loaderScale(feedLoader), f.month, f.wet))
		w.Records++
	}
}

// Where weighings go that are neither sold nor carried to a pile that is named.
const (
	crusher = "crusher"
	nowhere = "?"
)

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
	add := func(shares []share) {
		for _, x := range shares {
			all[x.pile].Months[x.month-1].Shrinkage += x.missing
		}
	}
	for i := range all {
		for t := range all[i].Months {
			all[i].Months[t].Shrinkage += all[i].Months[t].Lost
		}
		for month := 1; month < len(s.months); month++ {
			add(s.moistureShares(i, month))
		}
	}
	for i := range s.loads {
		add(s.missing(&s.loads[i]))
	}
	for i := range s.hauls {
		add(s.hauls[i].missing())
	}
	for _, effects := range s.effects {
		for _, e := range effects {
			for _, it := range e.items {
				add(it.shares)
			}
		}
	}
}

func (s *simulation) faultTruth(fault int) FaultTruth {
	f := s.cfg.Faults[fault]
	t := FaultTruth{Fault: f.String()}
	for _, e := range s.effects[fault] {
		m := FaultMonth{Period: s.cal.period(e.month), Solids: e.solids}
		if s.cfg.Detailed {
			m.Findings = s.findings(f, e, faulted{fault + 1, e.month})
		}
		switch {
		case f.Kind.ofRecords():
			for _, g := range m.Findings {
				m.Solids += g.Solids
			}
		case f.Kind == Survey || f.Kind == Density:
			m.Wrong = append(m.Wrong, surveyID(e.month, f.Pile))
		default:
			s.nameRecords(e.loads, &m)
		}
		t.Months = append(t.Months, m)
	}
	return t
}

// nameRecords names what loads have in the tables and what they lack.
func (s *simulation) nameRecords(loads []int, m *FaultMonth) {
	for _, k := range loads {
		l := &s.loads[k]
		for _, r := range l.records {
			m.Wrong = append(m.Wrong, loadID(l, r.ticket))
		}
		if l.fate == missed {
			m.Absent = append(m.Absent, loadID(l, l.ticket))
		}
		if l.deckTicket != "" {
			m.Deck = append(m.Deck, deckID(l))
		}
	}
}

// recordID returns the name that a book gives to a record with a key of two parts.
func recordID(kind, first, second string) string {
	return kind + ":" + yardCode + ":" + first + "/" + second
}

func loadID(l *load, ticket string) string {
	return recordID("load", scales[loaderScale(l.loader)].code, ticket)
}

func deckID(l *load) string { return recordID("deck", scales[deckScale].code, l.deckTicket) }

func transferID(h *haul) string {
	return recordID("transfer", scales[loaderScale(routes[h.route].loader)].code, h.ticket)
}

func surveyID(month int, pile string) string { return recordID("survey", surveyCode(month), pile) }

func runID(r run) string {
	return recordID("production", scales[piles[r.pile].belt].code, r.at.Format(time.RFC3339))
}

func feedID(f feed) string {
	return recordID("feed", scales[loaderScale(feedLoader)].code, f.at.Format(time.RFC3339)+"/"+piles[f.pile].code)
}

// testID returns the name of a test of a pile; kind is that of its records.
func testID(kind, pile string, taken time.Time) string {
	return recordID(kind, "pile/"+pile, taken.Format(time.RFC3339))
}
