package simyard

import "slices"

// Finding is one thing that the register of exceptions should say of a fault.
type Finding struct {
	Rule string `json:"rule"` // that should find it
	// Also are rules that may rightly speak of the same records.
	Also   []string `json:"also,omitempty"`
	Solids Grams    `json:"solids_t,omitzero"` // of the stone that its records are about
	// Shares are what it makes of differences. Over all findings of a yard, and its losses, they sum to the
	// shrinkage of each pile and month.
	Shares []PileShare `json:"shares,omitempty"`
	// Records are the IDs of records that show it, Absent those of numbers that are not in the tables.
	Records []string `json:"records,omitempty"`
	Absent  []string `json:"absent,omitempty"`
}

// PileShare is what a fault makes of the difference of a pile in a month: book less survey, positive where
// stone is missing.
type PileShare struct {
	Pile    string `json:"pile"`
	Period  string `json:"period"`
	Missing Grams  `json:"missing_t"`
}

// Missing returns what a finding makes of a pile's difference over all months.
func (f Finding) Missing(pile string) Grams {
	var sum Grams
	for _, s := range f.Shares {
		if s.Pile == pile {
			sum += s.Missing
		}
	}
	return sum
}

// Findings returns the findings of all faults, in their order. Only a detailed yard has any.
func (t Truth) Findings() []Finding {
	var all []Finding
	for _, f := range t.Faults {
		for _, m := range f.Months {
			all = append(all, m.Findings...)
		}
	}
	return all
}

// findings returns what the register should say of a fault in one month.
func (s *simulation) findings(f Fault, e effect, by faulted) []Finding {
	kind := faultKinds[f.Kind]
	if kind.rule == "" {
		return nil
	}
	var all []Finding
	for _, it := range s.itemsOf(f, e) {
		g := Finding{Rule: kind.rule, Also: kind.also, Solids: it.solids, Records: slices.Clone(it.ids)}
		shares := append(slices.Clone(it.shares), s.byMoisture(by)...)
		for _, k := range it.loads {
			l := &s.loads[k]
			g.Solids += l.solids
			shares = append(shares, s.missing(l)...)
			if !f.Kind.is(atDeck) && !(f.Kind == UnitSlip && f.Instrument == scales[deckScale].code) {
				for _, r := range l.records {
					g.Records = append(g.Records, loadID(l, r.ticket))
				}
			}
			if l.fate == missed {
				g.Absent = append(g.Absent, loadID(l, l.ticket))
			}
			if l.deckTicket != "" {
				g.Records = append(g.Records, deckID(l))
			}
		}
		if f.Kind == Missing {
			g.Records = append(s.around(it.loads), g.Records...)
		}
		for _, k := range it.hauls {
			h := &s.hauls[k]
			g.Solids += h.solids
			shares = append(shares, h.missing()...)
			if !h.missed {
				g.Records = append(g.Records, transferID(h))
			}
		}
		g.Shares = s.summed(shares)
		all = append(all, g)
	}
	return all
}

// itemsOf returns what single exceptions are about.
func (s *simulation) itemsOf(f Fault, e effect) []item {
	if f.Kind != Missing {
		if f.Kind.ofRecords() {
			return e.items
		}
		return []item{{loads: e.loads, hauls: e.hauls}}
	}
	var gaps []item
	for i, k := range e.loads {
		if i > 0 && s.sameGap(e.loads[i-1], k) {
			last := &gaps[len(gaps)-1]
			last.loads = append(last.loads, k)
			continue
		}
		gaps = append(gaps, item{loads: []int{k}})
	}
	return gaps
}

// sameGap reports whether no number in the tables lies between those of two loads.
func (s *simulation) sameGap(a, b int) bool {
	for k := a + 1; k < b; k++ {
		if len(s.loads[k].records) > 0 {
			return false
		}
	}
	return s.neighbours(a, b)
}

// around returns the records before and after a gap in the numbers of a loader, in its month.
func (s *simulation) around(gap []int) []string {
	var ids []string
	for _, way := range []int{-1, 1} {
		k := gap[0]
		if way > 0 {
			k = gap[len(gap)-1]
		}
		for s.neighbours(k, k+way) {
			if k += way; len(s.loads[k].records) > 0 {
				l := &s.loads[k]
				ids = append(ids, loadID(l, l.ticket))
				break
			}
		}
	}
	return ids
}

// missing returns what the records of a load make of the differences of piles: what truly left one, less what
// they have leave it or another. As long as they are right but for the error of the scale, nothing.
func (s *simulation) missing(l *load) []share {
	if l.fate.counted() && l.recorded == l.pile && l.slip == 0 {
		return nil
	}
	all := []share{{l.pile, l.month, l.solids}}
	if l.fate.counted() { // the wet mass leaves the pile that is recorded, at that pile's moisture
		all = append(all, share{l.recorded, l.month, -(l.wet + l.slip).dry(s.months[l.month].moisture[l.recorded])})
	}
	return all
}

// missing returns what the record of a transfer makes of the differences of piles.
func (h *haul) missing() []share {
	r := routes[h.route]
	switch {
	case h.missed:
		return []share{{r.from, h.month, h.solids}, {r.to, h.month, -h.solids}}
	case h.oneSided:
		return []share{{r.to, h.month, -h.solids}}
	}
	return nil
}

// byMoisture returns what wrong moistures that a fault has in force make of the differences of piles: of the
// pile that was tested wrongly, and of those to which its stone is carried.
func (s *simulation) byMoisture(by faulted) []share {
	var all []share
	for pile := range piles {
		for month := 1; month < len(s.months); month++ {
			if own := s.moistures[pile][month]; by == (faulted{}) || own.by != by {
				continue
			}
			all = append(all, s.moistureShares(pile, month)...)
		}
	}
	return all
}

func (s *simulation) moistureShares(pile, month int) []share {
	own, used := s.tested(pile, month), s.moistureInForce(pile, month)
	if own == used {
		return nil
	}
	gain := func(wet Grams) Grams { return wet.dry(used) - wet.dry(own) }
	m := s.months[month]
	all := []share{{pile, month, gain(m.made[pile].wet(m.moisture[pile]) + s.beltSlip(pile, month))}}
	for i := range s.loads {
		if l := &s.loads[i]; l.month == month && l.recorded == pile && l.fate.counted() {
			all[0].missing -= gain(l.wet + l.slip)
		}
	}
	for _, h := range s.hauls {
		r := routes[h.route]
		if h.month != month || r.from != pile || h.missed {
			continue
		}
		all[0].missing -= gain(h.wet)
		if !h.oneSided {
			all = append(all, share{r.to, month, gain(h.wet)})
		}
	}
	for _, f := range s.feeds {
		if f.month == month && f.pile == pile {
			all[0].missing -= gain(f.wet)
		}
	}
	return all
}

// summed returns shares in order of pile and month, each once, without those that are nothing.
func (s *simulation) summed(all []share) []PileShare {
	var sums []PileShare
	for pile := range piles {
		for month := 1; month < len(s.months); month++ {
			var sum Grams
			for _, x := range all {
				if x.pile == pile && x.month == month {
					sum += x.missing
				}
			}
			if sum != 0 {
				sums = append(sums, PileShare{piles[pile].code, s.cal.period(month), sum})
			}
		}
	}
	return sums
}
