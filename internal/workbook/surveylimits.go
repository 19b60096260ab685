package workbook

import (
	"strings"

	"repose/ledger"

	"github.com/shopspring/decimal"
)

// declareThroughput declares what came and went since the survey before, or since the pile's opening.
func (d *closeBook) declareThroughput(s *sheet, lines []surveyLine, book *table) {
	columns := append(surveyColumns()[:1],
		column{key: "counted_from", head: "Counted from", kind: kindText, width: 20, note: "the survey before, or the record by which the pile began"},
		column{key: "since", head: "Since", kind: kindInstant, width: 18, note: "its instant"},
		column{key: "base", head: "It found", unit: "t", kind: kindTonnes, width: 12, note: "solids of that survey or opening"},
		d.massColumn("in", "In since", "solids that came since, over all months, adjustments and weather aside; the ledger's own"),
		d.massColumn("out", "Out since", "solids that went since; the ledger's own"),
		d.massColumn("throughput", "Throughput", "the larger of in and out"),
		d.massColumn("residual", "Residual", "it found, plus in, less out, less this survey: the difference without what earlier months left in the book; positive where stone is missing"),
		column{key: "of_throughput", head: "Of throughput", unit: "%", kind: kindPercent, width: 11, note: "difference of book and survey in per cent of throughput"})
	setFormulas(columns, map[string]string{"throughput": "MAX({in},{out})"})
	var rows [][]value
	for i, l := range lines {
		row := cells{"pile": text(l.key)}
		if c := l.comparison; c != nil && c.HasBase {
			b := c.Base
			row["counted_from"], row["since"], row["base"] = label(baseName(b.Record, c.Pile.Code)), instant(b.At), mass(b.Solids)
			row["in"], row["out"], row["throughput"] = mass(b.In), mass(b.Out), mass(b.Throughput())
			if residual, ok := l.residual(); ok {
				row["residual"] = computed("{base}+{in}-{out}-"+book.cell("survey_solids", i).local(), tonnesOf(residual))
			}
			if c.HasDensity && b.Throughput() != 0 {
				share := l.difference().InexactFloat64() / float64(b.Throughput())
				row["of_throughput"] = computed(book.cell("difference", i).local()+"/{throughput}", ratio(share))
			}
		}
		rows = append(rows, d.row(columns, row))
	}
	d.throughput = s.table(tableSpec{name: "Throughput", title: "Since the survey before", columns: columns, count: len(rows), rows: rowsOf(rows...)})
}

// baseName says in words what a pile is counted from: "survey S7", or the kind of record by which its book
// began. id is kind:yard:key, and the key of a survey ends in its pile.
func baseName(id, pile string) string {
	parts := strings.SplitN(id, ":", 3)
	if len(parts) == 3 && parts[0] == ledger.KindSurveyRecord.String() {
		return parts[0] + " " + strings.TrimSuffix(parts[2], "/"+pile)
	}
	return parts[0]
}

// declareLimits declares the limit of each survey, from the policies in force at its end.
func (d *closeBook) declareLimits(s *sheet, lines []surveyLine, book *table) {
	columns := append(surveyColumns(),
		column{key: "mass_part", head: "Mass part", unit: "t", kind: kindTonnes, role: roleInput, width: 12, note: "policy limit mass; blank where not set"},
		column{key: "percent", head: "Per cent", unit: "%", kind: kindPercent, role: roleInput, width: d.massWidth, note: "policy limit percent; blank where not set"},
		column{key: "of", head: "Of", kind: kindText, role: roleInput, width: d.massWidth, note: "policy limit of: book or throughput"},
		column{key: "joined", head: "Joined by", kind: kindText, role: roleInput, width: d.massWidth,
			note: "policy limit join: and takes the larger part, or the smaller, plus the sum; " + joinSingle + " where only one is set"},
		d.massColumn("percent_part", "Per cent part", "per cent of the book solids at the survey, or of the throughput"),
		d.massColumn("limit", "Limit", "of the size of the difference; a rule for what must be explained, and no test of whether the difference is real"),
		d.controlColumn("own", "Ledger's own limit", "control: what the ledger states, rounded half-even to the gram"),
		column{key: "beyond", head: "Beyond limit", kind: kindBool, width: 11, note: "TRUE where the difference, in either direction, is greater than the limit"})
	setFormulas(columns, map[string]string{
		"limit": "IF({joined}=" + d.params.ref(paramJoinAnd) + ",MAX({mass_part},{percent_part}),IF({joined}=" + d.params.ref(paramJoinOr) +
			",MIN({mass_part},{percent_part}),{mass_part}+{percent_part}))",
	})
	var rows [][]value
	limits := make([]decimal.Decimal, len(lines))
	for i, l := range lines {
		row := l.cells()
		if l.hasDensity() && l.comparison.HasLimit {
			rule := d.ruleOf(l)
			var part decimal.Decimal
			limits[i], part = limitOf(rule, l)
			row["joined"] = text(joinSingle)
			if rule.Mass.Valid && rule.Percent.Valid {
				row["joined"] = text(rule.Join.String())
			}
			if rule.Mass.Valid {
				row["mass_part"] = tonnesOf(rule.Mass.Decimal)
			}
			row["percent"], row["of"] = optionalPercent(rule.Percent), text(rule.Of.String())
			base := "IF({of}=" + d.params.ref(paramOfBook) + ",ABS(" + book.cell("book", i).local() + ")," + d.throughput.cell("throughput", i).local() + ")"
			row["percent_part"] = computed(base+"*{percent}", tonnesOf(part))
			row["limit"], row["own"] = tonnesOf(limits[i]), mass(l.comparison.Limit)
			row["beyond"] = computed("ABS("+book.cell("difference", i).local()+")>{limit}", l.beyond(limits[i]))
		}
		rows = append(rows, d.row(columns, row))
	}
	d.limits = s.table(tableSpec{name: "Limits", title: "The yard's own limit", about: "A rule for what must be explained. It does not say whether a difference is real. Blank where the yard has set none.", columns: columns, count: len(rows), rows: rowsOf(rows...)})
	for i, l := range lines {
		if l.hasDensity() && l.comparison.HasLimit {
			d.check(checkRow{"Book v survey: limit of " + l.key, inTonnes, computed(d.limits.cell("limit", i).String(), tonnesOf(limits[i])),
				mass(l.comparison.Limit), 1 + d.sumTolerance(), d.limits.cell("limit", i)})
		}
	}
}

