package workbook

import (
	"repose/internal/report"
	"repose/ledger"
)

// declareSensitivity declares what one step of each measured quantity does to the closing figure of each pile.
func (d *closeBook) declareSensitivity(s *sheet, piles []report.SensitivityPile) {
	columns := d.sensitivityColumns()
	var rows [][]value
	for i := range piles {
		p := &piles[i]
		for j := range p.Lines {
			l := &p.Lines[j]
			row := cells{"pile": text(d.pileKey(p.Pile)), "product": orBlank(p.Product), "rests": orBlank(p.Rests), "closing": mass(p.Solids.Mass()), "adjusted": mass(p.Adjusted.Mass()),
				"step": orBlank(l.Quantity), "more": mass(l.Up.Mass()), "less": optionalMass(l.Down), "slope": mass(l.Slope.Mass()),
				"more_adjusted": mass(l.UpAdjusted.Mass()), "less_adjusted": optionalMass(l.DownAdjusted)}
			if p.Solids != 0 {
				row["share"] = ratio(float64(max(l.Up.Mass().Abs(), massOf(l.Down).Abs())) / float64(p.Solids.Mass().Abs()))
			}
			rows = append(rows, d.row(columns, row))
		}
	}
	t := s.table(tableSpec{name: "Sensitivity", columns: columns, count: len(rows), rows: rowsOf(rows...), main: true, frozen: 1,
		about: "Each figure is worked out again with the quantity a step more and a step less, and by the derivative as a second route. There are no totals: piles that do not share an error do not go wrong together, and a plain sum would say that they do."})
	d.counted("Sensitivity: number of steps", t, "step", len(rows))
}

func (d *closeBook) sensitivityColumns() []column {
	columns := []column{
		wordColumn("pile", "Pile", 17, "the pile, by the name of its account in Entries"),
		wordColumn("product", "Product", 13, "what lies in it"),
		wordColumn("rests", "Rests on", 15, "the survey that the closing figure is carried forward from, or the book"),
		d.controlColumn("closing", "Closing", "control: solids at the month's end, by the survey carried forward or by the book; the formula takes it"),
		wordColumn("step", "Step", 17, "the quantity, and by how much it is changed: per cent of itself, or a percentage point"),
		d.controlColumn("more", "A step more", "control: by how much the closing solids change; the formula takes it"),
		d.controlColumn("less", "A step less", "control: the same for less; blank where a moisture would fall below bone dry; the formula takes it"),
		d.controlColumn("slope", "By the derivative", "control: the derivative times the step, rounded half-even to the gram; near the step more, whose rounding and curve it does not have"),
		{key: "share", head: "Larger of both", unit: "%", kind: kindPercent, width: 11, formula: "MAX(ABS({more}),ABS({less}))/ABS({closing})", note: "the larger change without its sign, in per cent of the closing solids; blank where there are none"},
		d.controlColumn("adjusted", "Closing, adjusted", "control: the closing figure at the reference moisture"),
		d.controlColumn("more_adjusted", "More, adjusted", "control: by how much that changes with a step more"),
		d.controlColumn("less_adjusted", "Less, adjusted", "control: and with a step less"),
	}
	return append(columns, auditorColumns()...)
}

// tonnesWithin reports whether two masses differ by no more than the tolerance of sums over entries, which formulas know.
func (d *closeBook) tonnesWithin(a, b ledger.Mass) bool {
	return (a - b).Abs() <= ledger.Mass(d.sumTolerance())
}
