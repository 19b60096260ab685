package workbook

import (
	"cmp"
	"strings"
	"time"

	"repose/ledger"
)

// testName names a test of a pile or a product by the instant it was taken.
func (d *closeBook) testName(pile, product string, taken time.Time) string {
	of := ledger.KindPileRecord.String() + " " + pile
	if pile == "" {
		of = ledger.KindProductRecord.String() + " " + product
	}
	return of + ", " + taken.In(d.month.Zone).Format("2006-01-02 15:04 -07:00")
}

// declareSupport declares what each survey rests on.
func (d *closeBook) declareSupport(s *sheet, lines []surveyLine) {
	words := func(key, head, note string) column {
		return wordColumn(key, head, 12, note)
	}
	columns := append(surveyColumns()[:2],
		column{key: "started", head: "Started", kind: kindInstant, width: 18, note: "when the survey began; movements from here to its end are listed below"},
		words("offset", "UTC offset at the end", "of the yard's clock when the survey ended"),
		words("method", "Method", "how the volume was measured"),
		words("surveyor", "Surveyor", "a code, not a name"),
		words("report", "Report", "the surveyor's reference"),
		words("base", "Base", "surface under the pile that the volume was taken from"),
		words("reason", "Deduction reason", "why a part of the volume is not counted"),
		column{key: "volume_u", head: "Volume u", unit: "%", kind: kindPercent, width: 11, note: "relative standard uncertainty of the volume; blank where not stated"},
		column{key: "toe_area", head: "Toe area", unit: "m²", kind: kindNumber, places: 1, width: 11, note: "plan area inside the toe line; blank where not stated"},
		words("density", "Density test", "the test in force at the end: of which pile or product, and when it was taken; see Policies"),
		words("density_later", "Density taken", "before or after the survey ended"),
		column{key: "moisture", head: "Moisture", unit: "% dry", kind: kindPercent, width: 9, note: "of the pile when the survey ended; parts no solids here, and gives the water of an adjustment"},
		words("moisture_from", "Moisture by", "how that moisture was found"))
	var rows [][]value
	for _, l := range lines {
		c := l.comparison
		if c == nil {
			continue
		}
		sv := c.Survey
		row := cells{"pile": text(l.key), "survey": label(sv.Survey), "started": instant(sv.Start), "offset": text(sv.End.In(d.month.Zone).Format(offsetLayout)),
			"method": orBlank(sv.Method), "surveyor": orBlank(sv.Surveyor), "report": orBlank(sv.Report), "base": orBlank(sv.Base),
			"reason": orBlank(sv.DeductionReason), "volume_u": optionalPercent(sv.VolumeU),
			"moisture": percent(c.Moisture.Percent()), "moisture_from": text(foundBy(c.MoistureFrom))}
		if sv.ToeAreaM2.Valid {
			row["toe_area"] = number(sv.ToeAreaM2.Decimal)
		}
		if c.HasDensity {
			row["density"], row["density_later"] = label(d.testName(c.Density.Pile, c.Density.Product, c.Density.Taken)), text("before")
		}
		if c.DensityLater {
			row["density_later"] = text("after")
		}
		rows = append(rows, d.row(columns, row))
	}
	s.table(tableSpec{name: "Support", title: "What the surveys rest on", columns: columns, count: len(rows), rows: rowsOf(rows...)})
}

// foundBy says in words how a moisture was found.
func foundBy(f ledger.Flags) string { return cmp.Or(strings.Join(f.Names(), "; "), "test of the pile") }

// declareNamed declares the movements that stand beside a survey.
func (d *closeBook) declareNamed(s *sheet, lines []surveyLine) {
	beside := func() []column {
		return append(surveyColumns()[:2],
			column{key: "at", head: "Time", kind: kindInstant, width: 18, note: "when it happened; of a cut-off item when it was weighed out"},
			column{key: "offset", head: "UTC offset", kind: kindText, width: 12, note: "of the yard's clock at that time"},
			d.massColumn("solids", "Solids", "into the pile if positive; in the book figure already"),
			column{key: "truck", head: "Truck", kind: kindText, width: 12, note: "as the record has it"})
	}
	record := column{key: "record", head: "Record", kind: kindText, width: 12, note: "ID of the movement's record; see Entries"}
	window := append(beside(), record)
	cutOff := append(beside(),
		column{key: "deck_ticket", head: "Deck ticket", kind: kindText, width: 12, note: "number of the deck scale's ticket"},
		column{key: "minutes", head: "After loading", unit: "min", kind: kindNumber, places: 1, width: 12, note: "time from loading to weighing out"}, record)
	var inWindow, between [][]value
	var windowSum, betweenSum ledger.Mass
	for _, l := range lines {
		if l.comparison == nil {
			continue
		}
		for _, item := range l.comparison.InWindow {
			inWindow = append(inWindow, append(d.besides(l, item, item.Record.At), label(item.Record.ID())))
			windowSum += item.Net.Solids
		}
		for _, item := range l.comparison.Straddling {
			wait := item.Deck.At.Sub(item.Record.At)
			between = append(between, append(d.besides(l, item, item.Deck.At), orBlank(item.Deck.Ticket), float(wait.Minutes()), label(item.Record.ID())))
			betweenSum += item.Net.Solids
		}
	}
	s.table(tableSpec{name: "InWindow", title: "Moved while its pile was being surveyed", columns: window, count: len(inWindow), rows: rowsOf(inWindow...),
		total: []value{text("All"), {}, {}, {}, mass(windowSum), {}, {}}})
	s.table(tableSpec{name: "CutOff", title: "Cut-off", about: "Loaded before the survey ended, weighed out after it: neither in the pile nor in the book.", columns: cutOff, count: len(between), rows: rowsOf(between...),
		total: []value{text("All"), {}, {}, {}, mass(betweenSum), {}, {}, {}, {}}})
}

func (d *closeBook) besides(l surveyLine, item ledger.Item, at time.Time) []value {
	_, truck, _ := papers(item.Record.Fact)
	return []value{text(l.key), label(l.comparison.Survey.Survey), instant(at), text(at.In(d.month.Zone).Format(offsetLayout)), mass(item.Net.Solids), orBlank(truck)}
}
