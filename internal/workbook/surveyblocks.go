package workbook

import (
	"cmp"
	"strings"
	"time"

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
	columns[6].formula = "MAX({in},{out})"
	var rows [][]value
	for i, l := range lines {
		row := append([]value{text(l.key)}, make([]value, 8)...)
		if c := l.comparison; c != nil && c.HasBase {
			b := c.Base
			row[1], row[2], row[3], row[4], row[5] = label(baseName(b.Record, c.Pile.Code)), instant(b.At), mass(b.Solids), mass(b.In), mass(b.Out)
			row[6] = mass(b.Throughput())
			if c.HasDensity {
				residual := decimal.NewFromInt(int64(b.Solids + b.In - b.Out)).Sub(found(c))
				row[7] = computed("{base}+{in}-{out}-"+book.cell("survey_solids", i).local(), tonnesOf(residual))
			}
			if c.HasDensity && b.Throughput() != 0 {
				row[8] = computed(book.cell("difference", i).local()+"/{throughput}", ratio(l.difference().InexactFloat64()/float64(b.Throughput())))
			}
		}
		rows = append(rows, row)
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

// testName names a test of a pile or a product by the instant it was taken.
func (d *closeBook) testName(pile, product string, taken time.Time) string {
	of := ledger.KindPileRecord.String() + " " + pile
	if pile == "" {
		of = ledger.KindProductRecord.String() + " " + product
	}
	return of + ", " + taken.In(d.month.Zone).Format("2006-01-02 15:04 -07:00")
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
	columns[8].formula = "IF({joined}=" + d.params.ref(paramJoinAnd) + ",MAX({mass_part},{percent_part}),IF({joined}=" + d.params.ref(paramJoinOr) +
		",MIN({mass_part},{percent_part}),{mass_part}+{percent_part}))"
	var rows [][]value
	var limits []decimal.Decimal
	for i, l := range lines {
		row := append(l.head(), make([]value, 8)...)
		limit := decimal.Zero
		if l.hasDensity() && l.comparison.HasLimit {
			rule := d.close.Register.Policies(d.month.Yard.Code, l.comparison.Survey.End).Limit
			var part decimal.Decimal
			limit, part = limitOf(rule, l)
			join := rule.Join.String()
			if rule.Mass.Valid {
				row[3] = tonnesOf(rule.Mass.Decimal)
			} else {
				join = joinSingle
			}
			if rule.Percent.Valid {
				row[4] = percent(rule.Percent.Decimal)
			} else {
				join = joinSingle
			}
			row[5], row[6] = text(rule.Of.String()), text(join)
			row[7] = computed("IF({of}="+d.params.ref(paramOfBook)+",ABS("+book.cell("book", i).local()+"),"+d.throughput.cell("throughput", i).local()+")*{percent}", tonnesOf(part))
			row[8], row[9] = tonnesOf(limit), mass(l.comparison.Limit)
			row[10] = computed("ABS("+book.cell("difference", i).local()+")>{limit}", boolean(l.difference().Abs().GreaterThan(limit)))
		}
		limits = append(limits, limit)
		rows = append(rows, row)
	}
	t := s.table(tableSpec{name: "Limits", title: "The yard's own limit", about: "A rule for what must be explained. It does not say whether a difference is real. Blank where the yard has set none.", columns: columns, count: len(rows), rows: rowsOf(rows...)})
	for i, l := range lines {
		if l.hasDensity() && l.comparison.HasLimit {
			d.check(checkRow{"Book v survey: limit of " + l.key, inTonnes, computed(t.cell("limit", i).String(), tonnesOf(limits[i])),
				mass(l.comparison.Limit), 1 + d.sumTolerance(), t.cell("limit", i)})
		}
	}
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
	for i := range columns {
		columns[i].formula = formulas[columns[i].key]
	}
	var rows [][]value
	for i, l := range lines {
		row := append(l.head(), make([]value, 8)...)
		row[9] = mass(l.closing)
		if l.hasDensity() {
			a := l.mark.after()
			rolled := found(l.comparison).Add(decimal.NewFromInt(int64(a.in - a.out)))
			row[3] = computed(book.cell("after", i).local(), integer(int64(l.mark.order)))
			row[4] = computed(book.cell("survey_solids", i).local(), tonnesOf(found(l.comparison)))
			row[5], row[6], row[7], row[8] = mass(a.in), mass(a.out), tonnesOf(rolled), mass(l.comparison.Rolled())
			row[10] = tonnesOf(decimal.NewFromInt(int64(l.closing)).Sub(rolled).Round(0))
		}
		rows = append(rows, row)
	}
	t := s.table(tableSpec{name: "Rolled", title: "Survey rolled forward to the end of the month", columns: columns, count: len(rows), rows: rowsOf(rows...)})
	for i, l := range lines {
		if l.hasDensity() {
			a := l.mark.after()
			d.check(checkRow{"Book v survey: survey rolled forward of " + l.key, inTonnes,
				computed(t.cell("rolled", i).String(), tonnesOf(found(l.comparison).Add(decimal.NewFromInt(int64(a.in-a.out))))),
				mass(l.comparison.Rolled()), 1 + d.sumTolerance(), t.cell("rolled", i)})
		}
	}
}

// declareSupport declares what each survey rests on.
func (d *closeBook) declareSupport(s *sheet, lines []surveyLine) {
	words := func(key, head, note string) column {
		return column{key: key, head: head, kind: kindText, width: 12, wrap: true, note: note}
	}
	columns := append(surveyColumns()[:2],
		column{key: "started", head: "Started", kind: kindInstant, width: 18, note: "when the survey began; movements from here to its end are listed below"},
		words("offset", "UTC offset at the end", "of the yard's clock when the survey ended"),
		words("method", "Method", "how the volume was measured"),
		words("surveyor", "Surveyor", "a code, not a name"),
		words("report", "Report", "the surveyor's reference"),
		words("base", "Base", "surface under the pile that the volume was taken from"),
		words("reason", "Deduction reason", "why a part of the volume is not counted"),
		column{key: "volume_u", head: "Volume u", unit: "%", kind: kindPercent, width: 11, note: "relative standard uncertainty of the volume; blank where not stated"},
		column{key: "toe_area", head: "Toe area", unit: "m²", kind: kindNumber, places: 1, width: 11, note: "plan area inside the toe line; blank where not stated"},
		words("density", "Density test", "the test in force at the end: of which pile or product, and when it was taken; see Policies"),
		words("density_later", "Density taken", "before or after the survey ended"),
		column{key: "moisture", head: "Moisture", unit: "% dry", kind: kindPercent, width: 9, note: "of the pile when the survey ended; parts no solids here, and gives the water of an adjustment"},
		words("moisture_from", "Moisture by", "how that moisture was found"))
	var rows [][]value
	for _, l := range lines {
		c := l.comparison
		if c == nil {
			continue
		}
		sv := c.Survey
		row := []value{text(l.key), label(sv.Survey), instant(sv.Start), text(sv.End.In(d.month.Zone).Format("-07:00")), orBlank(sv.Method),
			orBlank(sv.Surveyor), orBlank(sv.Report), orBlank(sv.Base), orBlank(sv.DeductionReason), {}, {}, {}, {},
			percent(c.Moisture.Percent()), text(foundBy(c.MoistureFrom))}
		if sv.VolumeU.Valid {
			row[9] = percent(sv.VolumeU.Decimal)
		}
		if sv.ToeAreaM2.Valid {
			row[10] = number(sv.ToeAreaM2.Decimal)
		}
		if c.HasDensity {
			row[11], row[12] = label(d.testName(c.Density.Pile, c.Density.Product, c.Density.Taken)), text(map[bool]string{false: "before", true: "after"}[c.DensityLater])
		}
		rows = append(rows, row)
	}
	s.table(tableSpec{name: "Support", title: "What the surveys rest on", columns: columns, count: len(rows), rows: rowsOf(rows...)})
}

// foundBy says in words how a moisture was found.
func foundBy(f ledger.Flags) string { return cmp.Or(strings.Join(f.Names(), "; "), "test of the pile") }

// declareNamed declares the movements that stand beside a survey.
func (d *closeBook) declareNamed(s *sheet, lines []surveyLine) {
	beside := func() []column {
		return append(surveyColumns()[:2],
			column{key: "at", head: "Time", kind: kindInstant, width: 18, note: "when it happened; of a cut-off item when it was weighed out"},
			column{key: "offset", head: "UTC offset", kind: kindText, width: 12, note: "of the yard's clock at that time"},
			d.massColumn("solids", "Solids", "into the pile if positive; in the book figure already"),
			column{key: "truck", head: "Truck", kind: kindText, width: 12, note: "as the record has it"})
	}
	record := column{key: "record", head: "Record", kind: kindText, width: 12, note: "ID of the movement's record; see Entries"}
	window := append(beside(), record)
	cutOff := append(beside(),
		column{key: "deck_ticket", head: "Deck ticket", kind: kindText, width: 12, note: "number of the deck scale's ticket"},
		column{key: "minutes", head: "After loading", unit: "min", kind: kindNumber, places: 1, width: 12, note: "time from loading to weighing out"}, record)
	var inWindow, between [][]value
	var windowSum, betweenSum ledger.Mass
	for _, l := range lines {
		if l.comparison == nil {
			continue
		}
		for _, item := range l.comparison.InWindow {
			inWindow = append(inWindow, append(d.besides(l, item, item.Record.At), label(item.Record.ID())))
			windowSum += item.Net.Solids
		}
		for _, item := range l.comparison.Straddling {
			wait := item.Deck.At.Sub(item.Record.At)
			between = append(between, append(d.besides(l, item, item.Deck.At), orBlank(item.Deck.Ticket), float(wait.Minutes()), label(item.Record.ID())))
			betweenSum += item.Net.Solids
		}
	}
	s.table(tableSpec{name: "InWindow", title: "Moved while its pile was being surveyed", columns: window, count: len(inWindow), rows: rowsOf(inWindow...),
		total: []value{text("All"), {}, {}, {}, mass(windowSum), {}, {}}})
	s.table(tableSpec{name: "CutOff", title: "Cut-off", about: "Loaded before the survey ended, weighed out after it: neither in the pile nor in the book.", columns: cutOff, count: len(between), rows: rowsOf(between...),
		total: []value{text("All"), {}, {}, {}, mass(betweenSum), {}, {}, {}, {}}})
}

func (d *closeBook) besides(l surveyLine, item ledger.Item, at time.Time) []value {
	_, truck, _ := papers(item.Record.Fact)
	return []value{text(l.key), label(l.comparison.Survey.Survey), instant(at), text(at.In(d.month.Zone).Format("-07:00")), mass(item.Net.Solids), orBlank(truck)}
}
