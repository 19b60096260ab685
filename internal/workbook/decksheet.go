package workbook

import (
	"repose/internal/report"
	"repose/ledger"
)

// pairTotal sums lines of loaders held against deck scales.
type pairTotal struct {
	pairs, merged, split int
	loader, deck         ledger.Mass
}

func (t *pairTotal) add(l *report.MatchLine) {
	t.pairs, t.merged, t.split = t.pairs+l.Pairs, t.merged+l.Merged, t.split+l.Split
	t.loader, t.deck = t.loader+l.LoaderMass.Mass(), t.deck+l.DeckMass.Mass()
}

// cells are what formulas and counts give for a line, or for all.
func (t *pairTotal) cells() cells {
	row := cells{"pairs": integer(int64(t.pairs)), "loader_mass": mass(t.loader), "deck_mass": mass(t.deck), "difference": mass(t.loader - t.deck),
		"merged": integer(int64(t.merged)), "split": integer(int64(t.split))}
	if t.deck != 0 {
		row["of_deck"] = ratio(float64(t.loader-t.deck) / float64(t.deck))
	}
	return row
}

// declareDecks declares loaders held against deck scales, and what either has alone.
func (d *closeBook) declareDecks(s *sheet, lines []report.MatchLine) {
	columns := d.deckColumns()
	var rows [][]value
	var all pairTotal
	for i := range lines {
		l := &lines[i]
		var one pairTotal
		one.add(l)
		all.add(l)
		row := one.cells()
		row["loader"], row["deck"] = orBlank(l.Loader), orBlank(l.Deck)
		row["bias"], row["sd"] = percentFigure(l.BiasPct), percentFigure(l.SDPct)
		row["lag"], row["spread"] = ratioFigure(&l.LagMinutes), ratioFigure(&l.SpreadMins)
		rows = append(rows, d.row(columns, row))
	}
	total := all.cells()
	total["loader"] = text("All")
	if v, ok := total["of_deck"]; ok {
		total["of_deck"] = computed("{difference}/{deck_mass}", v)
	}
	t := s.table(tableSpec{name: "LoaderDeck", title: "Trucks that both weighed", columns: columns, count: len(rows), rows: rowsOf(rows...), main: true, frozen: 2, total: d.row(columns, total),
		about: "Loads and deck tickets of the same truck, found by time, truck, product and mass. Both masses are of the same pairs and as weighed."})
	d.checkDecks(t, all, len(lines))
	d.declareAlone(s, aloneSpec{name: "LoadsAlone", title: "Loads without a deck ticket", first: "Loader", what: "loads", note: "loads of the month that no deck ticket was found for",
		line: func(l *report.MatchLine) (string, int, ledger.Mass) {
			return l.Loader, l.LoadsAlone, l.AloneMass.Mass()
		}}, lines)
	d.declareAlone(s, aloneSpec{name: "TicketsAlone", title: "Deck tickets without a load", first: "Deck scale", what: "tickets", note: "tickets of the month that no load was found for",
		line: func(l *report.MatchLine) (string, int, ledger.Mass) { return l.Deck, l.DeckAlone, l.TicketsMass.Mass() }}, lines)
}