// ruleOf returns the limit in force at a survey.
func (d *closeBook) ruleOf(l surveyLine) ledger.Limit {
	return d.close.Register.Policies(d.month.Yard.Code, l.comparison.Survey.End).Limit
}

// beyond is what the sheet's formula gives for a difference held against a limit in grams.
func (l surveyLine) beyond(limit decimal.Decimal) value {
	return boolean(l.difference().Abs().GreaterThan(limit))
}

// limitOf returns what the sheet's formulas give for a limit and its per cent part, in grams.
func limitOf(rule ledger.Limit, l surveyLine) (limit, part decimal.Decimal) {
	base := l.book().Abs()
	if rule.Of == ledger.LimitOfThroughput {
		base = l.comparison.Base.Throughput()
	}
	part = decimal.NewFromInt(int64(base)).Mul(rule.Percent.Decimal).Shift(-2)
	switch {
	case !rule.Mass.Valid || !rule.Percent.Valid || rule.Join == ledger.LimitPlus:
		return rule.Mass.Decimal.Add(part), part
	case rule.Join == ledger.LimitOr:
		return decimal.Min(rule.Mass.Decimal, part), part
	}
	return decimal.Max(rule.Mass.Decimal, part), part
}

// rolled is what the sheet's formula gives for the survey at the month's end, in grams.
func (l surveyLine) rolled() decimal.Decimal {
	a := l.mark.after()
	return found(l.comparison).Add(decimal.NewFromInt(int64(a.in - a.out)))
}

// declareRolled declares each survey carried forward to the month's end.
func (d *closeBook) declareRolled(s *sheet, lines []surveyLine, book *table) {
	e, roll := d.entries, d.roll[solidsFacet]
	after, moved := where(e.column("order"), `">"&{after}`), where(e.column("movement"), `"<>"&`+d.params.movement(ledger.ColumnShrinkage))
	formulas := map[string]string{
		"in":       sumIfs(e.column("solids"), where(e.column("to"), "{pile}"), after, moved),
		"out":      sumIfs(e.column("solids"), where(e.column("from"), "{pile}"), after, moved),
		"rolled":   "{survey_solids}+{in}-{out}",
		"closing":  sumIfs(roll.column("closing"), where(roll.column("pile"), "{pile}")),
		"leftover": "ROUND({closing}-{rolled}," + d.params.ref(paramPlaces) + ")",
	}
	columns := append(surveyColumns(),
		column{key: "after", head: "After entry", kind: kindInteger, width: 12, note: "as above"},
		d.massColumn("survey_solids", "Survey solids", "as above"),
		d.massColumn("in", "In after", "solids of entries to the pile after that number, adjustments aside"),
		d.massColumn("out", "Out after", "solids of entries from the pile after that number, adjustments aside"),
		d.massColumn("rolled", "Rolled forward", "survey, plus in, less out: what the survey says lies there at the month's end"),
		d.controlColumn("own", "Ledger's own rolled", "control: what the ledger states"),
		d.massColumn("closing", "Closing book", "from the roll-forward"),
		d.massColumn("leftover", "Book less rolled", "what of the difference is still in the book, rounded to the gram: nothing where the book took the survey"))
	setFormulas(columns, formulas)
	var rows [][]value
	for i, l := range lines {
		row := l.cells()
		row["closing"] = mass(l.closing)
		if l.hasDensity() {
			a, rolled := l.mark.after(), l.rolled()
			row["after"] = computed(book.cell("after", i).local(), integer(int64(l.mark.order)))
			row["survey_solids"] = computed(book.cell("survey_solids", i).local(), tonnesOf(found(l.comparison)))
			row["in"], row["out"] = mass(a.in), mass(a.out)
			row["rolled"], row["own"] = tonnesOf(rolled), mass(l.comparison.Rolled())
			row["leftover"] = tonnesOf(decimal.NewFromInt(int64(l.closing)).Sub(rolled).Round(0))
		}
		rows = append(rows, d.row(columns, row))
	}
	t := s.table(tableSpec{name: "Rolled", title: "Survey rolled forward to the end of the month", columns: columns, count: len(rows), rows: rowsOf(rows...)})
	for i, l := range lines {
		if l.hasDensity() {
			d.check(checkRow{"Book v survey: survey rolled forward of " + l.key, inTonnes, computed(t.cell("rolled", i).String(), tonnesOf(l.rolled())),
				mass(l.comparison.Rolled()), 1 + d.sumTolerance(), t.cell("rolled", i)})
		}
	}
}
