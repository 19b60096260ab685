package workbook

import (
	"fmt"
	"maps"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

// requireOffice is the environment variable that turns a missing LibreOffice from a skip into a failure.
const requireOffice = "REPOSE_REQUIRE_LIBREOFFICE"

// judge recomputes workbooks, by name, with LibreOffice and holds every formula to the result the file carries. It
// fails on an error value, and first of all when the second engine only repeats what it is given.
func judge(t *testing.T, books map[string][]byte) {
	t.Helper()
	office := findOffice(t)
	asked := maps.Clone(books)
	asked["planted"] = planted(t)
	files := recomputed(t, office, asked)

	n, diffs := compareFormulas(t, open(t, planted(t)), files["planted"])
	want := []string{
		`Planted!A5 =2+2: the file says "5", recomputed "4"`,
		`Planted!A6 ="a"&"b": the file says "ba", recomputed "ab"`,
		`Planted!A7 =1=2: the file says "1", recomputed "0"`,
		`Planted!A8 =0.1: the file says "0.10000051", recomputed "0.1"`,
		`Planted!A9 =1/0: recomputed "#DIV/0!", an error value`,
	}
	if diff := cmp.Diff(want, diffs); diff != "" || n != len(want)+1 {
		t.Fatalf("the second engine is no judge, of %d planted formulas:\n%s", n, diff)
	}

	for name, data := range books {
		n, diffs = compareFormulas(t, open(t, data), files[name])
		for _, d := range diffs {
			t.Errorf("%s: %s", name, d)
		}
		if n == 0 {
			t.Errorf("%s: the workbook has no formulas", name)
		}
	}
}

// findOffice returns the path of LibreOffice, or skips the test.
func findOffice(t *testing.T) string {
	t.Helper()
	office, err := exec.LookPath("soffice")
	if err == nil {
		return office
	}
	if os.Getenv(requireOffice) == "1" {
		t.Fatalf("%s=1: %v", requireOffice, err)
	}
	t.Skipf("formulas are not recomputed: %v", err)
	return ""
}

// planted is a workbook with wrong results, and one that differs by less than half a gram.
func planted(t *testing.T) []byte {
	t.Helper()
	b := newBook(sampleProps(t))
	rows := [][]value{
		{computed("2+2", integer(5))},
		{computed(`"a"&"b"`, text("ba"))},
		{computed("1=2", boolean(true))},
		{computed("0.1", float(0.10000051))},
		{computed("1/0", float(0))},
		{computed("1.0000004", tonnes(1_000_000))},
	}
	b.sheet("Planted", "Wrong on purpose").table(tableSpec{name: "Planted", count: len(rows), rows: rowsOf(rows...),
		columns: []column{{key: "result", head: "Result", kind: kindAny}}})
	return written(t, b)
}

// recomputed has LibreOffice open the workbooks, compute all formulas and save them.
func recomputed(t *testing.T, office string, books map[string][]byte) map[string]*excelize.File {
	t.Helper()
	files := make(map[string]*excelize.File)
	for name, data := range converted(t, office, books, "xlsx", "Calc MS Excel 2007 XML") {
		files[name] = open(t, data)
	}
	return files
}

// converted has LibreOffice open the workbooks, compute all formulas and save them in a format.
func converted(t *testing.T, office string, books map[string][]byte, extension, filter string) map[string][]byte {
	t.Helper()
	dir := t.TempDir()
	profile := filepath.Join(dir, "profile", "user")
	if err := os.MkdirAll(profile, 0o700); err != nil {
		t.Fatal(err)
	}
	settings, err := os.ReadFile(filepath.Join("testdata", "registrymodifications.xcu"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(profile, "registrymodifications.xcu"), settings, 0o600); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "out")
	args := []string{"--headless", "--norestore", "-env:UserInstallation=file://" + filepath.Dir(profile),
		"--convert-to", extension + ":" + filter, "--outdir", out}
	for name, data := range books {
		path := filepath.Join(dir, name+".xlsx")
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		args = append(args, path)
	}
	if message, err := exec.CommandContext(t.Context(), office, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", office, err, message)
	}
	results := make(map[string][]byte)
	for name := range books {
		if results[name], err = os.ReadFile(filepath.Join(out, name+"."+extension)); err != nil {
			t.Fatal(err)
		}
	}
	return results
}

// compareFormulas returns the number of formulas of a workbook, and where it differs from the recomputed
// one.
func compareFormulas(t *testing.T, ours, theirs *excelize.File) (n int, diffs []string) {
	t.Helper()
	if !slices.Equal(ours.GetSheetList(), theirs.GetSheetList()) {
		t.Fatalf("sheets %q became %q", ours.GetSheetList(), theirs.GetSheetList())
	}
	for _, sheet := range ours.GetSheetList() {
		rows, err := ours.GetRows(sheet, excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		for r, row := range rows {
			for c, value := range row {
				at := cellRef{sheet, c + 1, r + 1}
				formula, err := ours.GetCellFormula(sheet, at.local())
				if err != nil {
					t.Fatal(err)
				}
				if formula == "" {
					continue
				}
				n++
				if diff := compareCell(t, ours, theirs, at, value); diff != "" {
					diffs = append(diffs, fmt.Sprintf("%s!%s =%s: %s", sheet, at.local(), formula, diff))
				}
			}
		}
	}
	return n, diffs
}

// compareCell says how a cell differs from its recomputed twin, "" if it does not.
func compareCell(t *testing.T, ours, theirs *excelize.File, at cellRef, value string) string {
	t.Helper()
	got, err := theirs.GetCellValue(at.sheet, at.local(), excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	kind, err := theirs.GetCellType(at.sheet, at.local())
	if err != nil {
		t.Fatal(err)
	}
	switch {
	case kind == excelize.CellTypeError:
		return fmt.Sprintf("recomputed %q, an error value", got)
	case agree(t, ours, at, value, got):
		return ""
	}
	return fmt.Sprintf("the file says %q, recomputed %q", value, got)
}

// agree reports whether two results are the same: texts and truth values exactly, masses to half a gram,
// other numbers to a millionth of themselves.
func agree(t *testing.T, ours *excelize.File, at cellRef, value, got string) bool {
	t.Helper()
	kind, err := ours.GetCellType(at.sheet, at.local())
	if err != nil {
		t.Fatal(err)
	}
	want, errWant := strconv.ParseFloat(value, 64)
	have, errHave := strconv.ParseFloat(got, 64)
	if kind == excelize.CellTypeFormula || kind == excelize.CellTypeBool || errWant != nil || errHave != nil {
		return value == got
	}
	id, err := ours.GetCellStyle(at.sheet, at.local())
	if err != nil {
		t.Fatal(err)
	}
	style, err := ours.GetStyle(id)
	if err != nil {
		t.Fatal(err)
	}
	if style.CustomNumFmt != nil && *style.CustomNumFmt == formatTonnes {
		return math.Abs(want-have) <= 0.5e-6
	}
	return math.Abs(want-have) <= 1e-6*math.Max(math.Abs(want), 1e-6)
}

// A table in several sheets is summed as a whole, with names that criteria would take amiss, and an empty
// period has sums of nothing and no errors.
func TestSampleRecomputed(t *testing.T) {
	t.Parallel()
	split := sampleBook(t, movements(90), 40)
	if parts := split.sheets[4].parts; !slices.Equal(parts, []string{"Movements", "Movements 2", "Movements 3"}) {
		t.Fatalf("parts %q", parts)
	}
	data := written(t, split)
	inspect(t, data)
	judge(t, map[string][]byte{"whole": written(t, sampleBook(t, movements(40), maxSheetRows)), "split": data,
		"empty": written(t, sampleBook(t, nil, maxSheetRows))})
}