func (d *closeBook) deckColumns() []column {
	plain := func(key, head, unit string, places int, note string) column {
		return column{key: key, head: head, unit: unit, kind: kindNumber, places: places, role: roleControl, width: 11, note: note}
	}
	columns := []column{
		{key: "loader", head: "Loader", kind: kindText, width: 16, note: "as the records have it"},
		{key: "deck", head: "Deck scale", kind: kindText, width: 14, note: "as the records have it"},
		{key: "pairs", head: "Pairs", kind: kindInteger, width: 11, note: "trucks that both weighed"},
		d.massColumn("loader_mass", "By the loader", "as weighed, of the pairs"),
		d.massColumn("deck_mass", "By the deck", "as weighed, of the same pairs"),
		d.massColumn("difference", "Difference", "loader less deck; positive where the loader reads high"),
		{key: "of_deck", head: "Of deck", unit: "%", kind: kindPercent, width: 11, formula: "{difference}/{deck_mass}", note: "difference in per cent of the deck's mass"},
		{key: "bias", head: "Ledger's own bias", unit: "%", kind: kindPercent, role: roleControl, width: 12, note: "control: median over the trucks of loader over deck, less one; near the per cent beside it, which large trucks weigh more in"},
		{key: "sd", head: "Scatter", unit: "%", kind: kindPercent, role: roleControl, width: 11, note: "standard deviation of loader over deck from truck to truck, as the matching found it"},
		plain("lag", "Lag", "min", 1, "usual time from loading to weighing, as the matching found it"),
		plain("spread", "Spread of lag", "min", 1, "how much that time scatters"),
		{key: "merged", head: "Merged", kind: kindInteger, width: 11, note: "loader records that hold several trucks"},
		{key: "split", head: "Split", kind: kindInteger, width: 11, note: "trucks in several loader records"},
	}
	columns[5].formula = "{loader_mass}-{deck_mass}"
	return append(columns, auditorColumns()...)
}

// percentFigure is a per cent of the statistics, and a blank cell for what is no number.
func percentFigure(r report.Ratio) value {
	if f, ok := stated(r); ok {
		return ratio(f / 100)
	}
	return value{}
}

// checkDecks holds the totals to the sums of what the matching hands over.
func (d *closeBook) checkDecks(t *table, all pairTotal, lines int) {
	for _, c := range []struct {
		key, what string
		n         int
	}{{"pairs", "pairs", all.pairs}, {"merged", "merged records", all.merged}, {"split", "split trucks", all.split}} {
		n := integer(int64(c.n))
		d.check(checkRow{"Loader v deck: " + c.what, inCounts, computed(t.totalCell(c.key).String(), n), n, 0, t.totalCell(c.key)})
	}
	for _, c := range []struct {
		key, what string
		sum       ledger.Mass
	}{{"loader_mass", "mass by loaders", all.loader}, {"deck_mass", "mass by deck scales", all.deck}, {"difference", "difference", all.loader - all.deck}} {
		d.check(checkRow{"Loader v deck: " + c.what, inTonnes, computed(t.totalCell(c.key).String(), mass(c.sum)), mass(c.sum),
			2 * roundingOf(lines, float64(all.loader+all.deck)), t.totalCell(c.key)})
	}
}

// aloneSpec says of what only one side has a record.
type aloneSpec struct {
	name, title, first, what, note string
	// line returns the instrument of a line, with what it has alone: the same in every line of the instrument.
	line func(l *report.MatchLine) (instrument string, n int, m ledger.Mass)
}

// declareAlone declares what only one side weighed, by instrument.
func (d *closeBook) declareAlone(s *sheet, a aloneSpec, lines []report.MatchLine) {
	columns := []column{
		{key: "instrument", head: a.first, kind: kindText, width: 16, note: "as the records have it"},
		{key: "number", head: headline(a.what), kind: kindInteger, width: 14, note: a.note},
		d.massColumn("mass", "Mass", "as weighed"),
	}
	var rows [][]value
	number, total := 0, ledger.Mass(0)
	seen := make(map[string]bool)
	for i := range lines {
		instrument, n, m := a.line(&lines[i])
		if seen[instrument] {
			continue
		}
		seen[instrument] = true
		number, total = number+n, total+m
		rows = append(rows, []value{label(instrument), integer(int64(n)), mass(m)})
	}
	t := s.table(tableSpec{name: a.name, title: a.title, columns: columns, count: len(rows), rows: rowsOf(rows...), total: []value{text("All"), integer(int64(number)), mass(total)}})
	n := integer(int64(number))
	d.check(checkRow{"Loader v deck: " + a.what + " alone", inCounts, computed(t.totalCell("number").String(), n), n, 0, t.totalCell("number")})
	d.check(checkRow{"Loader v deck: mass of " + a.what + " alone", inTonnes, computed(t.totalCell("mass").String(), mass(total)), mass(total),
		roundingOf(len(rows), float64(total)), t.totalCell("mass")})
}
