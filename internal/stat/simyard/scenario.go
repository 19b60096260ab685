package simyard

// Scenario is a yard's fate: faults with a name.
type Scenario struct {
	Name   string
	Faults []Fault
}

// forGood is a month that no simulation reaches.
const forGood = 1 << 20

// Scenarios returns those of section 7.6 of the method page, no fault first, for [Standard] with months counted from the month
// after a clean history.
func Scenarios(history int) []Scenario {
	return shifted(history,
		Scenario{Name: "no fault"},
		Scenario{"800 t unrecorded, B, month 6", []Fault{{Kind: Loss, Pile: 1, From: 6, Until: 6, Size: 800}}},
		Scenario{"200 t/month unrecorded, B, from month 5", []Fault{{Kind: Loss, Pile: 1, From: 5, Until: forGood, Size: 200}}},
		Scenario{"1,000 t taken from C posted to B, month 7", []Fault{{Kind: Swap, Pile: 2, Other: 1, From: 7, Until: 7, Size: 1000}}},
		Scenario{"loader 1 +3 % from month 4", []Fault{{Kind: LoaderBias, Instrument: 0, From: 4, Until: forGood, Size: 0.03}}},
		Scenario{"belt 1 -3 % from month 4", []Fault{{Kind: BeltBias, Instrument: 0, From: 4, Until: forGood, Size: -0.03}}},
		Scenario{"density E +6 % from survey 8", []Fault{{Kind: WrongDensity, Pile: 4, From: 8, Until: forGood, Size: 0.06}}},
		Scenario{"2,200 t transfer F to E missed, month 9", []Fault{{Kind: MissedTransfer, Pile: 5, Other: 4, From: 9, Until: 9}}},
		Scenario{"survey A volume +5 % once, month 6", []Fault{{Kind: WrongSurvey, Pile: 0, From: 6, Until: 6, Size: 0.05}}},
	)
}

// HeldOut returns scenarios on which nothing was chosen.
func HeldOut(history int) []Scenario {
	return shifted(history,
		Scenario{"500 t transfer C to D missed, month 7", []Fault{{Kind: MissedTransfer, Pile: 2, Other: 3, From: 7, Until: 7}}},
		Scenario{"400 t unrecorded, D, month 8", []Fault{{Kind: Loss, Pile: 3, From: 8, Until: 8, Size: 400}}},
		Scenario{"150 t/month unrecorded, F, from month 3", []Fault{{Kind: Loss, Pile: 5, From: 3, Until: forGood, Size: 150}}},
		Scenario{"600 t taken from F posted to D, month 10", []Fault{{Kind: Swap, Pile: 5, Other: 3, From: 10, Until: 10, Size: 600}}},
		Scenario{"loader 2 -4 % from month 6", []Fault{{Kind: LoaderBias, Instrument: 1, From: 6, Until: forGood, Size: -0.04}}},
		Scenario{"belt 2 +4 % from month 5", []Fault{{Kind: BeltBias, Instrument: 1, From: 5, Until: forGood, Size: 0.04}}},
		Scenario{"density B -6 % from survey 5", []Fault{{Kind: WrongDensity, Pile: 1, From: 5, Until: forGood, Size: -0.06}}},
		Scenario{"survey C volume -6 % once, month 9", []Fault{{Kind: WrongSurvey, Pile: 2, From: 9, Until: 9, Size: -0.06}}},
		Scenario{"900 t of B recorded a month late, month 4", []Fault{{Kind: LumpedRecords, Pile: 1, From: 4, Until: 4, Size: 900}}},
	)
}

func shifted(months int, scenarios ...Scenario) []Scenario {
	for _, s := range scenarios {
		for i := range s.Faults {
			s.Faults[i].From += months
			s.Faults[i].Until += months
		}
	}
	return scenarios
}

// onset returns the first month of any fault, and the first month at all without one.
func (s Scenario) onset(first int) int {
	if len(s.Faults) == 0 {
		return first
	}
	from := forGood
	for _, f := range s.Faults {
		from = min(from, f.From)
	}
	return from
}
