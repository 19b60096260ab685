package demoyard

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strconv"
	"time"
)

// textTable is one of the yard's own CSV files.
type textTable struct {
	count  TableTruth
	header []string
	rows   [][]string
}

// file writes the table with commas.
func (t textTable) file() (File, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if err := w.WriteAll(append([][]string{t.header}, t.rows...)); err != nil {
		return File{}, fmt.Errorf("%s: %w", t.count.File, err)
	}
	return File{Name: t.count.File, Content: b.Bytes()}, nil
}

// newTextTable names a table that starts without rows.
func newTextTable(file, table string, header ...string) textTable {
	return textTable{count: TableTruth{File: file, Table: table}, header: header}
}

func (t *textTable) add(row ...string) {
	t.rows = append(t.rows, row)
	t.count.Rows++
}

// loadExports are the loaders' exports with the first and last day in each, from 2026-08-01. The second
// was asked for from a Saturday too early, so its first days are in the first export as well.
var loadExports = [...]struct {
	file        string
	first, last int
}{
	{"loads-2026-08.csv", 0, 30}, {"loads-2026-09.csv", 28, 60}, {"loads-2026-10.csv", 61, 91},
}

// textTables returns the yard's own CSV files.
func (s *simulation) textTables() []textTable {
	return append(s.loadTables(), s.productionTable(), s.transferTable(), s.feedTable(), s.returnTable(), s.surveyTable(), costTable(), priceTable())
}

func (s *simulation) loadTables() []textTable {
	var tables []textTable
	covered := -1
	for _, export := range loadExports {
		t := newTextTable(export.file, "loads", "time", "loader", "ticket", "pile", "product", "truck", "customer",
			"passes", "net [t]", "purpose", "status", "replaces", "tag job")
		for _, l := range s.loads {
			day := dayOf(l.at, s.zone)
			if day < export.first || day > export.last {
				continue
			}
			status := "kept"
			if l.void {
				status = "void"
				t.count.Voids++
			}
			if l.replaces != "" {
				t.count.Replacing++
			}
			if day <= covered {
				t.count.Repeated++
			}
			t.add(s.local(l.at, toSecond), l.loader, l.ticket, l.pile, products[l.product].code, l.truck, l.customer,
				strconv.FormatInt(l.passes, 10), tonnes(l.net, 2), l.purpose, status, l.replaces, l.job)
		}
		covered = export.last
		tables = append(tables, t)
	}
	return tables
}

func (s *simulation) productionTable() textTable {
	t := newTextTable("production-belts.csv", "production", "time", "belt", "pile", "reading [t]", "shift", "note")
	for _, r := range s.production {
		t.add(s.local(r.at, toMinute), r.belt, r.pile, r.reading, r.shift, r.note)
	}
	return t
}

func (s *simulation) transferTable() textTable {
	t := newTextTable("transfers.csv", "transfers", "time", "loader", "ticket", "from pile", "to pile", "net [t]", "truck")
	for _, r := range s.transfers {
		t.add(s.local(r.at, toMinute), r.loader, r.ticket, r.from, r.to, tonnes(r.net, 2), dumper.code)
	}
	return t
}

func (s *simulation) feedTable() textTable {
	t := newTextTable("feed.csv", "feed", "time", "instrument", "pile", "net [t]")
	for _, r := range s.feed {
		t.add(s.local(r.at, toMinute), r.loader, r.pile, tonnes(r.net, 2))
	}
	return t
}

func (s *simulation) returnTable() textTable {
	t := newTextTable("returns.csv", "returns", "time", "instrument", "ticket", "pile", "net [t]")
	for _, r := range s.returns {
		t.add(s.local(r.at, toMinute), deckScale.code, r.ticket, r.pile, tonnes(r.net, 2))
	}
	return t
}

func (s *simulation) surveyTable() textTable {
	t := newTextTable("surveys.csv", "surveys", "survey", "pile", "start", "end", "volume [m3]", "volume u [%]",
		"deduction [m3]", "deduction reason", "base", "toe area [m2]", "method", "surveyor", "report")
	for _, r := range s.surveys {
		p := piles[r.pile]
		deduction, reason := "", ""
		if p.baseLayerM3 > 0 {
			deduction, reason = fixed(p.baseLayerM3, 0), "base layer, permanent"
		}
		t.add(r.survey, p.name, s.local(r.start, toMinute), s.local(r.end, toMinute), fixed(rounded(r.litres, 100)/100, 1),
			"1.0", deduction, reason, "ground 2025-11", fixed(r.litres/(100*p.heightDM), 0), "photogrammetry", "SV-1", r.report)
	}
	return t
}

// local writes an instant as the yard's clocks show it.
func (s *simulation) local(at time.Time, layout string) string { return at.In(s.zone).Format(layout) }
