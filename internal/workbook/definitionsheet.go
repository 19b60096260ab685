package workbook

import (
	"cmp"
	"strings"

	"repose/ledger"
)

// declareDefinitions declares what every column of the workbook means, its own included, after all other
// sheets.
func (d *closeBook) declareDefinitions(s *sheet) {
	specs := []tableSpec{
		{
			name: "Definitions", title: "Columns, by sheet and table", main: true,
			columns: []column{
				{key: "sheet", head: "Sheet", kind: kindText, width: 16, note: "name of the sheet"},
				{key: "table", head: "Table", kind: kindText, width: 40, wrap: true, note: "heading of the table, or its name"},
				{key: "column", head: "Column", kind: kindText, width: 24, wrap: true, note: "head of the column"},
				{key: "unit", head: "Unit", kind: kindText, width: 14, wrap: true, note: "of its figures"},
				{key: "meaning", head: "Meaning, sign and rounding", kind: kindText, width: 84, wrap: true,
					note: "masses are kept to the gram and shown to the kilogram, and formulas do not round, where nothing else is said"},
			},
		},
		meanings("Movements", "Movement", "word in the column Movement of Entries", movementMeanings()),
		meanings("Flags", "Flag", "word in the column Flags of Entries", flagMeanings()),
		meanings("Decisions", "Decision", "word in the column Decision of Book v survey", decisionMeanings()),
		meanings("Statuses", "Status", "word in the column Status of Exceptions", statusMeanings()),
		meanings("Strengths", "Strength", "word in the column Strength of Exceptions", strengthMeanings()),
		meanings("Looks of cells", "Look", "how a cell is drawn", lookMeanings()),
		tickLegend(),
	}
	rows := d.definitionRows(s.name, specs)
	specs[0].count, specs[0].rows = len(rows), rowsOf(rows...)
	for _, spec := range specs {
		s.table(spec)
	}
}

// definitionRows returns a row for each column of the tables declared so far, and of those to come on the
// sheet of definitions.
func (d *closeBook) definitionRows(sheet string, coming []tableSpec) [][]value {
	var rows [][]value
	add := func(sheet string, spec tableSpec) {
		for _, c := range spec.columns {
			rows = append(rows, []value{text(sheet), text(cmp.Or(spec.title, spec.name)), text(c.head), orBlank(c.unit), text(c.note)})
		}
	}
	for _, s := range d.book.sheets {
		for _, b := range s.blocks {
			if t, ok := b.(*table); ok {
				add(s.name, t.spec)
			}
		}
	}
	for _, spec := range coming {
		add(sheet, spec)
	}
	return rows
}

// meanings returns the declaration of a list of words.
func meanings(title, head, note string, rows [][]value) tableSpec {
	return tableSpec{name: "List" + strings.ReplaceAll(title, " ", ""), title: title, count: len(rows), rows: rowsOf(rows...), columns: []column{
		{key: "word", head: head, kind: kindText, width: 16, wrap: true, note: note},
		{key: "meaning", head: "Meaning", kind: kindText, width: 40, wrap: true, note: "in words"},
	}}
}

func statusMeanings() [][]value {
	return [][]value{
		{text(ledger.ExceptionOpen.String()), text("nobody has settled it")},
		{text(ledger.ExceptionExplained.String()), text("words say why it is as it is; with a cause, an entry has moved its mass to explained shrinkage")},
		{text(ledger.ExceptionSettled.String()), text("records were written that set the book right")},
		{text(ledger.ExceptionWaived.String()), text("left as it is, on somebody's word")},
	}
}

func strengthMeanings() [][]value {
	return [][]value{
		{text("certain"), text("the records contradict themselves or each other, whatever the reason")},
		{text("likely"), text("a comparison of records that chance passes at a stated rate")},
		{text("pattern"), text("a rate or a habit of the records; no single one is meant")},
	}
}

