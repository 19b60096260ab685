package workbook

import (
	"cmp"
	"strings"
	"time"

	"repose/ledger"
)

// maxProse is the longest account of a problem that is shown whole, in characters.
const maxProse = 2000

// declareProblems declares what stands in the way of the close, what its reader should know, and the
// records that came too late for their own month.
func (d *closeBook) declareProblems(s *sheet) {
	var rows [][]value
	for _, blocks := range []bool{true, false} {
		for _, p := range d.close.Reconciliation.Problems {
			if p.Blocks == blocks {
				rows = append(rows, []value{text(p.Kind), label(cmp.Or(p.Subject, "no pile stated")), text(map[bool]string{true: "yes", false: "no"}[blocks]), text(clip(p.Text, maxProse)), text(clip(p.Waiver(), maxProse))})
			}
		}
	}
	s.table(tableSpec{
		name: "Problems", title: "Problems, those in the way of a close first", count: len(rows), rows: rowsOf(rows...), main: true,
		columns: []column{
			{key: "kind", head: "Problem", kind: kindText, width: 18, note: "kind of problem; no row where there is none"},
			{key: "subject", head: "Subject", kind: kindText, width: 32, wrap: true, note: "the pile, record or conflict that has it"},
			{key: "blocks", head: "Blocks a close", kind: kindText, width: 18, alarm: []string{"yes"}, note: "yes where a month with it is not closed"},
			{key: "text", head: "What it is", kind: kindText, width: 76, wrap: true, note: "in words"},
			{key: "waived", head: "Waived", kind: kindText, width: 44, wrap: true, note: "by whom and why, and who approved it; blank where nobody did"},
		},
	})
	d.declareLate(s)
}

func (d *closeBook) declareLate(s *sheet) {
	var rows [][]value
	zone := d.month.Zone
	for _, rec := range d.month.Late {
		about := []string{"UTC offset " + rec.At.In(zone).Format(offsetLayout)}
		if !rec.Recorded.IsZero() {
			about = append(about, "recorded "+rec.Recorded.In(zone).Format("2006-01-02 15:04 -07:00"))
		}
		if rec.Replaces != "" {
			about = append(about, "takes the place of "+rec.Replaces)
		}
		rows = append(rows, []value{text(ledger.PeriodOf(rec.At, zone).String()), label(rec.ID()), instant(rec.At), label(strings.Join(about, "; "))})
	}
	s.table(tableSpec{
		name: "Late", title: "Late records: they happened in a sealed month and are entered in this one", count: len(rows), rows: rowsOf(rows...),
		columns: []column{
			{key: "month", head: "Month", kind: kindText, width: 18, note: "the sealed month in which it happened"},
			{key: "record", head: "Record", kind: kindText, width: 32, wrap: true, note: "its ID, as in Entries where it moved anything"},
			{key: "at", head: "Happened", kind: kindInstant, width: 18, note: "on the yard's clock"},
			{key: "about", head: "About it", kind: kindText, width: 76, wrap: true, note: "the clock's UTC offset, when the book learnt of it, and the record that it takes the place of"},
		},
	})
}

// instantOrBlank is an instant, and a blank cell for the zero time.
func instantOrBlank(t time.Time) value {
	if t.IsZero() {
		return value{}
	}
	return instant(t)
}
