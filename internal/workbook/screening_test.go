package workbook

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"repose/ledger"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"
)

// A single changed figure of the register's sheets breaks the cover, by a gram or by one, and so does a status or a rule
// that is not the record's. Every other column of figures is tested by TestEveryFigureIsGuarded.
func TestScreeningBreaksChecks(t *testing.T) {
	t.Parallel()
	office := findOffice(t)
	b, err := declareClose(t.Context(), hostileClose(t), maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	const asItIs = "as it is"
	data := written(t, b)
	books := map[string][]byte{asItIs: data}
	for table, key := range map[string]string{"Exceptions": "mass", "Sequences": "missing", "LoadsAlone": "number", "Acts": "solids", "CostMoney": "opening", "Log": "place"} {
		books[table+" "+key] = mutated(t, data, firstFigures(t, tableOf(t, b, table))[key])
	}
	words := map[string][2]string{"Exceptions status": {"status", "waived"}, "Exceptions rule": {"rule", "rule below zero"}, "Acts approved": {"approved_by", "@office"}, "Weighings entered": {"entered", "2026-12"}}
	for name, to := range words {
		table, _, _ := strings.Cut(name, " ")
		books[name] = mutated(t, data, change{tableOf(t, b, table).cell(to[0], 0), func(*testing.T, string) any { return to[1] }})
	}
	coversBreak(t, office, books, asItIs)
}

// Stone that went from a pile to one part of shrinkage cannot be booked on the account of another.
func TestPartsShareNoAccount(t *testing.T) {
	t.Parallel()
	office := findOffice(t)
	b, err := declareClose(t.Context(), hostileClose(t), maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	data, entries := written(t, b), tableOf(t, b, "Entries")
	row := slices.Index(columnTexts(t, data, entries, "to"), "shrinkage explained spillage")
	shared := mutated(t, data, change{entries.cell("to", row), func(*testing.T, string) any { return "shrinkage unexplained" }})
	for _, f := range recomputed(t, office, map[string][]byte{"shared": shared}) {
		if broken := brokenChecks(t, f); !slices.Contains(broken, "Book v survey: rows of one part of shrinkage on an account of another") {
			t.Errorf("broken are %q", broken)
		}
	}
}

// columnTexts returns the texts of a column as they are read from the file.
func columnTexts(t *testing.T, data []byte, tb *table, key string) []string {
	t.Helper()
	f := open(t, data)
	texts := make([]string, tb.spec.count)
	for i := range texts {
		at := tb.cell(key, i)
		s, err := f.GetCellValue(at.sheet, at.local())
		if err != nil {
			t.Fatal(err)
		}
		texts[i] = s
	}
	return texts
}

// The parts of shrinkage as a reader sees them. P1 is counted from its survey of the same month, so that what was
// explained before it, 3 t, and after the last survey, 1.75 t, is not in it; =P2 from its opening in September.
func TestLossesAreShown(t *testing.T) {
	c := hostileClose(t)
	b, err := declareClose(t.Context(), c, maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	f, losses := open(t, written(t, b)), tableOf(t, b, "Losses")
	for pile, want := range map[string]map[string]string{
		// 12.5 t at 5.4 % of dry mass are 11.860 t of solids.
		"P1": {"pile": "pile P1", "survey": "S2", "from": "23", "through": "30", "expected_before": "0.000", "expected_month": "0.000", "expected": "0.000",
			"explained_before": "0.000", "explained_month": "11.860", "explained": "11.860", "unexplained": "27.730", "all": "39.590"},
		// 4.25 t in September and 2.125 t in October, at 6.25 %.
		"=P2": {"pile": "pile =P2", "survey": "S2", "from": "0", "through": "29", "expected_before": "0.000", "expected_month": "0.000", "expected": "0.000",
			"explained_before": "4.000", "explained_month": "2.000", "explained": "6.000", "unexplained": "(85.159)", "all": "(79.159)"},
	} {
		row := slices.IndexFunc(c.Month.Piles, func(id ledger.PileID) bool { return id.Code == pile })
		if diff := cmp.Diff(want, cellsOf(t, f, losses, row)); diff != "" {
			t.Error(diff)
		}
	}
}

// What the yard allows for goes to an account of its own, and formulas tell it from what is explained.
func TestExpectedIsToldFromExplained(t *testing.T) {
	t.Parallel()
	c := hostileClose(t)
	entries := c.Entries
	c.Entries = func(yield func(*ledger.Entry, error) bool) {
		for e, err := range entries {
			if len(e.Legs) == 1 && e.Legs[0].From.Name == "=P2" && e.Legs[0].To.Name == "explained spillage" {
				e = new(*e)
				e.Legs = slices.Clone(e.Legs)
				e.Legs[0].To.Name = ledger.ShrinkageExpected
			}
			if !yield(e, err) {
				return
			}
		}
	}
	b, err := declareClose(t.Context(), c, maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	data := written(t, b)
	f := open(t, data)
	row := slices.IndexFunc(c.Month.Piles, func(id ledger.PileID) bool { return id.Code == "=P2" })
	got := cellsOf(t, f, tableOf(t, b, "Losses"), row)
	want := map[string]string{"expected_month": "2.000", "expected": "2.000", "explained_month": "0.000", "explained": "4.000", "all": "(79.159)"}
	for key, w := range want {
		if got[key] != w {
			t.Errorf("%s is %s, want %s", key, got[key], w)
		}
	}
	broken := brokenChecks(t, f) // the ledger itself still has it as explained
	for _, part := range []string{"expected", "explained"} {
		if !slices.Contains(broken, "Book v survey: "+part+" shrinkage of pile =P2") {
			t.Errorf("broken are %q", broken)
		}
	}
	judge(t, map[string][]byte{"expected": data})
}

// An exception, a series and a pair of scales as a reader sees them.
func TestScreeningIsShown(t *testing.T) {
	c := hostileClose(t)
	b, err := declareClose(t.Context(), c, maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	f := open(t, written(t, b))
	line := c.Screening.Exceptions.Exceptions[18] // settled by records, explains two piles
	var ids []string
	for i := range 5 {
		ids = append(ids, fmt.Sprintf("load:Y:L1/%d", 118+i))
	}
	want := map[string]string{"id": line.ID, "at": "2026-10-01 15:54:17", "rule": "rule Near Twin (2)", "strength": "likely", "status": "settled", "shown": "no", "pile": "",
		"mass": "22.000", "low": "19.000", "high": "25.000", "seen": line.Seen, "records": strings.Join(ids, "\n"), "pile_1": "pile P1", "solids_1": "21.000",
		"pile_2": "pile p1 (2)", "solids_2": "(21.000)", "further": "", "instrument": "L1", "series": "", "product": "S20", "truck": "T100", "customer": line.Customer,
		"how": "void", "reason": line.Reason, "by": "@office", "decided": "2026-11-01 00:18:00", "wrote": line.Wrote[0], "tick": "", "reference": ""}
	if diff := cmp.Diff(want, cellsOf(t, f, tableOf(t, b, "Exceptions"), 18)); diff != "" {
		t.Error(diff)
	}
	want = map[string]string{"instrument": "L1", "series": "", "first": "100", "last": "122", "count": "21", "missing": "2", "duplicates": "0", "expected": "23", "own": "23",
		"agrees": "OK", "voids": "1", "disorder": "3", "mass": "44.123", "low": "38.000", "high": "50.500", "tick": "", "reference": ""}
	if diff := cmp.Diff(want, cellsOf(t, f, tableOf(t, b, "Sequences"), 0)); diff != "" {
		t.Error(diff)
	}
	// (60 - 61.5) / 61.5 is -2.44 %; the median over the trucks is another figure.
	want = map[string]string{"loader": "L1", "deck": "D2", "pairs": "3", "loader_mass": "60.000", "deck_mass": "61.500", "difference": "(1.500)", "of_deck": "(2.44%)",
		"bias": "(2.40%)", "sd": "0.00%", "lag": "(0.5)", "spread": "0.0", "merged": "0", "split": "0", "tick": "", "reference": ""}
	if diff := cmp.Diff(want, cellsOf(t, f, tableOf(t, b, "LoaderDeck"), 1)); diff != "" {
		t.Error(diff)
	}
	// What a loader has alone is the same in each of its lines, and counts once.
	want = map[string]string{"instrument": "L1", "number": "5", "mass": "112.250"}
	if alone := tableOf(t, b, "LoadsAlone"); alone.spec.count != 2 {
		t.Errorf("%d loaders have loads alone, want 2", alone.spec.count)
	} else if diff := cmp.Diff(want, cellsOf(t, f, alone, 0)); diff != "" {
		t.Error(diff)
	}
}

// The first ten names are shown, and how many more there are.
func TestListed(t *testing.T) {
	var names []string
	for i := range 14 {
		names = append(names, fmt.Sprint("r", i))
	}
	for n, want := range map[int]string{0: "", 1: "r0", 2: "r0\nr1", 10: strings.Join(names[:10], "\n"), 11: strings.Join(names[:10], "\n") + "\nand 1 more",
		14: strings.Join(names[:10], "\n") + "\nand 4 more"} {
		if got := listed(names[:n]).text; got != want {
			t.Errorf("%d names are shown as %q, want %q", n, got, want)
		}
	}
}

// A month whose register was not looked through has none of its sheets, and the cover says so.
func TestWithoutScreening(t *testing.T) {
	c := hostileClose(t)
	c.Screening = nil
	data := writtenClose(t, c, maxSheetRows)
	inspect(t, data)
	f := open(t, data)
	for _, name := range []string{"Exception counts", "Exceptions", "Sequences", "Loader v deck"} {
		if slices.Contains(f.GetSheetList(), name) {
			t.Errorf("there is a sheet %s", name)
		}
	}
	if got := onCover(t, data, "Open exceptions"); got != "not looked for" {
		t.Errorf("the cover says %q of open exceptions", got)
	}
	if got := onCover(t, writtenClose(t, hostileClose(t), maxSheetRows), "Open exceptions"); got != "14 of 23" {
		t.Errorf("the cover says %q of open exceptions, want 14 of 23", got)
	}
	if got := allChecks(t, data); got != wordOK {
		t.Errorf("the cover says %s", got)
	}
}

// The list is printed three pages wide, with the ID on each, and the pieces of a row one after the other.
func TestExceptionsArePrinted(t *testing.T) {
	f := open(t, writtenClose(t, hostileClose(t), maxSheetRows))
	page, err := f.GetPageLayout("Exceptions")
	if err != nil || *page.FitToWidth != 3 || *page.FitToHeight != 0 || page.PageOrder == nil || *page.PageOrder != "overThenDown" {
		t.Errorf("page %+v, %v", page, err)
	}
	titles := ""
	for _, n := range f.GetDefinedName() {
		if n.Name == "_xlnm.Print_Titles" && n.Scope == "Exceptions" {
			titles = n.RefersTo
		}
	}
	if titles != "Exceptions!$A:$A,Exceptions!$5:$5" {
		t.Errorf("titles %s", titles)
	}
}

// A pile that began within the month is counted from there: what was explained before it had a book is not in it.
func TestLossesFromAnOpening(t *testing.T) {
	y := &testYard{t: t}
	y.add(ledger.Yard{Code: "Y", Zone: "Europe/London", Unit: ledger.UnitTonne}, ledger.Product{Code: "S20"}, ledger.Pile{Code: "P1", Product: "S20"},
		ledger.DensityTest{Pile: "P1", Taken: at("2026-08-01 00:00"), MoistTPerM3: decimal.NewFromInt(2), Compaction: decimal.NewFromInt(1)},
		ledger.MoistureTest{Pile: "P1", Taken: at("2026-08-01 00:00")})
	sealed := len(y.records)
	y.corrects("2610-1", "pile:P1", "shrinkage:explained spillage", "P1", "2026-10-01 09:00", 5)
	y.add(ledger.Opening{Pile: "P1", At: at("2026-10-02 09:00"), Solids: tons(1000), IsSolids: true})
	y.corrects("2610-2", "pile:P1", "shrinkage:explained spillage", "P1", "2026-10-05 09:00", 7)
	y.add(ledger.Survey{Survey: "S1", Pile: "P1", Start: at("2026-10-20 10:00"), End: at("2026-10-20 12:00"), VolumeM3: decimal.NewFromInt(490)})
	c := y.close(sealed)
	data := writtenClose(t, c, maxSheetRows)
	b, err := declareClose(t.Context(), c, maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]string{"pile": "pile P1", "survey": "S1", "from": "1", "through": "3", "expected_before": "0.000", "expected_month": "0.000", "expected": "0.000",
		"explained_before": "0.000", "explained_month": "7.000", "explained": "7.000", "unexplained": "8.000", "all": "15.000"}
	if diff := cmp.Diff(want, cellsOf(t, open(t, data), tableOf(t, b, "Losses"), 0)); diff != "" {
		t.Error(diff)
	}
	if got := allChecks(t, data); got != wordOK {
		t.Errorf("the cover says %s: %q", got, brokenChecks(t, open(t, data)))
	}
}
