package workbook

import (
	"repose/ledger"

	"github.com/shopspring/decimal"
)

// surveyLine is a pile with the survey that decides for it, or another survey of the month. comparison is
// nil where there is none.
type surveyLine struct {
	key        string // of the pile
	opening    ledger.Mass
	closing    ledger.Mass
	comparison *ledger.Comparison
	mark       surveyMark
}

// surveyLines returns a line for every pile, and then those of the surveys that no pile's line shows:
// earlier ones, and those of piles that are not in the register.
func (d *closeBook) surveyLines() (piles, others []surveyLine) {
	shown := make(map[*ledger.Comparison]bool)
	byPile := make(map[ledger.PileID]pileLine)
	for _, p := range d.piles {
		byPile[p.Pile] = p
		l := surveyLine{key: p.key, opening: p.Opening.Solids, closing: p.closing.Solids}
		if c := d.month.Final(p.Pile); c != nil {
			shown[c] = true
			l.comparison, l.mark = c, d.markOf(c)
		}
		piles = append(piles, l)
	}
	for i, c := range d.month.Comparisons {
		if !shown[c] {
			p := byPile[c.Pile]
			others = append(others, surveyLine{d.names.account(c.Pile.Account(), d.month.Yard.Code), p.Opening.Solids, p.closing.Solids, c, d.tally.surveys[i]})
		}
	}
	return piles, others
}

func (d *closeBook) markOf(c *ledger.Comparison) surveyMark {
	for i, other := range d.month.Comparisons {
		if other == c {
			return d.tally.surveys[i]
		}
	}
	return surveyMark{}
}

func (l surveyLine) hasDensity() bool { return l.comparison != nil && l.comparison.HasDensity }

// book is the book at the survey, by the entries.
func (l surveyLine) book() ledger.Mass { return l.opening + l.mark.before.in - l.mark.before.out }

// dryDensity is what the sheet's formula gives in t/m3, to more places than a cell keeps.
func dryDensity(t ledger.DensityTest) decimal.Decimal {
	hundred := decimal.NewFromInt(100)
	return t.MoistTPerM3.Mul(t.Compaction).Mul(hundred).DivRound(hundred.Add(t.Moisture.Percent()), 20)
}

// found is what the sheet's formula gives for a survey, in grams: not rounded.
func found(c *ledger.Comparison) decimal.Decimal {
	return c.Survey.NetM3().Mul(dryDensity(c.Density)).Shift(6)
}

// difference is what the sheet's formula gives for book less survey, in grams.
func (l surveyLine) difference() decimal.Decimal {
	return decimal.NewFromInt(int64(l.book())).Sub(found(l.comparison))
}

// residual is what the sheet's formula gives for the balance since the survey before, in grams; ok is false
// where there is no survey before or this one has no mass.
func (l surveyLine) residual() (r decimal.Decimal, ok bool) {
	if !l.hasDensity() || !l.comparison.HasBase {
		return r, false
	}
	b := l.comparison.Base
	return decimal.NewFromInt(int64(b.Solids + b.In - b.Out)).Sub(found(l.comparison)), true
}

func (d *closeBook) declareSurveys(s *sheet) {
	piles, others := d.surveyLines()
	volumes := d.declareVolumes(s, tableSpec{name: "SurveySolids", title: "From volume to solids", about: "The survey that decides for each pile, the last of the month.", main: true, frozen: 1}, piles)
	book := d.declareBook(s, tableSpec{name: "BookSurvey", title: "Book against survey", about: "The book as it stood when the survey ended. Positive differences: stone is missing."}, piles, volumes)
	d.bookSurvey = book
	d.declareThroughput(s, piles, book)
	d.declareLosses(s, piles, book)
	d.declareLimits(s, piles, book)
	d.declareErrors(s, piles)
	d.declareDensityEffects(s, piles)
	d.declareRolled(s, piles, book)
	d.declareSupport(s, append(piles[:len(piles):len(piles)], others...))
	if len(others) > 0 {
		early := d.declareVolumes(s, tableSpec{name: "OtherSolids", title: "Other surveys: from volume to solids", about: "Earlier surveys of the month, which do not decide, and surveys of piles that are not in the register."}, others)
		d.declareBook(s, tableSpec{name: "OtherBook", title: "Other surveys: book against survey"}, others, early)
	}
	d.declareNamed(s, append(piles[:len(piles):len(piles)], others...))
}