func lookMeanings() [][]value {
	return [][]value{
		{text("plain"), text("a fact out of the records, or worked out by a formula")},
		{text("blue, dotted"), text("a figure or word that a record or a person set and formulas take; or room to write in")},
		{text("grey, ruled"), text("control: the ledger's own figure, written as a value, to be held against a formula")},
		{text("–"), text("zero; 0.000 is more than nothing and less than half a kilogram")},
		{text("(1.000)"), text("negative")},
	}
}

// tickLegend is empty.
func tickLegend() tableSpec {
	rows := make([][]value, 6)
	for i := range rows {
		rows[i] = make([]value, 2)
	}
	return tableSpec{name: "Ticks", title: "Legend of the auditor's ticks, left empty", count: len(rows), rows: rowsOf(rows...), columns: []column{
		{key: "tick", head: "Tick", kind: kindText, role: roleInput, width: 16, note: "the auditor's mark"},
		{key: "meaning", head: "Meaning", kind: kindText, role: roleInput, width: 40, note: "what it stands for"},
	}}
}

func movementMeanings() [][]value {
	meanings := [ledger.Columns]string{
		ledger.ColumnOpening:    "first stock of a pile that the book began with",
		ledger.ColumnProduction: "from the plant or bought in, to a pile",
		ledger.ColumnReturns:    "brought back by a customer, to a pile",
		ledger.ColumnTransferIn: "from one pile to another; the roll-forward shows both ends",
		ledger.ColumnSale:       "from a pile, loaded out and sold",
		ledger.ColumnInternal:   "from a pile, for the yard's own use",
		ledger.ColumnFree:       "from a pile, without charge",
		ledger.ColumnFeed:       "from a pile back to the crusher",
		ledger.ColumnWeather:    "water gained by rain or lost by drainage, as a moisture test says; never solids",
		ledger.ColumnShrinkage:  "between a pile and shrinkage, by which the book takes a survey's figure",
		ledger.ColumnExplained:  "between a pile, or what surveys left unexplained, and shrinkage with a cause",
		ledger.ColumnExpected:   "from a pile to the shrinkage that the yard allows for",
		ledger.ColumnSuspense:   "of a record whose pile is unknown",
	}
	var rows [][]value
	for _, w := range movementWords() {
		rows = append(rows, []value{text(w.text), text(meanings[w.column])})
	}
	return rows
}

func flagMeanings() [][]value {
	var rows [][]value
	for _, f := range []struct {
		flag    ledger.Flags
		meaning string
	}{
		{ledger.FlagLate, "it happened in a sealed month and is entered in this one"},
		{ledger.FlagMoistureProduct, "parted by a test of the product, as none of the pile had been taken"},
		{ledger.FlagMoistureLater, "parted by a test taken afterwards, as none had been taken yet"},
		{ledger.FlagMoistureAssumed, "parted by the product's reference moisture, as there is no test"},
		{ledger.FlagRollover, "the totaliser passed its modulus"},
		{ledger.FlagReset, "the totaliser was set back to zero, as its note says"},
		{ledger.FlagFirstReading, "the totaliser's first reading, with nothing to subtract it from"},
		{ledger.FlagUnexplainedFall, "the totaliser fell and nothing says why: nothing is entered"},
		{ledger.FlagReversal, "takes back the sealed entry of a record that this one replaces, before its own legs"},
		{ledger.FlagUnknownPile, "its pile is not in the register: entered in suspense"},
	} {
		rows = append(rows, []value{text(f.flag.Names()[0]), text(f.meaning)})
	}
	return rows
}

func decisionMeanings() [][]value {
	var rows [][]value
	for _, o := range []struct {
		outcome ledger.Outcome
		meaning string
	}{
		{ledger.OutcomeNoSurvey, "there is no survey to hold against the book"},
		{ledger.OutcomeNoDensity, "a volume, and no density to turn it into mass"},
		{ledger.OutcomeKeepBook, "the book stands; the difference is on record"},
		{ledger.OutcomeTakeSurvey, "the book takes the survey's figure, by an entry of shrinkage"},
		{ledger.OutcomeSuperseded, "a later survey of the same month decides"},
	} {
		rows = append(rows, []value{text(o.outcome.String()), text(o.meaning)})
	}
	return rows
}
