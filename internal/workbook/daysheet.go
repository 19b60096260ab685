package workbook

import (
	"fmt"

	"repose/ledger"
)

// pileColumn is the key of the column of the nth pile of a table.
func pileColumn(pile int) string { return fmt.Sprintf("pile%d", pile) }

// declareDays declares the ledger's own stock at the end of each day, which the chart is drawn from.
func (d *closeBook) declareDays(s *sheet) {
	s.onePage = true
	columns := []column{{key: "day", head: "Day", kind: kindDate, width: 12, note: "of the yard's calendar; the stock is that at its end"}}
	for i, p := range d.piles {
		columns = append(columns, d.massColumn(pileColumn(i), p.key, "solids of the pile, as the ledger states them"))
	}
	all := d.massColumn("all", "All piles", "sum of the piles")
	if n := len(d.piles); n > 0 {
		all.formula = "SUM({" + pileColumn(0) + "}:{" + pileColumn(n-1) + "})"
	}
	columns = append(columns, all)
	var rows [][]value
	for _, day := range d.month.Days {
		row := []value{date(day.End.Add(-1).In(d.month.Zone))}
		var sum ledger.Mass
		for _, p := range d.piles {
			row = append(row, mass(day.Solids[p.Pile]))
			sum += day.Solids[p.Pile]
		}
		rows = append(rows, append(row, mass(sum)))
	}
	d.days = s.table(tableSpec{name: "Days", columns: columns, count: len(rows), rows: rowsOf(rows...), main: true, frozen: 1})
	if n := len(d.month.Days); n > 0 && len(d.piles) > 0 {
		last := rows[n-1][len(d.piles)+1]
		d.check(checkRow{"Days: all piles at the end of the last day, against the closing", inTonnes,
			computed(d.days.cell("all", n-1).String(), last), mass(d.allPiles().own.Solids), 0, d.days.cell("all", n-1)})
	}
}
