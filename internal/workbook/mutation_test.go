package workbook

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"testing"

	"repose/internal/report"
	"repose/ledger"

	"github.com/xuri/excelize/v2"
)

// mutation changes the cells of a column of entries, by the least step that means anything.
type mutation struct {
	column string
	change func(t *testing.T, old string) any
}

// add adds a step to a figure.
func add(step float64) func(*testing.T, string) any {
	return func(t *testing.T, old string) any {
		f, err := strconv.ParseFloat(old, 64)
		if err != nil && old != "" {
			t.Fatal(err)
		}
		return f + step
	}
}

func mutations() []mutation {
	other := func(a, b string) func(*testing.T, string) any {
		return func(_ *testing.T, old string) any {
			if old == a {
				return b
			}
			return a
		}
	}
	const gram, second = 1e-6, 1.0 / 86_400
	return []mutation{
		{"order", add(1)}, {"at", add(second)}, {"wet", add(gram)}, {"solids", add(gram)}, {"water", add(gram)}, {"moisture", add(1e-6)}, {"row", add(1)},
		{"from", other("pile EMPTY", "out sale")}, {"to", other("pile EMPTY", "weather")}, {"movement", other("returns", "sale")},
		{"product_out", other("product S20", "product s20 (2)")}, {"product_in", other("product S20", "product s20 (2)")},
		{"file", other("file 1", "file 2")}, {"late", other("2026-09", "")},
	}
}

// A single changed cell of the entries that any figure rests on breaks a check, and with it the one cell of
// the cover. Each column is changed in another row, which together are of every kind.
func TestMutationsBreakChecks(t *testing.T) {
	t.Parallel()
	office := findOffice(t)
	c := hostileClose(t)
	b, err := declareClose(t.Context(), c, maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	const asItIs = "as it is"
	data := written(t, b)
	books := map[string][]byte{asItIs: data}
	rows := oneOfEach(c)
	for i, m := range mutations() {
		row := rows[i%len(rows)]
		books[fmt.Sprintf("%s of row %d", m.column, row)] = mutated(t, data, change{tableOf(t, b, "Entries").cell(m.column, row), m.change})
	}
	coversBreak(t, office, books, asItIs)
}

// coversBreak has workbooks recomputed and fails where a cover does not say that something is broken, or where the
// one of the workbook that is as it should be does.
func coversBreak(t *testing.T, office string, books map[string][]byte, sound string) {
	t.Helper()
	// The cover is the first sheet, and all that a CSV file holds.
	covers := converted(t, office, books, "csv", "Text - txt - csv (StarCalc)")
	for _, name := range slices.Sorted(maps.Keys(covers)) {
		want := wordBroken
		if name == sound {
			want = wordOK
		}
		if !strings.Contains(string(covers[name]), "All checks together,"+want) {
			t.Errorf("%s: the cover does not say %s", name, want)
		}
	}
}

// change is what happens to one cell.
type change struct {
	at cellRef
	to func(t *testing.T, old string) any
}

// mutated returns a workbook with some cells changed.
func mutated(t *testing.T, data []byte, changes ...change) []byte {
	t.Helper()
	f := open(t, data)
	for _, c := range changes {
		old, err := f.GetCellValue(c.at.sheet, c.at.local(), excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		if err := f.SetCellValue(c.at.sheet, c.at.local(), c.to(t, old)); err != nil {
			t.Fatal(err)
		}
	}
	var buf bytes.Buffer
	if err := f.Write(&buf); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// oneOfEach returns the first row of every movement, those of an entry with a reversal, and the first
// without legs.
func oneOfEach(c *report.Close) []int {
	seen := make(map[string]bool)
	var rows []int
	row := 0
	for e := range c.Entries {
		legs := e.Legs
		if len(legs) == 0 {
			legs = []ledger.Leg{{}}
		}
		for _, l := range legs {
			kind := "reversal"
			switch {
			case l == (ledger.Leg{}):
				kind = "without legs"
			case e.Flags&ledger.FlagReversal == 0:
				kind = movementOf(l)
			}
			if !seen[kind] || kind == "reversal" {
				rows = append(rows, row)
			}
			seen[kind] = true
			row++
		}
	}
	return rows
}

func tableOf(t *testing.T, b *book, name string) *table {
	t.Helper()
	for _, s := range b.sheets {
		for _, block := range s.blocks {
			if tb, ok := block.(*table); ok && tb.spec.name == name {
				return tb
			}
		}
	}
	t.Fatalf("no table %s", name)
	return nil
}
