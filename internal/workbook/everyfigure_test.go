package workbook

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// unguarded are the tables whose figures no check of their own holds, each for a reason.
var unguarded = map[string]string{
	"Entries": "its columns have checks of their own, which TestMutationsBreakChecks breaks one by one",
	"Checks":  "a check of a check would need another; a tolerance is the one figure that could hide something, and their sum is the last check",
	"Overall": "it is what checks come to",
	"Cover":   "it repeats what checks come to, and holds no other figure",
}

// Every figure is guarded by itself: the first of every column of the hostile month's workbook is changed by the least
// step that its kind knows, all in one workbook, and of each column the check that adds up that column and nothing else is
// broken. It would be if no other figure were changed, and one broken check breaks the cover.
func TestEveryFigureIsGuarded(t *testing.T) {
	t.Parallel()
	office := findOffice(t)
	b, err := declareClose(t.Context(), hostileClose(t), maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	data := written(t, b)
	ours := open(t, data)
	var changes []change
	guards := make(map[string][]string) // formulas that add up a column, by table and column
	for _, tb := range tablesOf(b) {
		for key, c := range firstFigures(t, tb) {
			changes = append(changes, c)
			guards[tb.spec.name+"."+key] = []string{tb.column(key).sum(), "COUNTIF(" + tb.column(key).areas[0].String() + ",TRUE)", "SUMPRODUCT((" + tb.column(key).areas[0].String() + "-"}
			if tb.total > 0 {
				guards[tb.spec.name+"."+key] = append(guards[tb.spec.name+"."+key], tb.totalCell(key).String())
			}
		}
	}
	tolerance := tableOf(t, b, "Checks").cell("tolerance", 3)
	theirs := recomputed(t, office, map[string][]byte{"figures": mutated(t, data, append(changes, change{tolerance, add(1)})...)})["figures"]
	checks := checksOf(t, ours, theirs)
	for _, name := range slices.Sorted(maps.Keys(guards)) {
		if !slices.ContainsFunc(checks, func(c recomputedCheck) bool {
			return c.broken && c.control == "" && slices.ContainsFunc(guards[name], func(g string) bool { return c.found == g || strings.HasSuffix(g, "-") && strings.HasPrefix(c.found, g) })
		}) {
			t.Errorf("%s: no check of its own is broken", name)
		}
	}
	if last := checks[len(checks)-1]; !last.broken || !strings.Contains(last.what, "Tolerance") {
		t.Errorf("a wider tolerance: %q is broken: %t", last.what, last.broken)
	}
	if got := coverOf(t, theirs); got != wordBroken {
		t.Errorf("the cover says %s", got)
	}
	if len(guards) < 180 {
		t.Errorf("%d columns of figures: want some two hundred", len(guards))
	}
}

// formulasHeld ends the names of the checks that count formulas.
const formulasHeld = ": cells that hold their formula"

// A cell whose formula is overtyped is missed, even by the figure that stood there: of every column of formulas, and of
// every total, one cell is, and each table's check misses as many.
func TestEveryFormulaIsGuarded(t *testing.T) {
	t.Parallel()
	office := findOffice(t)
	b, err := declareClose(t.Context(), hostileClose(t), maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	data := written(t, b)
	ours := open(t, data)
	var changes []change
	missing := make(map[string]int64) // by the name of a table's check
	same := func(_ *testing.T, old string) any {
		if f, err := strconv.ParseFloat(old, 64); err == nil {
			return f
		}
		return old
	}
	all := 0
	for _, tb := range tablesOf(b) {
		for _, at := range formulaCells(t, ours, tb) {
			changes = append(changes, change{at, same})
			about := tb.sheet.name
			if tb.spec.title != "" {
				about += ", " + tb.spec.title
			}
			missing[about+formulasHeld]++
			all++
		}
	}
	theirs := recomputed(t, office, map[string][]byte{"formulas": mutated(t, data, changes...)})["formulas"]
	for _, c := range checksOf(t, ours, theirs) {
		if !strings.HasSuffix(c.what, formulasHeld) {
			continue
		}
		if want := missing[c.what]; c.difference != -want || !c.broken {
			t.Errorf("%s: %d are missed, want %d; broken: %t", c.what, -c.difference, want, c.broken)
		}
		delete(missing, c.what)
	}
	for what, n := range missing {
		t.Errorf("there is no check %q for %d overtyped cells", what, n)
	}
	if got := coverOf(t, theirs); got != wordBroken || all < 150 {
		t.Errorf("the cover says %s after %d cells", got, all)
	}
}

// tablesOf returns the tables that are guarded.
func tablesOf(b *book) (tables []*table) {
	for _, s := range b.sheets {
		for _, block := range s.blocks {
			if tb, ok := block.(*table); ok && unguarded[tb.spec.name] == "" {
				tables = append(tables, tb)
			}
		}
	}
	return tables
}

// firstFigures returns, by column, a change of the first figure that no formula works out, by the least step of its kind.
func firstFigures(t *testing.T, tb *table) map[string]change {
	t.Helper()
	changes := make(map[string]change)
	i := 0
	for row, err := range tb.spec.rows {
		if err != nil {
			t.Fatal(err)
		}
		for k, c := range tb.spec.columns {
			_, done := changes[c.key]
			if v := row[k]; !done && v.formula == "" && c.formula == "" {
				if to := leastStep(c, v); to != nil {
					changes[c.key] = change{tb.cell(c.key, i), to}
				}
			}
		}
		i++
	}
	return changes
}

// leastStep returns the smallest change of a figure that means anything; nil for what is no figure.
func leastStep(c column, v value) func(*testing.T, string) any {
	switch v.kind {
	case kindTonnes, kindPercent:
		return add(1e-6)
	case kindInteger, kindDate:
		return add(1)
	case kindInstant:
		return add(1.0 / 86_400)
	case kindBool:
		return func(_ *testing.T, old string) any { return old != "1" && old != "TRUE" }
	case kindNumber:
		if c.unit == "EUR" {
			return add(0.01)
		}
		return add(1e-6)
	}
	return nil
}

// formulaCells returns the first cell of each column of a table that holds a formula, and every one of its total row.
func formulaCells(t *testing.T, f *excelize.File, tb *table) (cells []cellRef) {
	t.Helper()
	rows := tb.spec.count
	if tb.spec.long {
		rows = 0
	}
	holds := func(at cellRef) bool {
		formula, err := f.GetCellFormula(at.sheet, at.local())
		if err != nil {
			t.Fatal(err)
		}
		return formula != ""
	}
	for _, c := range tb.spec.columns {
		for i := range rows {
			if at := tb.cell(c.key, i); holds(at) {
				cells = append(cells, at)
				break
			}
		}
		if tb.total > 0 && holds(tb.totalCell(c.key)) {
			cells = append(cells, tb.totalCell(c.key))
		}
	}
	return cells
}

// recomputedCheck is a row of the sheet of checks: its formulas as they were written, and what they came to.
type recomputedCheck struct {
	what, found, control string // control is empty where it is a value
	difference           int64
	broken               bool
}

// checksOf returns the checks of a workbook as the second engine found them.
func checksOf(t *testing.T, ours, theirs *excelize.File) (checks []recomputedCheck) {
	t.Helper()
	rows, err := theirs.GetRows("Checks", excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range rows {
		if len(row) < 10 || row[9] != wordOK && row[9] != wordBroken {
			continue
		}
		c := recomputedCheck{what: row[1], broken: row[9] == wordBroken}
		difference, err := strconv.ParseFloat(row[6], 64)
		if err != nil {
			t.Fatalf("%s: %v", c.what, err)
		}
		c.difference = int64(difference)
		for column, to := range map[string]*string{"D": &c.found, "E": &c.control} {
			if *to, err = ours.GetCellFormula("Checks", column+fmt.Sprint(i+1)); err != nil {
				t.Fatal(err)
			}
		}
		checks = append(checks, c)
	}
	if len(checks) == 0 {
		t.Fatal("the workbook has no checks")
	}
	return checks
}

// coverOf returns what the cover of a recomputed workbook says of all checks.
func coverOf(t *testing.T, f *excelize.File) string {
	t.Helper()
	rows, err := f.GetRows("Cover")
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		if len(r) > 1 && r[0] == "All checks together" {
			return r[1]
		}
	}
	return ""
}
