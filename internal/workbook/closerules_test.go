package workbook

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"repose/ledger"

	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"
)

var (
	textLiteral = regexp.MustCompile(`"[^"]*"`)
	sheetName   = regexp.MustCompile(`'[^']*'!|[A-Za-z]+!`)
	reference   = regexp.MustCompile(`(\$?)([A-Z]{1,3})(\$?)([0-9]+)`)
	digit       = regexp.MustCompile(`[0-9]`)
)

// formulasOf yields every formula of a workbook.
func formulasOf(t *testing.T, f *excelize.File, yield func(sheet, cell, formula string)) {
	t.Helper()
	for _, sheet := range f.GetSheetList() {
		rows, err := f.GetRows(sheet, excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		for r, row := range rows {
			for c := range row {
				cell := cellRef{sheet, c + 1, r + 1}.local()
				formula, err := f.GetCellFormula(sheet, cell)
				if err != nil {
					t.Fatal(err)
				}
				if formula != "" {
					yield(sheet, cell, formula)
				}
			}
		}
	}
}

// No figure stands within a formula: it has a cell of its own, where a reader sees it.
func TestNoConstantsInFormulas(t *testing.T) {
	n := 0
	formulasOf(t, open(t, writtenClose(t, hostileClose(t), maxSheetRows)), func(sheet, cell, formula string) {
		n++
		bare := reference.ReplaceAllString(sheetName.ReplaceAllString(textLiteral.ReplaceAllString(formula, ""), ""), "")
		if digit.MatchString(bare) {
			t.Errorf("%s!%s =%s: holds a figure", sheet, cell, formula)
		}
	})
	if n < 500 {
		t.Errorf("%d formulas: want some hundreds", n)
	}
}

// A column has one formula, so that a reader who knows one row knows all. Checks are each their own.
func TestOneFormulaAColumn(t *testing.T) {
	b, err := declareClose(t.Context(), hostileClose(t), maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	f := open(t, written(t, b))
	for _, s := range b.sheets {
		for _, block := range s.blocks {
			tb, ok := block.(*table)
			if !ok || tb.spec.name == "Checks" || tb.spec.name == "Cover" {
				continue
			}
			for _, c := range tb.spec.columns {
				first := ""
				for i := range tb.spec.count {
					at := tb.cell(c.key, i)
					formula, err := f.GetCellFormula(at.sheet, at.local())
					if err != nil {
						t.Fatal(err)
					}
					switch form := relative(at, formula); {
					case formula == "":
					case first == "":
						first = form
					case first != form:
						t.Errorf("%s, column %q: %s in row %d, above %s", tb.spec.name, c.key, form, i, first)
					}
				}
			}
		}
	}
}

// relative writes the references of a formula that have no dollar as distances from a cell.
func relative(at cellRef, formula string) string {
	return reference.ReplaceAllStringFunc(formula, func(ref string) string {
		if strings.Contains(ref, "$") {
			return ref
		}
		col, row, err := excelize.CellNameToCoordinates(ref)
		if err != nil {
			return ref
		}
		return fmt.Sprintf("R[%d]C[%d]", row-at.row, col-at.col)
	})
}

// Every column of every sheet is explained.
func TestEveryColumnIsDefined(t *testing.T) {
	b, err := declareClose(t.Context(), hostileClose(t), maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	defined := make(map[string]bool)
	for row := range tableOf(t, b, "Definitions").spec.rows {
		defined[row[0].text+"/"+row[2].text] = row[4].text != ""
	}
	for _, s := range b.sheets {
		for _, block := range s.blocks {
			if tb, ok := block.(*table); ok {
				for _, c := range tb.spec.columns {
					if !defined[s.name+"/"+c.head] {
						t.Errorf("sheet %s: column %q has no meaning", s.name, c.head)
					}
				}
			}
		}
	}
}

// Whatever things are called, each has its own key, which criteria take as it stands.
func TestKeysAreTold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.OneOf(rapid.String(), rapid.StringMatching(`[aA*?~ (2)<=]{0,6}`), rapid.StringMatching(`[a-c]{60,62}`))
		list := rapid.SliceOfDistinct(name, rapid.ID).Draw(t, "names")
		n := newNames()
		var keys []string
		for _, s := range list {
			for _, word := range []string{"pile", "suspense"} {
				k := n.key(word, s)
				if err := checkKey(k); err != nil {
					t.Fatal(err)
				}
				if again := n.key(word, s); again != k {
					t.Fatalf("name %q has the keys %q and %q", s, k, again)
				}
				if k != cleanLine(k) {
					t.Fatalf("key %q is changed when it heads a column", k)
				}
				keys = append(keys, strings.ToLower(k))
			}
		}
		slices.Sort(keys)
		if len(slices.Compact(keys)) != 2*len(list) {
			t.Fatalf("names %q have the keys %q", list, keys)
		}
	})
}

// The formulas of a survey and of a limit, which do not round, stay within half a gram of the ledger.
func TestFormulasFollowTheLedger(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		scaled := func(name string, low, high int64, places int32) decimal.Decimal {
			return decimal.New(rapid.Int64Range(low, high).Draw(t, name), -places)
		}
		within := func(what string, formula decimal.Decimal, own ledger.Mass) {
			if formula.Sub(decimal.NewFromInt(int64(own))).Abs().GreaterThan(decimal.RequireFromString("0.500001")) {
				t.Fatalf("%s: %s g by formula, %d g by the ledger", what, formula, own)
			}
		}
		moisture, err := ledger.NewDryBasis(scaled("moisture", 0, 40_000, 3))
		if err != nil {
			t.Fatal(err)
		}
		c := &ledger.Comparison{HasDensity: true, Survey: ledger.Survey{VolumeM3: scaled("volume", 0, 1_000_000_000, 3)},
			Density: ledger.DensityTest{MoistTPerM3: scaled("density", 1, 30_000, 4), Moisture: moisture, Compaction: scaled("compaction", 1, 20_000, 4)}}
		if c.Found.Solids, err = c.Survey.Solids(c.Density); err != nil {
			t.Fatal(err)
		}
		within("survey", found(c), c.Found.Solids)

		line := surveyLine{opening: ledger.Mass(rapid.Int64Range(-1e9, 1e12).Draw(t, "book")), comparison: c}
		c.Base.In = ledger.Mass(rapid.Int64Range(0, 1e12).Draw(t, "in"))
		rule := ledger.Limit{Of: rapid.SampledFrom([]ledger.LimitBase{ledger.LimitOfBook, ledger.LimitOfThroughput}).Draw(t, "of"),
			Join: rapid.SampledFrom([]ledger.LimitJoin{ledger.LimitAnd, ledger.LimitOr, ledger.LimitPlus}).Draw(t, "join")}
		which := rapid.IntRange(1, 3).Draw(t, "parts")
		if which&1 != 0 {
			rule.Mass = decimal.NewNullDecimal(scaled("mass", 0, 1e9, 0))
		}
		if which&2 != 0 {
			rule.Percent = decimal.NewNullDecimal(scaled("percent", 0, 100_000, 3))
		}
		own, _ := rule.For(line.book(), c.Base.Throughput())
		limit, _ := limitOf(rule, line)
		within("limit", limit, own)
	})
}
