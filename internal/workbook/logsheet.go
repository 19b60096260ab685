package workbook

import "repose/internal/report"

// declareLog declares the head of the log, which must be that of the cover, and the records that people wrote.
func (d *closeBook) declareLog(s *sheet, lines []report.LogLine) {
	root := d.close.Head.Root
	head := s.table(tableSpec{name: "LogHead", title: "Head of the log (RFC 6962)", count: 1,
		columns: []column{
			{key: "records", head: "Records", kind: kindInteger, width: 10, note: "in the log up to the head"},
			{key: "head", head: "Head", kind: kindText, wrap: true, width: 36, note: "root of the tree over all of them, hexadecimal"},
			{key: "cover", head: "On the cover", kind: kindText, wrap: true, width: 36, note: "what the sheet Cover states"},
			{key: "agrees", head: "Agrees", kind: kindCheck, width: 18, formula: "EXACT({head},{cover})", note: "OK where both are the same"},
		},
		rows: func(yield func([]value, error) bool) {
			cover := brokenRef // it is declared by the time that rows are written
			if d.cover != nil {
				cover = d.cover.cell("is", d.coverHead).String()
			}
			yield([]value{integer(d.close.Head.Size), text(root), computed(cover, text(root)), check(true)}, nil)
		}})
	d.check(checkRow{"Log extract: head that is not the one on the cover", inCounts, computed(notOK(head, "head", "agrees"), integer(0)), integer(0), 0, head.cell("agrees", 0)})
	size := integer(d.close.Head.Size)
	d.check(checkRow{"Log extract: records in the log", inCounts, computed(head.cell("records", 0).String(), size), size, 0, head.cell("records", 0)})

	columns := logColumns()
	t := s.table(tableSpec{name: "Log", columns: columns, count: len(lines), main: true, frozen: 1, long: true,
		rows: func(yield func([]value, error) bool) {
			for i := range lines {
				l := &lines[i]
				row := d.row(columns, cells{"place": integer(l.Seq), "record": label(l.Record), "source": orBlank(l.Source), "recorded": instantOrBlank(l.Recorded), "by": orBlank(l.By), "leaf": orBlank(l.Leaf)})
				if !yield(row, nil) {
					return
				}
			}
		}})
	d.counted("Log extract: number of records", t, "record", len(lines))
}

func logColumns() []column {
	return append([]column{
		{key: "place", head: "Place", kind: kindInteger, width: 10, note: "in the log, from 0"},
		{key: "record", head: "Record", kind: kindText, wrap: true, width: 36, note: "its ID; registers, tests, rules, costs, decisions, files and closes since the close before"},
		{key: "source", head: "Source", kind: kindText, wrap: true, width: 36, note: "file and row that it was read from; blank for what a person did"},
		{key: "recorded", head: "Recorded", kind: kindInstant, width: 18, note: "when the book learnt of it, on the yard's clock"},
		{key: "by", head: "By", kind: kindText, wrap: true, width: 12, note: "who wrote it or took it in"},
		{key: "leaf", head: "Leaf", kind: kindText, width: 66, note: "SHA-256 of its line in the tree, hexadecimal"},
	}, auditorColumns()...)
}
