package workbook

import (
	"cmp"
	"fmt"
	"math"
	"strings"
	"time"

	"repose/internal/report"
	"repose/ledger"
)

// How much of an exception a row shows.
const (
	maxExceptionRecords = 10 // records by name
	maxEffects          = 2  // effects in columns of their own; further ones in words
)

// screening is what the register found, with the tables that count it.
type screening struct {
	lines    []report.ExceptionLine
	mass     ledger.Mass // as weighed, of all
	rounding int64       // grams by which a sum of masses of the list may be off
	list     *table      // one row for each exception
	status   *table      // counts by status
}

// screenedMass is the largest sum of masses that the sheets of the register show, or more.
func screenedMass(x *report.Screening) (sum ledger.Mass) {
	if x == nil {
		return 0
	}
	if x.Exceptions != nil {
		for _, l := range x.Exceptions.Exceptions {
			sum += max(l.Mass.Mass(), massOf(l.High))
		}
	}
	for _, l := range x.Sequences {
		sum += l.High.Mass()
	}
	for _, l := range x.Matching {
		sum += max(l.LoaderMass, l.DeckMass).Mass()
	}
	return sum
}

// declareScreening declares the register of exceptions and what its rules rest on.
func (d *closeBook) declareScreening(counts, list, sequences, decks *sheet) {
	x := cmp.Or(d.close.Screening.Exceptions, &report.Exceptions{})
	d.screening = &screening{lines: x.Exceptions}
	size := 0.0
	for _, l := range x.Exceptions {
		d.screening.mass += l.Mass.Mass()
		size += math.Abs(float64(l.Mass))
	}
	d.screening.rounding = roundingOf(len(x.Exceptions), size)
	groups := x.GroupBy("rule")
	d.declareExceptions(list)
	d.declareByStatus(counts, groups)
	d.declareByRule(counts, groups)
	d.declareSequences(sequences, d.close.Screening.Sequences)
	d.declareDecks(decks, d.close.Screening.Matching)
}

// declareExceptions declares the list of all exceptions.
func (d *closeBook) declareExceptions(s *sheet) {
	columns := d.exceptionColumns()
	x := d.screening
	x.list = s.table(tableSpec{name: "Exceptions", columns: columns, count: len(x.lines), long: true, frozen: 1,
		rows: func(yield func([]value, error) bool) {
			for i := range x.lines {
				if !yield(d.row(columns, d.exceptionCells(&x.lines[i])), nil) {
					return
				}
			}
		},
		total: d.row(columns, cells{"id": text("All"), "mass": mass(x.mass)})})
	d.checkExceptions(x.list, x.lines)
}

func (d *closeBook) exceptionColumns() []column {
	columns := []column{
		{key: "id", head: "ID", kind: kindText, width: 15, note: "of the exception; the same finding has it in every run"},
		{key: "at", head: "Time", kind: kindInstant, width: 18, note: "when it happened, on the yard's clock"},
		{key: "rule", head: "Rule", kind: kindText, isKey: true, wrap: true, width: 17, note: "the rule that found it"},
		{key: "strength", head: "Strength", kind: kindText, width: 9, note: "certain, likely or pattern; see Definitions"},
		{key: "status", head: "Status", kind: kindText, isKey: true, width: 10, note: "open, explained, settled or waived; see Definitions"},
		{key: "shown", head: "Still shown", kind: kindText, width: 7, note: "no where what settled it has set the records right, so that they show it no more; else yes"},
		wordColumn("pile", "Pile", 13, "the pile that it is about; blank where it is about none"),
		d.massColumn("mass", "Mass as weighed", "what is at stake, with its water; blank where no mass is"),
		d.massColumn("low", "Low", "of an estimated mass, lower end of its 95 % interval"),
		d.massColumn("high", "High", "of an estimated mass, upper end of its 95 % interval"),
		wordColumn("seen", "What was seen", 46, "in one sentence with the figures"),
		wordColumn("records", "Records", 27, "IDs of the records that it is about, the first ten"),
	}
	for i := range maxEffects {
		nth := []string{"first", "second"}[i]
		columns = append(columns, wordColumn(effectKey("pile", i), "Explains, "+nth+" pile", 13, "a pile whose shrinkage it would account for"),
			d.massColumn(effectKey("solids", i), "Of its shrinkage, "+nth+" pile", "solids; positive where it explains stone that is missing"))
	}
	columns = append(columns,
		wordColumn("further", "Explains further", 14, "piles and solids beyond the second"),
		wordColumn("instrument", "Instrument", 11, "scale or belt that recorded it"),
		wordColumn("series", "Series", 10, "of numbers"), wordColumn("product", "Product", 11, "as the records have it"),
		wordColumn("truck", "Truck", 10, "as the records have it"), wordColumn("customer", "Customer", 13, "as the records have it"),
		wordColumn("how", "How", 10, "in what way it was settled; blank while it is open"), wordColumn("reason", "Reason", 27, "why, in the words of the one who settled it"),
		wordColumn("by", "By", 10, "who settled it"),
		column{key: "decided", head: "Decided", kind: kindInstant, width: 18, note: "when, on the yard's clock"},
		wordColumn("wrote", "Records written", 27, "IDs of the records that settled it, the first ten"))
	return append(columns, auditorColumns()...)
}

