package workbook

import (
	"repose/internal/report"
	"repose/ledger"
)

// Words for whether an act has to be approved by a second person.
const (
	wordYes = "yes"
	wordNo  = "no"
)

func yesNo(is bool) value { return text(map[bool]string{true: wordYes, false: wordNo}[is]) }

// declareActs declares what people did to the book, with the second person where one is needed.
func (d *closeBook) declareActs(s *sheet, acts []report.Act) {
	columns := d.actColumns()
	var rows [][]value
	var sum ledger.Mass
	waiting := 0 // by the report's own reading
	for i := range acts {
		a := &acts[i]
		row := cells{"record": label(a.Record), "what": orBlank(a.What), "pile": d.pileOrBlank(a.Pile), "solids": mass(a.Solids.Mass()), "text": prose(a.Text), "reason": prose(a.Reason),
			"by": orBlank(a.By), "recorded": instantOrBlank(a.Recorded), "approved_by": orBlank(a.ApprovedBy), "approved": instantOrBlank(a.Approved), "needs": yesNo(a.NeedsTwo)}
		good := !a.NeedsTwo || twoNames(row["by"], row["approved_by"])
		row["two"] = check(good)
		d.badActs += int(bit(!good))
		waiting += int(bit(!a.TwoPeople()))
		sum += a.Solids.Mass()
		rows = append(rows, d.row(columns, row))
	}
	s.note("Waivers, decisions about surveys, settlements and their corrections, reopenings, factors of belts and changed column maps since the close before. " +
		"Who wrote a record is what the operating system and the writer said; nothing here is about what kind of person that is.")
	s.gap()
	d.acts = s.table(tableSpec{name: "Acts", columns: columns, count: len(rows), rows: rowsOf(rows...), main: true, frozen: 1,
		total: d.row(columns, cells{"record": text("All"), "solids": mass(sum)})})
	t := d.acts
	d.counted("Adjustments: number of acts", t, "record", len(acts))
	d.check(checkRow{"Adjustments: acts without the second person that they need, against the ledger's own count", inCounts,
		computed(notOK(t, "record", "two"), integer(int64(d.badActs))), integer(int64(waiting)), 0, t.cell("two", 0)})
}

// twoNames reports whether the sheet shows two names that are not the same.
func twoNames(a, b value) bool {
	return a.text != "" && b.text != "" && visible(a.text) != visible(b.text)
}

func (d *closeBook) actColumns() []column {
	columns := []column{
		wordColumn("record", "Record", 24, "ID of the record"),
		wordColumn("what", "What", 11, "waiver, decision, settlement, correction, reopening, conflict decided, belt factor, or column map changed"),
		wordColumn("pile", "Pile", 11, "the pile that it is about; blank where it is about none"),
		d.massColumn("solids", "Solids moved", "into the pile if positive; none where it moved nothing"),
		wordColumn("text", "In words", 36, "what was done"),
		wordColumn("reason", "Reason", 26, "why, in the words of the one who did it"),
		wordColumn("by", "Prepared by", 11, "who wrote it"),
		{key: "recorded", head: "When", kind: kindInstant, width: 18, note: "it was written, on the yard's clock"},
		wordColumn("approved_by", "Approved by", 11, "the second person; blank where there is none"),
		{key: "approved", head: "Approved", kind: kindInstant, width: 18, note: "when, on the yard's clock"},
		{key: "needs", head: "Needs two", kind: kindText, width: 9, note: "yes where a second person has to approve it"},
		{key: "two", head: "Two people", kind: kindCheck, width: 10, formula: "OR({needs}=" + quoted(wordNo) + ",AND({by}<>\"\",{approved_by}<>\"\",NOT(EXACT({by},{approved_by}))))",
			note: "OK where no second person is needed, or where both are named and not the same; BROKEN calls for a look, and stays BROKEN where the act itself was waived or is no longer in force"},
	}
	return append(columns, auditorColumns()...)
}