// surveyColumns are the first columns of the tables of this sheet, so that they stand in line.
func surveyColumns() []column {
	return []column{
		{key: "pile", head: "Pile", kind: kindText, width: 17, note: "the pile, by the name of its account in Entries"},
		{key: "survey", head: "Survey", kind: kindText, width: 20, note: "number of the survey; blank where the pile has none"},
		{key: "ended", head: "Ended", kind: kindInstant, width: 18, note: "when the survey ended, which is the instant at which the book is struck"},
	}
}

// cells returns the cells of surveyColumns.
func (l surveyLine) cells() cells {
	if l.comparison == nil {
		return cells{"pile": text(l.key)}
	}
	return cells{"pile": text(l.key), "survey": label(l.comparison.Survey.Survey), "ended": instant(l.comparison.Survey.End)}
}

// declareVolumes declares how each volume becomes a mass.
func (d *closeBook) declareVolumes(s *sheet, spec tableSpec, lines []surveyLine) *table {
	input := func(key, head, unit string, k kind, places int, note string) column {
		return column{key: key, head: head, unit: unit, kind: k, places: places, role: roleInput, width: 12, note: note}
	}
	columns := append(surveyColumns(),
		input("volume", "Volume", "m³", kindNumber, 3, "as measured"),
		input("deduction", "Deduction", "m³", kindNumber, 3, "what of the volume is not stone of this pile; reason below"),
		column{key: "net", head: "Net volume", unit: "m³", kind: kindNumber, places: 3, width: 12, note: "volume less deduction"},
		input("moist", "Moist density", "t/m³", kindNumber, 4, "bulk density as it was tested"),
		input("moisture", "Test moisture", "% dry", kindPercent, 0, "of the stone as its density was tested, in per cent of dry mass"),
		input("compaction", "Compaction", "1", kindNumber, 4, "factor from the tested state to the pile's; 1 for none"),
		column{key: "dry", head: "Dry density", unit: "t/m³", kind: kindNumber, places: 6, width: 12, note: "moist density x compaction / (1 + test moisture)"},
		d.massColumn("solids", "Survey solids", "net volume x dry density; not rounded here"),
		d.controlColumn("own", "Ledger's own survey", "control: what the ledger states, rounded half-even to the gram"))
	setFormulas(columns, map[string]string{
		"net":    "{volume}-{deduction}",
		"dry":    "{moist}*{compaction}/(" + d.params.ref(paramWhole) + "+{moisture})",
		"solids": "{net}*{dry}",
	})

	var rows [][]value
	var exact decimal.Decimal
	var own ledger.Mass
	for _, l := range lines {
		row := l.cells()
		if c := l.comparison; c != nil {
			row["volume"], row["deduction"], row["net"] = number(c.Survey.VolumeM3), number(c.Survey.DeductionM3), number(c.Survey.NetM3())
		}
		if l.hasDensity() {
			t := l.comparison.Density
			row["moist"], row["moisture"], row["compaction"] = number(t.MoistTPerM3), percent(t.Moisture.Percent()), number(t.Compaction)
			row["dry"], row["solids"], row["own"] = number(dryDensity(t)), tonnesOf(found(l.comparison)), mass(l.comparison.Found.Solids)
			exact, own = exact.Add(found(l.comparison)), own+l.comparison.Found.Solids
		}
		rows = append(rows, d.row(columns, row))
	}
	total := d.row(columns, cells{"pile": text("All"), "solids": tonnesOf(exact), "own": mass(own)})
	spec.columns, spec.count, spec.rows, spec.total = columns, len(rows), rowsOf(rows...), total
	t := s.table(spec)
	for i, l := range lines {
		if l.hasDensity() {
			d.check(checkRow{"Book v survey: solids of survey " + clip(l.comparison.Survey.Survey, maxKeyName) + " of " + l.key, inTonnes,
				computed(t.cell("solids", i).String(), tonnesOf(found(l.comparison))), mass(l.comparison.Found.Solids), 1, t.cell("solids", i)})
		}
	}
	return t
}

