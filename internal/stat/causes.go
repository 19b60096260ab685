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

// densityMass returns the mass of a survey as far as a density is in it.
func (o *Observations) densityMass(survey int) float64 {
	if s := o.Surveys[survey]; s.Density != None {
		return s.Mass
	}
	return 0
}

// addDensities adds each pile's density reading high by a fraction from each survey on. It shows once, as large as
// the stock, and from then on only as far as the stock changes.
func (b *hypothesisBuilder) addDensities() {
	for i := range b.piles {
		h := &b.piles[i]
		g := b.group(ClassDensity, 1)
		add := func(onset, signature int) {
			b.add(entry{Hypothesis{Cause: Cause{ClassDensity, h.pile, None, None}, Onset: onset, Shape: Step, Tau: b.p.Stock}, g, signature, 0})
		}
		// The changes of stock are signatures of their own: left to cancel, a stock that has not changed would leave
		// rounding errors, and they a likelihood.
		changes := 0
		for k, r := range slices.Backward(h.rows) {
			row := b.o.Balances[r]
			opening, closing := b.o.densityMass(row.Opening), b.o.densityMass(row.Closing)
			if closing != 0 {
				add(row.Period, b.signature(changes, Element{r, -closing}))
			}
			changes = b.signature(changes, Element{r, opening - closing})
			if opening != 0 && (k == 0 || b.o.Balances[h.rows[k-1]].Closing != row.Opening) {
				add(row.From, changes)
			}
		}
	}
}

// addSurveys adds each survey reading high by a fraction, and no other. It shows with one sign in the balance that
// it closes, and with the other in the balance that it opens.
func (b *hypothesisBuilder) addSurveys() {
	for i := range b.piles {
		h := &b.piles[i]
		g := b.group(ClassSurvey, 1)
		add := func(survey, onset int, effects ...Element) {
			if b.o.Surveys[survey].Mass != 0 {
				b.add(entry{Hypothesis{Cause: Cause{ClassSurvey, h.pile, None, None}, Onset: onset, Shape: Pulse, Tau: b.p.Stock},
					g, b.signature(0, effects...), 0})
			}
		}
		for k, r := range h.rows {
			row := b.o.Balances[r]
			opened, closed := Element{r, b.o.Surveys[row.Opening].Mass}, Element{r, -b.o.Surveys[row.Closing].Mass}
			if k == 0 || b.o.Balances[h.rows[k-1]].Closing != row.Opening {
				add(row.Opening, row.From, opened)
			}
			if k+1 < len(h.rows) && b.o.Balances[h.rows[k+1]].Opening == row.Closing {
				add(row.Closing, row.Period, closed, Element{h.rows[k+1], -closed.Value})
			} else {
				add(row.Closing, row.Period, closed)
			}
		}
	}
}
