package stat

import "slices"

// addScales adds each instrument reading high by a fraction from each period on. The epochs of an instrument
// are one here: what goes wrong does not always end with a calibration.
func (b *hypothesisBuilder) addScales() {
	type instrument struct {
		kind InstrumentKind
		id   int
	}
	type reading struct {
		period int
		Element
	}
	var order []instrument
	readings := map[instrument][]reading{}
	for row, balance := range b.o.Balances {
		for _, f := range balance.Flows {
			if f.Instrument == None {
				continue
			}
			in := instrument{b.o.Instruments[f.Instrument].Kind, b.o.Instruments[f.Instrument].ID}
			if readings[in] == nil {
				order = append(order, in)
			}
			readings[in] = append(readings[in], reading{f.Period, Element{row, f.Mass}})
		}
	}
	for _, in := range order {
		class := ClassLoader
		if in.kind == BeltWeigher {
			class = ClassBelt
		}
		g := b.group(class, 1)
		onward := 0
		for _, onset := range slices.Backward(b.periods) {
			column := gather{}
			for _, r := range readings[in] {
				if r.period == onset {
					column.add(r.Row, r.Value)
				}
			}
			if own := column.vector(1); len(own) > 0 { // otherwise it is the next onset's
				onward = b.signature(onward, own...)
				b.add(entry{Hypothesis{Cause: Cause{class, None, None, in.id}, Onset: onset, Shape: Step, Tau: b.p.Scale}, g, onward, 0})
			}
		}
	}
}

// survey uses are where a survey enters the balances of its pile: with a plus it opens one, with a minus
// it closes one.
type surveyUse struct {
	survey, onset int
	effects       Vector
}

// uses returns the surveys of a pile in order.
func (h *pileHistory) uses(o *Observations) []surveyUse {
	var uses []surveyUse
	add := func(survey, onset, row int, mass float64) {
		i := slices.IndexFunc(uses, func(u surveyUse) bool { return u.survey == survey })
		if i < 0 {
			i = len(uses)
			uses = append(uses, surveyUse{survey: survey, onset: onset})
		}
		if mass != 0 {
			uses[i].effects = append(uses[i].effects, Element{row, mass})
		}
	}
	for _, r := range h.rows {
		b := o.Balances[r]
		add(b.Opening, b.From, r, o.Surveys[b.Opening].Mass)
		add(b.Closing, b.Period, r, -o.Surveys[b.Closing].Mass)
	}
	return uses
}

// addStocks adds each survey wrong once, and each density wrong from a survey on. The first shows with one sign
// and a month later with the other; the second shows once, and then only as far as the stock changes.
func (b *hypothesisBuilder) addStocks() {
	for i := range b.piles {
		h := &b.piles[i]
		uses := h.uses(b.o)
		once, density := b.group(ClassSurvey, 1), b.group(ClassDensity, 1)
		onward := 0
		for _, u := range slices.Backward(uses) {
			if len(u.effects) == 0 {
				continue // of an empty pile
			}
			b.add(entry{Hypothesis{Cause: Cause{ClassSurvey, h.pile, None, None}, Onset: u.onset, Shape: Pulse, Tau: b.p.Stock}, once, b.signature(0, u.effects...), 0})
			if b.o.Surveys[u.survey].Density == None {
				continue
			}
			onward = b.signature(onward, u.effects...)
			b.add(entry{Hypothesis{Cause: Cause{ClassDensity, h.pile, None, None}, Onset: u.onset, Shape: Step, Tau: b.p.Stock}, density, onward, 0})
		}
	}
}