// declareBook declares the book at each survey, from the entries before it, and the difference.
func (d *closeBook) declareBook(s *sheet, spec tableSpec, lines []surveyLine, volumes *table) *table {
	e, roll := d.entries, d.roll[solidsFacet]
	before := where(e.column("order"), `"<="&{after}`)
	formulas := map[string]string{
		"opening":    sumIfs(roll.column("opening"), where(roll.column("pile"), "{pile}")),
		"in":         sumIfs(e.column("solids"), where(e.column("to"), "{pile}"), before),
		"out":        sumIfs(e.column("solids"), where(e.column("from"), "{pile}"), before),
		"book":       "{opening}+{in}-{out}",
		"difference": "{book}-{survey_solids}",
		"of_book":    "{difference}/{book}",
	}
	columns := append(surveyColumns(),
		column{key: "after", head: "After entry", kind: kindInteger, width: 12, note: "order number of the last entry before the survey: records of the same instant that are entered before it included, late records included, the adjustment to it not"},
		d.massColumn("opening", "Opening", "solids at the start of the month"),
		d.massColumn("in", "In before", "solids of entries to the pile up to that number"),
		d.massColumn("out", "Out before", "solids of entries from the pile up to that number"),
		d.massColumn("book", "Book solids", "opening, plus in, less out: the book at the survey's end"),
		d.controlColumn("own", "Ledger's own book", "control: what the ledger states"),
		d.massColumn("survey_solids", "Survey solids", "from the block of volumes"),
		d.massColumn("difference", "Difference", "book less survey; positive where stone is missing"),
		column{key: "of_book", head: "Of book", unit: "%", kind: kindPercent, width: 11, note: "difference in per cent of book solids"},
		column{key: "decision", head: "Decision", kind: kindText, width: 19, note: "no survey, no density, keep book, take survey, or later survey decides"})
	columns = append(setFormulas(columns, formulas), auditorColumns()...)

	var rows [][]value
	for i, l := range lines {
		row := l.cells()
		row["decision"] = text(ledger.OutcomeNoSurvey.String())
		if c := l.comparison; c != nil {
			row["after"], row["opening"] = integer(int64(l.mark.order)), mass(l.opening)
			row["in"], row["out"], row["book"] = mass(l.mark.before.in), mass(l.mark.before.out), mass(l.book())
			row["own"], row["decision"] = mass(c.Book.Solids), text(c.Outcome.String())
		}
		if l.hasDensity() {
			row["survey_solids"] = computed(volumes.cell("solids", i).local(), tonnesOf(found(l.comparison)))
			row["difference"] = tonnesOf(l.difference())
			if l.book() != 0 {
				row["of_book"] = ratio(l.difference().InexactFloat64() / float64(l.book()))
			}
		}
		rows = append(rows, d.row(columns, row))
	}
	spec.columns, spec.count, spec.rows = columns, len(rows), rowsOf(rows...)
	t := s.table(spec)
	for i, l := range lines {
		if c := l.comparison; c != nil {
			d.check(checkRow{"Book v survey: book at survey " + clip(c.Survey.Survey, maxKeyName) + " of " + l.key, inTonnes,
				computed(t.cell("book", i).String(), mass(l.book())), mass(c.Book.Solids), d.sumTolerance(), t.cell("book", i)})
		}
	}
	return t
}
