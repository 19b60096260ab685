package workbook

import "repose/internal/report"

// wordLapsed is what the report says of a certificate that ran out before its instrument last weighed.
const wordLapsed = "lapsed"

// declareInstruments declares the instruments as they were registered for the month.
func (d *closeBook) declareInstruments(s *sheet, lines []report.InstrumentLine) {
	columns := instrumentColumns()
	var rows [][]value
	lapsed := 0
	for i := range lines {
		l := &lines[i]
		row := cells{"instrument": orBlank(l.Instrument), "weighs": orBlank(l.Weighs), "from": instantOrBlank(l.From), "until": instantOrBlank(l.Until), "certificate": orBlank(l.Certificate),
			"class": orBlank(l.Class), "systematic": optionalPercent(l.Systematic), "random": optionalPercent(l.Random), "used": instantOrBlank(l.LastUse), "in_date": orBlank(l.InDate)}
		if l.Factor.Valid {
			row["factor"] = number(l.Factor.Decimal)
		}
		lapsed += int(bit(l.InDate == wordLapsed))
		rows = append(rows, d.row(columns, row))
	}
	t := s.table(tableSpec{name: "Instruments", columns: columns, count: len(rows), rows: rowsOf(rows...), main: true, frozen: 1,
		about: "As registered when they last weighed in the month, or at its end. Inventory weights: whether an instrument may be used in trade is another matter."})
	d.counted("Instruments: number of instruments", t, "instrument", len(lines))
	n := integer(int64(lapsed))
	d.check(checkRow{"Instruments: certificates that had lapsed", inCounts, computed("COUNTIF("+t.column("in_date").areas[0].String()+","+quoted(wordLapsed)+")", n), n, 0, t.cell("in_date", 0)})
}

func instrumentColumns() []column {
	return append([]column{
		{key: "instrument", head: "Instrument", kind: kindText, width: 14, wrap: true, note: "its code"},
		{key: "weighs", head: "Kind", kind: kindText, width: 9, note: "belt, loader or deck"},
		{key: "from", head: "Certified from", kind: kindInstant, width: 18, note: "from when the registration holds, on the yard's clock"},
		{key: "until", head: "Until", kind: kindInstant, width: 18, note: "up to, and not including; blank where no end is stated"},
		{key: "certificate", head: "Certificate", kind: kindText, width: 20, wrap: true, note: "its number, as registered"},
		{key: "class", head: "Class", kind: kindText, width: 12, wrap: true, note: "of the certificate, as registered"},
		{key: "systematic", head: "Systematic u", unit: "%", kind: kindPercent, width: 12, note: "relative standard uncertainty that all its weighings share; blank where not stated"},
		{key: "random", head: "Random u", unit: "%", kind: kindPercent, width: 11, note: "relative standard uncertainty of each weighing by itself; blank where not stated"},
		{key: "factor", head: "Factor", unit: "1", kind: kindNumber, places: 6, width: 11, note: "that the masses of a belt are multiplied by, by policy; blank where there is none"},
		{key: "used", head: "Last use", kind: kindInstant, width: 18, note: "in the month; blank where it did not weigh"},
		{key: "in_date", head: "In date", kind: kindText, width: 14, alarm: []string{wordLapsed}, note: "yes, lapsed before its last use or the month's end, or no date stated"},
	}, auditorColumns()...)
}
