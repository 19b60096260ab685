package workbook

import (
	"strconv"

	"repose/internal/report"
	"repose/ledger"
)

// wordRoll begins the keys of rolls.
const wordRoll = "roll"

// foundWord names the row that a roll begins with.
const foundWord = "found by the survey"

// rolledLine is a roll with what the sheet's formulas give for it.
type rolledLine struct {
	*report.RollLine
	key, pile string
	end, book ledger.Mass
}

func (d *closeBook) rolledLines(lines []report.RollLine) []rolledLine {
	closing := make(map[string]ledger.Mass)
	for _, p := range d.piles {
		closing[p.key] += p.closing.Solids
	}
	rolls := make([]rolledLine, len(lines))
	for i := range lines {
		l := rolledLine{RollLine: &lines[i], key: d.names.key(wordRoll, strconv.Itoa(i+1)), pile: d.pileKey(lines[i].Pile), end: lines[i].Found.Mass()}
		for _, m := range l.Moves {
			l.end += m.Solids.Mass()
		}
		l.book = closing[l.pile]
		rolls[i] = l
	}
	return rolls
}

// declareRolls declares each survey carried to the end of the month by what moved in between, and below it the outcome.
func (d *closeBook) declareRolls(s *sheet, lines []report.RollLine) {
	rolls := d.rolledLines(lines)
	columns := d.rollMoveColumns()
	var rows [][]value
	for _, l := range rolls {
		running := l.Found.Mass()
		add := func(what string, m ledger.Mass, records value) {
			rows = append(rows, d.row(columns, cells{"roll": text(l.key), "pile": text(l.pile), "survey": orBlank(l.Survey), "way": orBlank(l.Way), "what": orBlank(what), "moved": mass(m),
				"records": records, "running": mass(running)}))
		}
		add(foundWord, running, value{})
		for _, m := range l.Moves {
			running += m.Solids.Mass()
			add(m.What, m.Solids.Mass(), integer(int64(m.Records)))
		}
	}
	moves := s.table(tableSpec{name: "RollMoves", title: "What moved between each survey and the end of the month", columns: columns, count: len(rows), rows: rowsOf(rows...), main: true, frozen: 2,
		about: "Found, and each way that moved, with the running figure: the last row of a roll is what the survey says lies there at the month's end. A roll back takes off what came after it, and adds what went."})
	d.counted("Rolls: number of rows", moves, "what", len(rows))
	d.declareRollEnds(s, rolls, moves)
}

func (d *closeBook) rollMoveColumns() []column {
	columns := []column{
		{key: "roll", head: "Roll", kind: kindText, isKey: true, width: 10, note: "number of the roll, by which the table below finds it"},
		wordColumn("pile", "Pile", 17, "the pile, by the name of its account in Entries"),
		wordColumn("survey", "Survey", 18, "number of the survey"),
		{key: "way", head: "Way", kind: kindText, width: 18, note: "forward from a survey of the month, or back from one of the next"},
		wordColumn("what", "What", 22, "found by the survey, or the way in which stone moved; what the book took over from surveys moved none"),
		d.massColumn("moved", "Solids", "as it changes the running figure"),
		d.massColumn("running", "Running figure", "found, and everything that moved down to this row"),
		{key: "records", head: "Records", kind: kindInteger, width: 11, note: "how many records moved it"},
	}
	columns[6].formula = "SUMIFS({moved@first}:{moved},{roll@first}:{roll},{roll})"
	return append(columns, auditorColumns()...)
}

// declareRollEnds declares where each roll ends, against the book.
func (d *closeBook) declareRollEnds(s *sheet, rolls []rolledLine, moves *table) {
	roll, places := d.roll[solidsFacet], d.params.ref(paramPlaces)
	columns := []column{
		{key: "roll", head: "Roll", kind: kindText, width: 10, note: "as above"},
		{key: "pile", head: "Pile", kind: kindText, wrap: true, width: 17, note: "the pile, by the name of its account in Entries"},
		{key: "survey", head: "Survey", kind: kindText, wrap: true, width: 18, note: "number of the survey"},
		{key: "at", head: "Survey ended", kind: kindInstant, width: 18, note: "on the yard's clock"},
		d.massColumn("end", "At the end of the month", "sum of the roll above"),
		d.controlColumn("own_end", "Ledger's own rolled", "control: what the ledger states"),
		d.massColumn("book", "Closing book", "from the roll-forward; none for a pile that is not in it"),
		d.controlColumn("own_book", "Ledger's own book", "control: what the ledger states"),
		d.massColumn("excess", "Book less rolled", "rounded to the gram: nothing where the book took the survey; positive where stone is missing"),
		d.controlColumn("own_excess", "Ledger's own difference", "control: what the ledger states"),
		{key: "agrees", head: "Agrees", kind: kindCheck, width: 10, note: "OK where all three are the ledger's own, to the tolerance in Policies"},
	}
	terms := ""
	for _, key := range []string{"end", "book", "excess"} {
		terms += ",ABS({" + key + "}-{own_" + key + "})<=" + d.params.ref(paramTolerance)
	}
	setFormulas(columns, map[string]string{"end": "ROUND(" + sumIfs(moves.column("moved"), where(moves.column("roll"), "{roll}")) + "," + places + ")",
		"book": sumIfs(roll.column("closing"), where(roll.column("pile"), "{pile}")), "excess": "ROUND({book}-{end}," + places + ")", "agrees": "AND(" + terms[1:] + ")"})
	columns = append(columns, auditorColumns()...)
	var rows [][]value
	broken := 0
	for _, l := range rolls {
		good := d.tonnesWithin(l.end, l.AtEnd.Mass()) && d.tonnesWithin(l.book, l.Book.Mass()) && d.tonnesWithin(l.book-l.end, l.Excess.Mass())
		broken += int(bit(!good))
		rows = append(rows, d.row(columns, cells{"roll": text(l.key), "pile": text(l.pile), "survey": orBlank(l.Survey), "at": instantOrBlank(l.At), "end": mass(l.end), "own_end": mass(l.AtEnd.Mass()),
			"book": mass(l.book), "own_book": mass(l.Book.Mass()), "excess": mass(l.book - l.end), "own_excess": mass(l.Excess.Mass()), "agrees": check(good)}))
	}
	t := s.table(tableSpec{name: "RollEnds", title: "At the end of the month, against the book", columns: columns, count: len(rows), rows: rowsOf(rows...)})
	d.check(checkRow{"Rolls: rolls that are not the ledger's", inCounts, computed(notOK(t, "roll", "agrees"), integer(int64(broken))), integer(0), 0, t.cell("agrees", 0)})
}
