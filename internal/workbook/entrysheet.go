package workbook

import (
	"iter"
	"strconv"
	"strings"

	"repose/ledger"
)

func (d *closeBook) declareEntries(s *sheet) {
	t := d.tally
	columns := d.entryColumns()
	total := d.row(columns, cells{"order": text("All"), "wet": mass(t.moved.AsIs()), "solids": mass(t.moved.Solids), "water": mass(t.moved.Water)})
	d.entries = s.table(tableSpec{name: "Entries", columns: columns, count: t.rows, rows: d.entryRows(),
		total: total, long: true, frozen: 2})
	d.checkEntries()
}

// entryColumns returns the columns of the sheet of entries, in the order in which entryHead, appendLeg and
// entryTail give their values.
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

// offsetLayout shows by how much a clock is ahead of UTC.
const offsetLayout = "-07:00"

// entryRows yields a row for each leg, and one for an entry without legs.
func (d *closeBook) entryRows() iter.Seq2[[]value, error] {
	products := make(map[string]string, len(d.piles))
	for _, p := range d.piles {
		products[p.key] = p.product
	}
	return func(yield func([]value, error) bool) {
		var row []value
		order := int64(0)
		for e, err := range d.close.Entries {
			if err != nil {
				yield(nil, err)
				return
			}
			order++
			head, tail := d.entryHead(e, order), d.entryTail(e)
			legs := e.Legs
			if len(legs) == 0 {
				legs = []ledger.Leg{{}}
			}
			for _, l := range legs {
				row = append(row[:0], head[:]...)
				row = d.appendLeg(row, e, l, products)
				row = append(row, tail[:]...)
				if !yield(row, nil) {
					return
				}
			}
		}
	}
}

// entryHead returns the cells that say which entry a leg belongs to.
func (d *closeBook) entryHead(e *ledger.Entry, order int64) [5]value {
	zone := d.month.Zone
	row := [5]value{integer(order), label(e.Record.ID()), instant(e.At()), text(e.At().In(zone).Format(offsetLayout)), {}}
	if isLate(e, d.month.Start()) {
		row[4] = text(ledger.PeriodOf(e.At(), zone).String())
	}
	return row
}

// appendLeg appends what moves. An entry without legs has the zero leg, and blanks in its place.
func (d *closeBook) appendLeg(row []value, e *ledger.Entry, l ledger.Leg, products map[string]string) []value {
	if l == (ledger.Leg{}) {
		return append(row, value{}, value{}, value{}, value{}, value{}, value{}, percent(e.Moisture.Percent()), value{}, value{})
	}
	from, to := d.names.account(l.From, d.month.Yard.Code), d.names.account(l.To, d.month.Yard.Code)
	return append(row, text(from), text(to), text(movementOf(l)), orBlank(products[from]), orBlank(products[to]),
		mass(l.AsIs()), percent(e.Moisture.Percent()), mass(l.Solids), mass(l.Water))
}

// entryTail returns the cells that say what an entry rests on.
func (d *closeBook) entryTail(e *ledger.Entry) [8]value {
	src := e.Record.Source
	key, name := fileUnlisted, shortHash(src.File)
	if src.File == "" {
		key = fileNone
	} else if i, ok := d.files[src.File]; ok {
		key, name = d.fileKey(i), d.close.Files[i].Name
	}
	ticket, truck, customer := papers(e.Record.Fact)
	row := [8]value{orBlank(strings.Join(e.Flags.Names(), "; ")), orBlank(ticket), orBlank(truck), orBlank(customer),
		text(key), orBlank(name), orBlank(src.Sheet), {}}
	if src.Row > 0 {
		row[7] = integer(int64(src.Row))
	}
	return row
}

func (d *closeBook) fileKey(i int) string { return d.names.key(wordFile, strconv.Itoa(i+1)) }

// orBlank is label, and a blank cell where there is nothing to show.
func orBlank(s string) value {
	if s == "" {
		return value{}
	}
	return label(s)
}

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

// papers returns what a movement's ticket says beside the mass.
func papers(f ledger.Fact) (ticket, truck, customer string) {
	switch f := f.(type) {
	case ledger.Load:
		return f.Ticket, f.Truck, f.Customer
	case ledger.Transfer:
		return f.Ticket, f.Truck, ""
	case ledger.Return:
		return f.Ticket, "", ""
	}
	return "", "", ""
}
