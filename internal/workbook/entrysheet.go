package workbook

import (
	"repose/ledger"
)

func (d *closeBook) declareEntries(s *sheet) {
	t := d.tally
	columns := d.entryColumns()
	total := d.row(columns, cells{"order": text("All"), "wet": mass(t.moved.AsIs()), "solids": mass(t.moved.Solids), "water": mass(t.moved.Water)})
	d.entries = s.table(tableSpec{name: "Entries", columns: columns, count: t.rows, written: d.written,
		total: total, long: true, frozen: 2})
	d.checkEntries()
}

// entryColumns returns the columns of the sheet of entries, in the order in which entryWriter gives
// their values.
func (d *closeBook) entryColumns() []column {
	return []column{
		{key: "order", head: "Order", kind: kindInteger, width: 9, note: "place of the entry in the month, from 1; the legs of one entry share it"},
		{key: "record", head: "Entry", kind: kindText, width: 25, note: "ID of the record that made the entry: kind:yard:key; its legs follow each other"},
		{key: "at", head: "Time", kind: kindInstant, width: 18, note: "when the record happened, on the yard's clock"},
		{key: "offset", head: "UTC offset", kind: kindText, width: 8, note: "of the yard's clock at that time; tells the two hours apart that a clock set back shows twice"},
		{key: "late", head: "Late", kind: kindText, width: 9, note: "month in which it happened, where that was sealed and the record is entered here; else blank"},
		{key: "from", head: "From account", kind: kindText, isKey: true, wrap: true, width: 17, note: "where solids and water come from"},
		{key: "to", head: "To account", kind: kindText, isKey: true, wrap: true, width: 17, note: "where they go"},
		{key: "movement", head: "Movement", kind: kindText, isKey: true, width: 12, note: "what kind of movement it is; blank for an entry that moves nothing"},
		{key: "product_out", head: "Product out of", kind: kindText, isKey: true, width: 15, note: "product at the month's end of the pile in From account; blank where that is no pile"},
		{key: "product_in", head: "Product into", kind: kindText, isKey: true, width: 15, note: "product at the month's end of the pile in To account; blank where that is no pile"},
		{key: "wet", head: "As weighed", kind: kindTonnes, width: d.massWidth, note: "solids and water together; never negative, the accounts give the direction"},
		{key: "moisture", head: "Moisture", unit: "% dry", kind: kindPercent, width: 9, note: "water in per cent of dry mass by which the record's mass was parted; a reversal keeps the parts of the entry that it takes back"},
		{key: "solids", head: "Solids", kind: kindTonnes, width: d.massWidth, note: "oven-dry mass, as weighed x 100 / (100 + moisture), rounded half-even to the gram"},
		{key: "water", head: "Water", kind: kindTonnes, width: d.massWidth, note: "as weighed less solids"},
		{key: "flags", head: "Flags", kind: kindText, width: 18, note: "what a reader should know; see the flags below"},
		{key: "ticket", head: "Ticket", kind: kindText, width: 10, note: "number of the instrument's ticket, as text"},
		{key: "truck", head: "Truck", kind: kindText, width: 10, note: "as the record has it"},
		{key: "customer", head: "Customer", kind: kindText, width: 15, note: "as the record has it"},
		{key: "file", head: "File", kind: kindText, isKey: true, width: 8, note: "the file that the record was read from, as numbered in Sources; unlisted where it is not there, none where an exception was settled by the record"},
		{key: "file_name", head: "File name", kind: kindText, width: 17, note: "its name"},
		{key: "sheet", head: "Sheet", kind: kindText, width: 9, note: "sheet of the file, where it is a workbook"},
		{key: "row", head: "Row", kind: kindInteger, width: 8, note: "row of the sheet or line of the file, from 1"},
	}
}

// Keys of sources that are no file of the close: one that is not among its files, and none at all, of records
// that settled an exception.
const (
	fileUnlisted = "unlisted"
	fileNone     = "none"
)

// movementOf returns the word for what a leg does. A leg between two accounts that are no piles is of a
// record whose pile is unknown, or a correction of what surveys left unexplained or of what went out.
func movementOf(l ledger.Leg) string {
	switch {
	case l.To.Kind == ledger.KindPile:
		return movementWord(ledger.ColumnOf(l.From, true))
	case l.From.Kind == ledger.KindPile:
		return movementWord(ledger.ColumnOf(l.To, false))
	case l.From.Kind == ledger.KindSuspense || l.To.Kind == ledger.KindSuspense:
		return movementWord(ledger.ColumnSuspense)
	case l.To.Kind == ledger.KindOut:
		return movementWord(ledger.ColumnOf(l.To, false))
	case l.From.Kind == ledger.KindOut:
		return movementWord(ledger.ColumnOf(l.From, false))
	case l.From.Kind == ledger.KindShrinkage && l.To.Kind == ledger.KindShrinkage:
		return movementWord(ledger.ColumnExplained)
	}
	return movementWord(ledger.ColumnSuspense)
}
