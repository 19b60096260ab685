package workbook

import (
	"strconv"

	"repose/internal/report"
	"repose/ledger"
)

// wordCut begins the keys of cuts.
const wordCut = "cut"

// besideCut is a weighing beside a cut.
type besideCut struct {
	instrument, side string
	*report.CutMovement
}

// cutLines returns the weighings beside a cut, by instrument, those before it first.
func cutLines(c *report.CutLine) []besideCut {
	var lines []besideCut
	for i := range c.Instruments {
		in := &c.Instruments[i]
		for j := range in.Before {
			lines = append(lines, besideCut{in.Instrument, "before", &in.Before[j]})
		}
		for j := range in.After {
			lines = append(lines, besideCut{in.Instrument, "after", &in.After[j]})
		}
	}
	return lines
}

// cutKey numbers the cuts, so that each has a short key of its own whatever surveys are called.
func (d *closeBook) cutKey(i int) string { return d.names.key(wordCut, strconv.Itoa(i+1)) }

// declareCutOff declares what instruments weighed last before each cut and first after it, and the trucks between.
func (d *closeBook) declareCutOff(s *sheet, cuts []report.CutLine) {
	columns := d.weighingColumns()
	var rows [][]value
	own := 0
	for i := range cuts {
		c := &cuts[i]
		for _, l := range cutLines(c) {
			agrees := l.Entered == l.Belongs
			d.badCuts += int(bit(!agrees))
			own += int(bit(l.Wrong))
			rows = append(rows, d.row(columns, cells{"cut": text(d.cutKey(i)), "instrument": orBlank(l.instrument), "side": text(l.side), "at": instantOrBlank(l.At), "ticket": orBlank(l.Ticket),
				"pile": d.pileOrBlank(l.Pile), "solids": mass(l.Solids.Mass()), "entered": orBlank(l.Entered), "belongs": orBlank(l.Belongs), "agrees": check(agrees), "record": label(l.Record)}))
		}
	}
	t := s.table(tableSpec{name: "Weighings", title: "Last weighings before each cut, and first after it", columns: columns, count: len(rows), rows: rowsOf(rows...), main: true, frozen: 2,
		about: "The cuts are the end of the month, for every instrument, and the end of each survey, for what moved its pile. Their numbers are explained below. A weighing that was entered in another month than its own is BROKEN here, late records too: look at why."})
	d.weighings = t
	d.counted("Cut-off: number of weighings", t, "record", len(rows))
	d.check(checkRow{"Cut-off: weighings entered in another month than they belong to, against the ledger's own count", inCounts,
		computed(notOK(t, "record", "agrees"), integer(int64(d.badCuts))), integer(int64(own)), 0, t.cell("agrees", 0)})
	d.declareCuts(s, cuts, d.declareBetween(s, cuts))
}

func (d *closeBook) weighingColumns() []column {
	columns := []column{
		{key: "cut", head: "Cut", kind: kindText, isKey: true, width: 10, note: "number of the cut: the end of the month, or of a survey of a pile; what it is stands below"},
		wordColumn("instrument", "Instrument", 17, "kind and code of what weighed"),
		{key: "side", head: "Side", kind: kindText, width: 9, note: "before the cut or after it"},
		{key: "at", head: "Time", kind: kindInstant, width: 18, note: "of the weighing, on the yard's clock"},
		wordColumn("ticket", "Ticket", 20, "number of the instrument's ticket, or a totaliser's reading, as text"),
		wordColumn("pile", "Pile", 17, "the pile that the record names; blank for a deck ticket"),
		d.massColumn("solids", "Solids", "at the moisture in force; of a deck ticket as weighed, since it names no pile"),
		{key: "entered", head: "Entered in", kind: kindText, width: 12, note: "month of the book; blank where it is in none"},
		{key: "belongs", head: "Belongs to", kind: kindText, width: 12, note: "month of its time"},
		{key: "agrees", head: "Agree", kind: kindCheck, width: 10, formula: "{entered}={belongs}", note: "OK where both months are the same"},
		wordColumn("record", "Record", 40, "its ID"),
	}
	return append(columns, auditorColumns()...)
}

