package workbook

import (
	"fmt"
	"strings"
	"testing"

	inmoney "repose/internal/value"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

// Acts, a weighing, a roll and a product in money as a reader sees them.
func TestPapersAreShown(t *testing.T) {
	c := hostileClose(t)
	b, err := declareClose(t.Context(), c, maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	data := written(t, b)
	f := open(t, data)
	var two []string
	for i := range c.Papers.Acts {
		two = append(two, cellsOf(t, f, tableOf(t, b, "Acts"), i)["two"])
	}
	// The approver of the third is not needed; of the fourth there is none, and of the last it is the same.
	if diff := cmp.Diff([]string{"OK", "OK", "OK", "BROKEN", "BROKEN"}, two); diff != "" {
		t.Error(diff)
	}
	for what, want := range map[string]string{"Acts without a second person": "2 of 5", "Weighings in another month": fmt.Sprintf("%d of %d", 2*len(c.Papers.CutOff.Cuts), 9*len(c.Papers.CutOff.Cuts))} {
		if got := onCover(t, data, what); got != want {
			t.Errorf("%s: %q, want %q", what, got, want)
		}
	}
	for _, test := range []struct {
		table string
		row   int
		want  map[string]string
	}{
		{"Weighings", 2, map[string]string{"cut": "cut 1", "instrument": "loader L1", "side": "before", "entered": "", "belongs": "2026-10", "agrees": "BROKEN", "solids": "20.000"}},
		{"Cuts", 0, map[string]string{"cut": "cut 1", "lines": "9", "trucks": "1", "own_trucks": "1", "solids": "23.000", "agrees": "OK", "what": "End of 2026-10"}},
		{"Between", 0, map[string]string{"cut": "cut 1", "pile": "pile P1", "solids": "23.000", "load": "load:Y:L1/9", "deck": "deck:Y:=D1/9"}},
		// (8,421.5 - 37.5) m3 x 1.62 / 1.04 t/m3 are 13,059.692 t, and 100 t came.
		{"RollMoves", 1, map[string]string{"roll": "roll 1", "pile": "pile P1", "what": "production", "moved": "100.000", "running": "13,159.692", "records": "3"}},
		{"RollEnds", 0, map[string]string{"roll": "roll 1", "end": "13,159.692", "own_end": "13,159.692", "agrees": "OK"}},
		{"Instruments", 0, map[string]string{"instrument": "=B1", "in_date": "lapsed", "systematic": "0.50%", "factor": "1.012300"}},
		{"ScreenRules", 0, map[string]string{"rule": "rule " + c.Papers.Screen.Rules[0], "count": "2", "own": "2"}},
		{"LogHead", 0, map[string]string{"records": fmt.Sprint(c.Head.Size), "head": c.Head.Root, "cover": c.Head.Root, "agrees": "OK"}},
		{"Sensitivity", 3, map[string]string{"step": "moisture, 1 point", "less": "", "less_adjusted": ""}},
	} {
		got := cellsOf(t, f, tableOf(t, b, test.table), test.row)
		for key, want := range test.want {
			if got[key] != want {
				t.Errorf("%s, row %d: %s is %q, want %q", test.table, test.row, key, got[key], want)
			}
		}
	}
}

// The roll-forward in money is the value's own, column by column, and foots.
func TestCostIsShown(t *testing.T) {
	c := hostileClose(t)
	b, err := declareClose(t.Context(), c, maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	f := open(t, written(t, b))
	for i := range c.Value.Products {
		p := &c.Value.Products[i]
		got := cellsOf(t, f, tableOf(t, b, "CostMoney"), i)
		for _, m := range p.Moves {
			if shown := strings.NewReplacer(",", "", "(", "-", ")", "").Replace(got[wayKey(int(m.Column()))]); shown != m.Cost.String() {
				t.Errorf("%s, %s: %s, want %s", p.Product, m.What, shown, m.Cost)
			}
		}
		if shown := strings.ReplaceAll(got["closing"], ",", ""); shown != p.Closing.String() || got["closing"] != got["own"] {
			t.Errorf("%s: closing %s, want %s", p.Product, shown, p.Closing)
		}
		test := cellsOf(t, f, tableOf(t, b, "CostTest"), i)
		if shown := strings.ReplaceAll(test["lower"], ",", ""); shown != p.Carrying.String() || test["agrees"] != wordOK {
			t.Errorf("%s: lower %s, want %s", p.Product, shown, p.Carrying)
		}
	}
	if got := cellsOf(t, f, tableOf(t, b, "CostJournal"), 0)["line"]; got != "Y-2026-10-1-001" {
		t.Errorf("the first line of the journal is %q", got)
	}
}

// The ways in and out stand in the order of the value's own, under its names.
func TestCostWays(t *testing.T) {
	var want, got []string
	for c := range inmoney.Columns {
		want = append(want, c.String())
	}
	for _, w := range costWays() {
		got = append(got, strings.ToLower(w.head))
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// A month without papers, or that was not put into money, has none of their sheets, and is whole without them.
func TestWithoutPapers(t *testing.T) {
	c := hostileClose(t)
	c.Papers, c.Value = nil, nil
	data := writtenClose(t, c, maxSheetRows)
	inspect(t, data)
	for _, name := range open(t, data).GetSheetList() {
		switch name {
		case "Rolls", "Sensitivity", "Cut-off", "Instruments", "Adjustments", "Journal screen", "Log extract", "Cost":
			t.Errorf("there is a sheet %s", name)
		}
	}
	if got := allChecks(t, data); got != wordOK {
		t.Errorf("the cover says %s", got)
	}
}

// On either paper the figures of every sheet are printed in 7 points or more: as many pages side by side as it takes, each
// with the columns that name the row.
func TestPrintedSize(t *testing.T) {
	f := open(t, writtenClose(t, hostileClose(t), maxSheetRows))
	// Letter is the narrower, 11 by 8.5 inches less the margins, and of 96 pixels each; A4 is the lower, by less than the margins
	// differ. A character is 7 pixels with 5 for a column.
	const wide, high, figures, least = (11 - 2*0.5) * 96, (8.27 - 2*0.55) * 72, 10.0, 7.0
	for _, name := range f.GetSheetList() {
		page, err := f.GetPageLayout(name)
		if err != nil {
			t.Fatal(err)
		}
		if props, err := f.GetSheetProps(name); err != nil || !*props.FitToPage {
			continue // charts, at a scale of their own
		}
		sheet := sizesOf(t, f, name)
		scale := 1.0
		for scale > 0.1 && sheet.pagesWide(wide/scale) > *page.FitToWidth {
			scale -= 0.005
		}
		if *page.FitToHeight == 1 {
			scale = min(scale, high/sheet.height)
		}
		if points := figures * scale; points < least {
			t.Errorf("%s is printed in %.1f points on %d pages side by side, want at least %.1f", name, points, *page.FitToWidth, least)
		}
		if *page.FitToWidth > 1 && sheet.repeated == 0 {
			t.Errorf("%s is printed on %d pages side by side, and none but the first says what the rows are", name, *page.FitToWidth)
		}
	}
}

// sizes are what a sheet is made of, in pixels and points, as a file states it.
type sizes struct {
	columns  []float64
	repeated int // leading columns printed on every page
	height   float64
}

func sizesOf(t *testing.T, f *excelize.File, name string) sizes {
	t.Helper()
	area, err := f.GetSheetDimension(name)
	if err != nil {
		t.Fatal(err)
	}
	_, corner, _ := strings.Cut(area, ":")
	cols, rows, err := excelize.CellNameToCoordinates(corner)
	if err != nil {
		t.Fatal(err)
	}
	var out sizes
	for c := range cols {
		letters, _ := excelize.ColumnNumberToName(c + 1)
		width, err := f.GetColWidth(name, letters)
		if err != nil {
			t.Fatal(err)
		}
		out.columns = append(out.columns, width*7+5)
	}
	for r := range rows {
		height, err := f.GetRowHeight(name, r+1)
		if err != nil {
			t.Fatal(err)
		}
		out.height += height
	}
	for _, n := range f.GetDefinedName() {
		if n.Name != "_xlnm.Print_Titles" || n.Scope != name {
			continue
		}
		for _, span := range strings.Split(n.RefersTo, ",") {
			_, last, _ := strings.Cut(span[strings.LastIndex(span, "!")+1:], ":")
			if c, err := excelize.ColumnNameToNumber(strings.TrimPrefix(last, "$")); err == nil {
				out.repeated = c
			}
		}
	}
	return out
}

// pagesWide fills pages with whole columns from the left, the repeated ones first on each.
func (s sizes) pagesWide(page float64) int {
	lead := 0.0
	for _, w := range s.columns[:s.repeated] {
		lead += w
	}
	pages, left := 1, page-lead
	for _, w := range s.columns[s.repeated:] {
		if w > left {
			pages, left = pages+1, page-lead
		}
		left -= w
	}
	return pages
}