func effectKey(what string, i int) string { return fmt.Sprintf("%s_%d", what, i+1) }

// exceptionCells returns the cells of an exception.
func (d *closeBook) exceptionCells(l *report.ExceptionLine) cells {
	row := cells{"id": label(l.ID), "at": instant(l.Time), "rule": text(d.ruleKey(l.Rule)), "strength": orBlank(l.Strength), "status": text(l.Status),
		"shown": text(map[bool]string{true: "no", false: "yes"}[l.Gone]), "seen": prose(l.Seen), "records": listed(l.Records), "instrument": orBlank(l.Instrument),
		"series": orBlank(l.Series), "product": orBlank(l.Product), "truck": orBlank(l.Truck), "customer": orBlank(l.Customer), "how": orBlank(l.How),
		"reason": prose(l.Reason), "by": orBlank(l.By), "wrote": listed(l.Wrote), "low": optionalMass(l.Low), "high": optionalMass(l.High)}
	if l.Pile != "" {
		row["pile"] = text(d.pileKey(l.Pile))
	}
	if l.Mass != 0 || l.Low != nil {
		row["mass"] = mass(l.Mass.Mass())
	}
	if l.Decided != nil {
		row["decided"] = instant(*l.Decided)
	}
	var further []string
	for i, e := range l.Explains {
		if i < maxEffects {
			row[effectKey("pile", i)], row[effectKey("solids", i)] = text(d.pileKey(e.Pile)), mass(e.Shrinkage.Mass())
		} else {
			further = append(further, d.pileKey(e.Pile)+" "+e.Shrinkage.Mass().Tonnes()+" t")
		}
	}
	row["further"] = listed(further)
	return row
}

func (d *closeBook) ruleKey(rule string) string { return d.names.key(wordRule, rule) }

// prose is a text of some length, and a blank cell where there is none.
func prose(s string) value {
	if s == "" {
		return value{}
	}
	return text(clip(s, maxProse))
}

// listed puts each of some names on a line of its own, and counts those that are too many.
func listed(names []string) value {
	if len(names) == 0 {
		return value{}
	}
	var lines []string
	for _, n := range names[:min(len(names), maxExceptionRecords)] {
		lines = append(lines, clip(n, maxLabel))
	}
	if more := len(names) - len(lines); more > 0 {
		lines = append(lines, fmt.Sprintf("and %d more", more))
	}
	return text(strings.Join(lines, "\n"))
}

func optionalMass(t *report.Tonnes) value {
	if t == nil {
		return value{}
	}
	return mass(t.Mass())
}

// figure is a column of masses of the list, with what it is called in a check.
type figure struct {
	key, what string
	of        func(l *report.ExceptionLine) ledger.Mass
}

func figures() []figure {
	list := []figure{
		{"mass", "mass as weighed", func(l *report.ExceptionLine) ledger.Mass { return l.Mass.Mass() }},
		{"low", "hash total of the lower ends of intervals", func(l *report.ExceptionLine) ledger.Mass { return massOf(l.Low) }},
		{"high", "hash total of the upper ends of intervals", func(l *report.ExceptionLine) ledger.Mass { return massOf(l.High) }},
	}
	for i := range maxEffects {
		list = append(list, figure{effectKey("solids", i), fmt.Sprintf("hash total of what they would account for, column %d", i+1),
			func(l *report.ExceptionLine) ledger.Mass {
				if i < len(l.Explains) {
					return l.Explains[i].Shrinkage.Mass()
				}
				return 0
			}})
	}
	return list
}

func massOf(t *report.Tonnes) ledger.Mass {
	if t == nil {
		return 0
	}
	return t.Mass()
}

// checkExceptions holds the list to what the register hands over: its rows, and the sum of every column of
// figures.
func (d *closeBook) checkExceptions(t *table, lines []report.ExceptionLine) {
	n := integer(int64(len(lines)))
	d.check(checkRow{"Exceptions: number in the list", inCounts, computed(t.column("id").call("COUNTA", ","), n), n, 0, t.cell("id", 0)})
	for _, f := range figures() {
		var sum ledger.Mass
		size := 0.0
		for i := range lines {
			sum, size = sum+f.of(&lines[i]), size+math.Abs(float64(f.of(&lines[i])))
		}
		d.check(checkRow{"Exceptions: " + f.what, inTonnes, computed(t.column(f.key).sum(), mass(sum)), mass(sum), roundingOf(len(lines), size), t.cell(f.key, 0)})
	}
	sum := 0.0
	for i := range lines {
		sum += d.sinceStart(lines[i].Time)
	}
	days := float(sum)
	d.check(checkRow{"Exceptions: hash total of the times, in days since the start of the month", inDays,
		computed(sinceStart(t.column("at"), d.params.ref(paramStart)), days), days, roundingOf(len(lines), sum*inDays.perUnit), t.cell("at", 0)})
}

// sinceStart returns how many days of the yard's clock lie between the start of the month and an instant, as a
// sheet counts them.
func (d *closeBook) sinceStart(t time.Time) float64 {
	var days [2]float64
	for i, at := range []time.Time{d.month.Start(), t} {
		serial, err := instantSerial(at, d.month.Zone)
		if err != nil {
			d.book.fail(err)
		}
		days[i] = serial
	}
	return days[1] - days[0]
}
