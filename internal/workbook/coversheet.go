package workbook

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"repose/internal/report"
	"repose/ledger"
)

// coverHead names the row of the cover that states the head of the log.
const coverHead = "Head of the log (RFC 6962)"

// declareCover declares the first sheet, with the one cell that sums up all checks.
func (d *closeBook) declareCover(s *sheet, overall *table) {
	s.onePage = true
	s.note("What a yard's records say lies in its piles, held against the surveys, for one calendar month of the yard's own clock. " +
		"Every total is a live formula over the sheet Entries; beside it stands the ledger's own figure as a control.")
	s.gap()
	rows := d.coverRows(overall)
	t := s.table(tableSpec{
		name: "Cover", title: "The close", count: len(rows), rows: rowsOf(rows...),
		columns: []column{
			{key: "what", head: "What", kind: kindText, width: 27, note: "what is stated"},
			{key: "is", head: "Is", kind: kindAny, width: 72, alarm: []string{draftState(d.close)}, note: "as it was when this workbook was written"},
			{key: "see", head: "See", kind: kindText, role: roleLink, width: 20, note: "leads to the cell"},
		},
	})
	d.cover = t
	d.coverHead = slices.IndexFunc(rows, func(row []value) bool { return row[0].text == coverHead })
	d.book.name("AllChecks", t.cell("is", len(rows)-1))

	s.heading("What the hashes prove")
	s.note("The head is a hash over every record of the log in order: whoever kept it outside, by mail or on paper, can prove later that no record of then has been changed, removed or put in between. " +
		"The seal is the same for the entries, balances, surveys and policies of the closed month.")
	s.note("They do not prove that an entry was true when it was posted, that none is missing, or that the whole log was not built anew before its head was kept outside.")
	s.gap()
	s.heading("Units and basis")
	s.note("t is the tonne of 1,000 kg. Solids are oven-dry stone, water is the water with it, as weighed or as is is both. Moisture is in per cent of dry mass. Shrinkage and difference are book less survey in solids: positive where stone is missing.")
	s.gap()
	signatures := [][]value{{text("Prepared"), {}, {}}, {text("Reviewed"), {}, {}}, {text("Approved"), {}, {}}}
	s.table(tableSpec{
		name: "SignOff", title: "Sign-off", count: len(signatures), rows: rowsOf(signatures...), height: 30,
		columns: []column{
			{key: "step", head: "Step", kind: kindText, width: 27, note: "who signs"},
			{key: "name", head: "Name and signature", kind: kindText, role: roleInput, width: 72, note: "left empty, to be written by hand"},
			{key: "date", head: "Date", kind: kindText, role: roleInput, width: 20, note: "left empty, to be written by hand"},
		},
	})
	s.heading("Cautions")
	s.note("Weights are for inventory. Whether a scale may be used in trade is a matter of the law of weights and measures and of its approval.")
	s.note("Whether and how a difference is entered in accounts is a matter of the applicable standards and of licensed practice.")
	s.note("Piles are dangerous: they slide, cave in and bury people. Nothing here says that a pile is safe to climb, to stand under or to sample.")
	s.note("Records and causes are labelled here, never people: a difference between book and survey is no evidence against anyone.")
}

// coverRows say what the close is, and what calls for attention.
func (d *closeBook) coverRows(overall *table) [][]value {
	c, m := d.close, d.month
	state, seal := text("closed"), text(c.Seal)
	closedAt, closedBy := text(c.ClosedAt.In(m.Zone).Format("2006-01-02 15:04:05 -07:00")), orBlank(c.ClosedBy)
	if !c.Closed {
		state, seal, closedAt, closedBy = text(draftState(c)), text("none before the close"), value{}, value{}
	}
	all := computed(allOK(overall.column("result")), check(d.allChecksOK()))
	rows := [][]value{
		{text("Yard"), label(strings.TrimSpace(m.Yard.Code + " " + m.Yard.Name)), {}},
		{text("Time zone"), text(m.Zone.String()), {}},
		{text("Period"), text(m.Period.String()), {}},
		{text("State"), state, {}},
		{text("Closed at"), closedAt, {}},
		{text("Closed by"), closedBy, {}},
		{text("Close of this month"), d.closeNumber(), {}},
		{text("Records in the log"), text(strconv.FormatInt(c.Head.Size, 10)), {}},
		{text(coverHead), text(c.Head.Root), {}},
		{text("SHA-256 of the seal"), seal, {}},
		d.openExceptions(),
	}
	rows = append(rows, d.paperRows()...)
	return append(rows, []value{text("All checks together"), all, link("Checks", overall.cell("result", 0))})
}

// closeNumber says which close of the month this is, and why there was an earlier one.
func (d *closeBook) closeNumber() value {
	switch c := d.close; {
	case !c.Closed:
		return value{}
	case c.Restates == "":
		return text(strconv.Itoa(c.Number))
	default:
		return label(fmt.Sprintf("%d, %s", c.Number, c.Restates))
	}
}

// openExceptions is the row that says how many exceptions nobody has settled.
func (d *closeBook) openExceptions() []value {
	x := d.screening
	if x == nil {
		return []value{text("Open exceptions"), text("not looked for"), {}}
	}
	open, all := x.status.cell("count", 0), x.status.totalCell("count")
	counts := countOf(x.lines, func(*report.ExceptionLine) bool { return true })
	return []value{text("Open exceptions"), computed(open.String()+`&" of "&`+all.String(), text(fmt.Sprintf("%d of %d", counts.number[ledger.ExceptionOpen], counts.all()))),
		link("Exceptions", x.list.cell("id", 0))}
}

// draftState says why a workbook is not that of a closed month.
func draftState(c *report.Close) string {
	if !c.At.IsZero() {
		return "draft: what had happened by " + c.At.In(c.Month.Zone).Format("2006-01-02 15:04:05")
	}
	return "draft: the month is open"
}

func (d *closeBook) allChecksOK() bool {
	for _, c := range d.checks {
		if !c.ok() {
			return false
		}
	}
	return true
}
