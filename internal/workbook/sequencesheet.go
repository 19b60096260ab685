package workbook

import (
	"repose/internal/report"
	"repose/ledger"
)

// agreesOn reports whether a series adds up to what the register states.
func agreesOn(l *report.SequenceLine) bool { return l.Count+l.Missing-l.Duplicates == l.Expected }

// declareSequences declares every series of numbers: what is there, and what must be.
func (d *closeBook) declareSequences(s *sheet, lines []report.SequenceLine) {
	columns := d.sequenceColumns()
	var rows [][]value
	var sum report.SequenceLine
	expected, broken := 0, int64(0)
	for i := range lines {
		l := &lines[i]
		here := l.Count + l.Missing - l.Duplicates
		row := cells{"instrument": orBlank(l.Instrument), "series": orBlank(l.Series), "first": orBlank(l.First), "last": orBlank(l.Last), "agrees": check(agreesOn(l))}
		sequenceCounts(row, l, here)
		row["mass"], row["low"], row["high"] = mass(l.Mass.Mass()), mass(l.Low.Mass()), mass(l.High.Mass())
		rows = append(rows, d.row(columns, row))
		broken += bit(!agreesOn(l))
		expected += here
		sum.Count, sum.Missing, sum.Duplicates, sum.Expected = sum.Count+l.Count, sum.Missing+l.Missing, sum.Duplicates+l.Duplicates, sum.Expected+l.Expected
		sum.Voids, sum.OutOfOrder, sum.Mass = sum.Voids+l.Voids, sum.OutOfOrder+l.OutOfOrder, sum.Mass+l.Mass
		sum.Low, sum.High = sum.Low+l.Low, sum.High+l.High
	}
	total := cells{"instrument": text("All"), "mass": mass(sum.Mass.Mass())}
	sequenceCounts(total, &sum, expected)
	t := s.table(tableSpec{name: "Sequences", columns: columns, count: len(rows), rows: rowsOf(rows...), main: true, frozen: 2, total: d.row(columns, total),
		about: "Of every series: the numbers that are there, and those that are missing, less those that are there again, are as many as from the first to the last."})
	d.check(checkRow{"Sequences: series that do not add up", inCounts, computed(notOK(t, "first", "agrees"), integer(broken)), integer(0), 0, t.cell("agrees", 0)})
	for _, c := range []struct {
		key, what string
		n         int
	}{
		{"count", "numbers that are there", sum.Count}, {"missing", "missing", sum.Missing}, {"duplicates", "there again", sum.Duplicates},
		{"own", "expected", sum.Expected}, {"voids", "void", sum.Voids}, {"disorder", "out of order", sum.OutOfOrder},
	} {
		n := integer(int64(c.n))
		d.check(checkRow{"Sequences: " + c.what + ", all series", inCounts, computed(t.totalCell(c.key).String(), n), n, 0, t.totalCell(c.key)})
	}
	for _, c := range []struct {
		key, what string
		sum       ledger.Mass
	}{{"mass", "estimated mass of what is missing", sum.Mass.Mass()}, {"low", "hash total of the lower ends", sum.Low.Mass()}, {"high", "hash total of the upper ends", sum.High.Mass()}} {
		d.check(checkRow{"Sequences: " + c.what, inTonnes, computed(t.column(c.key).sum(), mass(c.sum)), mass(c.sum), roundingOf(len(lines), float64(sum.High)), t.cell(c.key, 0)})
	}
}

// sequenceCounts puts the counts of a series, or of all, into a row.
func sequenceCounts(row cells, l *report.SequenceLine, expected int) {
	for key, n := range map[string]int{"count": l.Count, "missing": l.Missing, "duplicates": l.Duplicates, "expected": expected, "own": l.Expected,
		"voids": l.Voids, "disorder": l.OutOfOrder} {
		row[key] = integer(int64(n))
	}
}

func (d *closeBook) sequenceColumns() []column {
	number := func(key, head, note string) column {
		return column{key: key, head: head, kind: kindInteger, width: 11, note: note}
	}
	columns := []column{
		{key: "instrument", head: "Instrument", kind: kindText, width: 14, note: "that gave the numbers"},
		{key: "series", head: "Series", kind: kindText, width: 16, wrap: true, note: "what its numbers have in common, and their year where they start anew"},
		{key: "first", head: "First", kind: kindText, width: 16, wrap: true, note: "number, as text"},
		{key: "last", head: "Last", kind: kindText, width: 16, wrap: true, note: "number, as text"},
		number("count", "There", "numbers that records have, void ones and those that are there again included"),
		number("missing", "Missing", "numbers between the first and the last that no record has"),
		number("duplicates", "There again", "records whose number another record has already"),
		number("expected", "Expected", "there + missing - there again"),
		number("own", "Register's own", "control: numbers from the first to the last"),
		{key: "agrees", head: "Adds up", kind: kindCheck, width: 10, formula: "{expected}={own}", note: "OK where it is so"},
		number("voids", "Void", "of those that are there"),
		number("disorder", "Out of order", "records whose time does not follow their number"),
		d.massColumn("mass", "Missing, estimated", "as weighed: the missing numbers at the usual mass of the series; an estimate, in no balance"),
		d.massColumn("low", "Low", "lower end of its 95 % interval"),
		d.massColumn("high", "High", "upper end of its 95 % interval"),
	}
	columns[7].formula, columns[8].role = "{count}+{missing}-{duplicates}", roleControl
	return append(columns, auditorColumns()...)
}
