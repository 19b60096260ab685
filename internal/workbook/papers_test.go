package workbook

import (
	"fmt"
	"strings"
	"testing"

	inmoney "repose/internal/value"

	"github.com/google/go-cmp/cmp"
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

// On either paper the figures of every sheet are printed at a size that can be read: the sheets that are fitted to a width
// shrink by how much their columns are wider than a page. The widest are lists that are read on the screen.
func TestPrintedSize(t *testing.T) {
	b, err := declareClose(t.Context(), hostileClose(t), maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	// Letter is the narrower: 11 inches less the margins, of 96 pixels, and a character is 7 of them with 5 for a column.
	const page, character, rim, size = (11 - 2*0.5) * 96, 7, 5, 10.0
	least := map[string]float64{"Entries": 4.3, "Roll-forward": 4.6, "Lead": 5, "Book v survey": 4.8, "Causes": 4.8}
	for _, s := range b.sheets {
		if s.scale > 0 || s.onePage {
			continue
		}
		columns := 0
		for _, block := range s.blocks {
			_, cols := block.extent(0)
			columns = max(columns, cols)
		}
		wide := 0.0
		for _, w := range widths(s.blocks, columns) {
			wide += w*character + rim
		}
		points := size * min(1, page*float64(max(s.pages, 1))/wide)
		want := 5.8
		if l, ok := least[s.name]; ok {
			want = l
		}
		if points < want {
			t.Errorf("%s is printed in %.1f points, want at least %.1f", s.name, points, want)
		}
	}
}