// declareBetween declares the trucks that were loaded before a cut and weighed out after it.
func (d *closeBook) declareBetween(s *sheet, cuts []report.CutLine) *table {
	columns := []column{
		{key: "cut", head: "Cut", kind: kindText, isKey: true, width: 10, note: "as above"},
		{key: "pile", head: "Pile", kind: kindText, wrap: true, width: 17, note: "that it was loaded from"},
		{key: "trucks", head: "Trucks", kind: kindInteger, width: 9, note: "one in each row"},
		{key: "loaded", head: "Loaded", kind: kindInstant, width: 18, note: "on the yard's clock"},
		{key: "weighed", head: "Weighed out", kind: kindInstant, width: 20, note: "on the yard's clock"},
		{key: "load", head: "Load", kind: kindText, wrap: true, width: 17, note: "ID of the loader's record"},
		d.massColumn("solids", "Solids", "as the loader weighed it: no longer in the pile, and still in a book that goes by the deck ticket"),
		{key: "deck", head: "Deck ticket", kind: kindText, width: 12, note: "ID of the deck scale's record"},
	}
	var rows [][]value
	var sum ledger.Mass
	for i := range cuts {
		c := &cuts[i]
		for _, p := range c.Straddling {
			sum += p.Solids.Mass()
			rows = append(rows, d.row(columns, cells{"cut": text(d.cutKey(i)), "pile": d.pileOrBlank(p.Pile), "trucks": integer(1), "loaded": instantOrBlank(p.Loaded), "load": label(p.Load), "deck": label(p.Deck),
				"solids": mass(p.Solids.Mass()), "weighed": instantOrBlank(p.Weighed)}))
		}
	}
	return s.table(tableSpec{name: "Between", title: "Loaded before a cut and weighed out after it", columns: columns, count: len(rows), rows: rowsOf(rows...), filter: true,
		total: d.row(columns, cells{"cut": text("All"), "trucks": integer(int64(len(rows))), "solids": mass(sum)})})
}

// declareCuts declares each cut with what was counted of it above, against the ledger's own.
func (d *closeBook) declareCuts(s *sheet, cuts []report.CutLine, between *table) {
	same := where(between.column("cut"), "{cut}")
	columns := []column{
		{key: "cut", head: "Cut", kind: kindText, width: 10, note: "its number"},
		{key: "lines", head: "Weighings", kind: kindInteger, width: 17, formula: countIfs(where(d.weighings.column("cut"), "{cut}")), note: "rows above that are beside it"},
		{key: "trucks", head: "Trucks", kind: kindInteger, width: 9, formula: sumIfs(between.column("trucks"), same), note: "loaded before it and weighed out after"},
		{key: "at", head: "At", kind: kindInstant, width: 18, note: "the end of the month is the first instant of the next; a survey takes in its last"},
		{key: "own_trucks", head: "Ledger's own trucks", kind: kindInteger, role: roleControl, width: 20, note: "control: how many the matching of trucks found"},
		d.massColumn("solids", "Solids between", "of these trucks"),
		d.controlColumn("own", "Ledger's own", "control: what the matching of trucks states"),
		{key: "agrees", head: "Agrees", kind: kindCheck, width: 12, formula: "AND({trucks}={own_trucks},ABS({solids}-{own})<=" + d.params.ref(paramTolerance) + ")", note: "OK where number and solids are the ledger's own"},
		{key: "what", head: "What it is", kind: kindText, width: 12, note: "end of the month, or of which survey of which pile"},
	}
	columns[5].formula = sumIfs(between.column("solids"), same)
	var rows [][]value
	broken := 0
	for i := range cuts {
		c := &cuts[i]
		var sum ledger.Mass
		for _, p := range c.Straddling {
			sum += p.Solids.Mass()
		}
		n := integer(int64(len(c.Straddling)))
		good := (sum - c.Mass.Mass()).Abs() <= ledger.Mass(d.sumTolerance())
		broken += int(bit(!good))
		rows = append(rows, d.row(columns, cells{"cut": text(d.cutKey(i)), "what": orBlank(c.What), "at": instantOrBlank(c.At), "lines": integer(int64(len(cutLines(c)))), "trucks": n, "own_trucks": n,
			"solids": mass(sum), "own": mass(c.Mass.Mass()), "agrees": check(good)}))
	}
	t := s.table(tableSpec{name: "Cuts", title: "The cuts", columns: columns, count: len(rows), rows: rowsOf(rows...)})
	d.check(checkRow{"Cut-off: cuts whose trucks are not the ledger's", inCounts, computed(notOK(t, "cut", "agrees"), integer(int64(broken))), integer(0), 0, t.cell("agrees", 0)})
}
