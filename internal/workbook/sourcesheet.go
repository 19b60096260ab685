package workbook

import (
	"repose/internal/report"
	"repose/ledger"
)

// declareSources declares the files that the book was read from, and what it read from each.
func (d *closeBook) declareSources(s *sheet) {
	e := d.entries
	columns := []column{
		{key: "file", head: "File", kind: kindText, isKey: true, width: 10, note: "number of the file in this workbook; Entries name it so"},
		{key: "name", head: "Name", kind: kindText, width: 30, wrap: true, note: "its name when it was taken in"},
		{key: "bytes", head: "Bytes", kind: kindInteger, width: 13, note: "its size"},
		{key: "taken_in", head: "Taken in", kind: kindInstant, width: 18, note: "when the book learnt of it"},
		{key: "by", head: "By", kind: kindText, width: 16, note: "who took it in"},
		{key: "rows", head: "Rows in Entries", kind: kindInteger, width: 11, formula: countIfs(where(e.column("file"), "{file}")), note: "rows of Entries that name it; a file of another month has none"},
		{key: "own", head: "Ledger's own rows", kind: kindInteger, role: roleControl, width: 11, note: "control: rows whose record came from it"},
		{key: "sha256", head: "SHA-256", kind: kindText, width: 60, note: "of its bytes, hexadecimal"},
	}
	var rows [][]value
	listed := 0
	for i, f := range d.close.Files {
		n := 0
		if d.files[f.SHA256] == i {
			n = d.tally.files[f.SHA256]
		}
		listed += n
		rows = append(rows, []value{text(d.fileKey(i)), label(f.Name), integer(f.Bytes), instantOrBlank(f.TakenIn), orBlank(f.By), integer(int64(n)), integer(int64(n)),
			text(f.SHA256)})
	}
	t := s.table(tableSpec{name: "Files", title: "Files", columns: columns, count: len(rows), rows: rowsOf(rows...), main: true, frozen: 1,
		total: []value{text("All"), {}, {}, {}, {}, integer(int64(listed)), integer(int64(listed)), {}}})
	written := d.tally.files[""]
	d.check(checkRow{"Sources: rows of Entries whose file is not listed", inCounts,
		computed(e.column("order").call("COUNT", ",")+"-"+t.totalCell("rows").String()+"-("+countIfs(where(e.column("file"), d.params.ref(paramNoFile)))+")",
			integer(int64(d.tally.rows-listed-written))), integer(0), 0, t.totalCell("rows")})
	d.check(checkRow{"Sources: rows of Entries of records that settled an exception, which no file has", inCounts,
		computed(countIfs(where(e.column("file"), d.params.ref(paramNoFile))), integer(int64(written))), integer(int64(written)), 0, e.cell("file", 0)})
	rowsOfFile := t.column("rows").areas[0].String() + "-" + t.column("own").areas[0].String()
	d.check(checkRow{"Sources: rows of Entries under another file than theirs", inCounts,
		computed("SUMPRODUCT(ABS("+rowsOfFile+"))", integer(0)), integer(0), 0, t.cell("rows", 0)})
	d.declareKinds(s)
	d.declareMaps(s)
}

// declareKinds declares what the book holds of each file, by kind of record.
func (d *closeBook) declareKinds(s *sheet) {
	columns := []column{
		{key: "file", head: "File", kind: kindText, width: 10, note: "as above"},
		{key: "kind", head: "Kind", kind: kindText, width: 30, note: "kind of record"},
		{key: "records", head: "Records", kind: kindInteger, width: 13, note: "records of the kind that the book holds of the file"},
		d.massColumn("net", "Net as weighed", "of kinds that state a net mass; void tickets and readings state none"),
		{key: "span", head: "First and last key", kind: kindText, width: 16, note: "natural keys of the first and the last record, in the order of the file; blank where not stated"},
	}
	var rows [][]value
	records, net := 0, ledger.Mass(0)
	for i, f := range d.close.Files {
		for _, k := range f.Records {
			rows = append(rows, []value{text(d.fileKey(i)), text(k.Kind.String()), integer(int64(k.Records)), mass(k.Net), keySpan(k)})
			records, net = records+k.Records, net+k.Net
		}
	}
	t := s.table(tableSpec{name: "FileRecords", title: "What the book holds of them", columns: columns, count: len(rows), rows: rowsOf(rows...),
		total: []value{text("All"), {}, integer(int64(records)), mass(net), {}}})
	d.check(checkRow{"Sources: records of all files", inCounts, computed(t.totalCell("records").String(), integer(int64(records))), integer(int64(records)), 0, t.totalCell("records")})
	d.check(checkRow{"Sources: net mass of all files as weighed", inTonnes, computed(t.totalCell("net").String(), mass(net)), mass(net), d.sumTolerance(), t.totalCell("net")})
}

// keySpan shows the first and the last key of a kind of record, where they are stated.
func keySpan(k report.KindTotal) value {
	if k.First == "" && k.Last == "" {
		return value{}
	}
	return label(k.First + " … " + k.Last)
}

// declareMaps declares the column maps that files were read with.
func (d *closeBook) declareMaps(s *sheet) {
	var rows [][]value
	for i, f := range d.close.Files {
		if f.Map != "" {
			rows = append(rows, []value{text(d.fileKey(i)), text(f.Map)})
		}
	}
	s.table(tableSpec{name: "FileMaps", title: "Column maps that they were read with", count: len(rows), rows: rowsOf(rows...), columns: []column{
		{key: "file", head: "File", kind: kindText, width: 10, note: "as above; a file that is not here was read without a map"},
		{key: "map", head: "SHA-256 of the map", kind: kindText, width: 30, note: "hexadecimal"},
	}})
}
