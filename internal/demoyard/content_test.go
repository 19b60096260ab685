package demoyard_test

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// TestTimes checks that every local time is written in its file's one layout and lies in its span.
func TestTimes(t *testing.T) {
	y := newYard(t)
	minute, second := `^\d{4}-\d\d-\d\d \d\d:\d\d$`, `^\d{4}-\d\d-\d\d \d\d:\d\d:\d\d$`
	for _, tt := range []struct{ file, column, layout, first, last string }{
		{"loads-2026-08.csv", "time", second, "2026-08-01", "2026-08-31"},
		{"loads-2026-09.csv", "time", second, "2026-08-29", "2026-09-30"},
		{"loads-2026-10.csv", "time", second, "2026-10-01", "2026-10-31"},
		{"production-belts.csv", "time", minute, "2026-08-01", "2026-10-31"},
		{"transfers.csv", "time", minute, "2026-08-01", "2026-10-31"},
		{"feed.csv", "time", minute, "2026-08-01", "2026-10-31"},
		{"returns.csv", "time", minute, "2026-08-01", "2026-10-31"},
		{"surveys.csv", "start", minute, "2026-08-31", "2026-10-29"},
		{"surveys.csv", "end", minute, "2026-08-31", "2026-10-29"},
	} {
		rows := y.table(t, tt.file)
		layout := regexp.MustCompile(tt.layout)
		for _, r := range rows {
			at := r[tt.column]
			if !layout.MatchString(at) || at[:10] < tt.first || at[:10] > tt.last {
				t.Errorf("%s: %s %q, want %s from %s to %s", tt.file, tt.column, at, tt.layout, tt.first, tt.last)
			}
			y.time(t, at)
		}
		if days := []string{rows[0][tt.column][:10], rows[len(rows)-1][tt.column][:10]}; strings.HasPrefix(tt.file, "loads") &&
			!slices.Equal(days, []string{tt.first, tt.last}) {
			t.Errorf("%s runs from %s to %s", tt.file, days[0], days[1])
		}
	}
	for _, r := range y.deck(t) {
		if at := deckTime(t, r["time"]); at.Before(time.Date(2026, 8, 1, 0, 0, 0, 0, time.UTC)) || at.Month() > time.October {
			t.Errorf("deck ticket %s at %v", r["ticket"], at)
		}
	}
}

// TestTotalisers checks the rollover of one belt in September, which nobody noted, and the reset of the
// other in October, which somebody did.
func TestTotalisers(t *testing.T) {
	y := newYard(t)
	falls := map[string][]row{}
	last := map[string]float64{}
	for _, r := range y.table(t, "production-belts.csv") {
		reading := r.number(t, "reading [t]")
		if before, seen := last[r["belt"]]; seen && reading < before {
			r["before"] = strconv.FormatFloat(before, 'f', 1, 64)
			falls[r["belt"]] = append(falls[r["belt"]], r)
		}
		last[r["belt"]] = reading
	}
	if len(falls) != 2 || len(falls["B1"]) != 1 || len(falls["B2"]) != 1 {
		t.Fatalf("falls %v, want one a belt", falls)
	}
	over, reset := falls["B1"][0], falls["B2"][0]
	if !strings.HasPrefix(over["time"], "2026-09") || over.number(t, "before") < 999_000 || over.number(t, "reading [t]") > 1_000 || over["note"] != "" {
		t.Errorf("rollover %v", over)
	}
	if !strings.HasPrefix(reset["time"], "2026-10") || reset.number(t, "before") > 900_000 || reset["reading [t]"] != "0.0" || reset["note"] == "" {
		t.Errorf("reset %v", reset)
	}
}

// TestFlightUnderWork checks that the last survey has loads in its window and belt readings at its start.
func TestFlightUnderWork(t *testing.T) {
	y := newYard(t)
	loads, readings := 0, 0
	for _, r := range standingLoads(t, y) {
		if r["time"] > "2026-10-29 10:40" && r["time"] < "2026-10-29 11:25" {
			loads++
		}
	}
	for _, r := range y.table(t, "production-belts.csv") {
		if r["time"] == "2026-10-29 10:40" {
			readings++
		}
		if r["time"] > "2026-10-29 10:40" && r["time"] <= "2026-10-29 11:25" {
			t.Errorf("belt %s is read in the window, at %s", r["belt"], r["time"])
		}
	}
	if loads < 3 || readings != 2 {
		t.Errorf("%d loads in the window and %d belt readings at its start, want three or more and two", loads, readings)
	}
}

// TestVariety checks that what a month can bring does occur.
func TestVariety(t *testing.T) {
	y := newYard(t)
	loads := loadRows(t, y)
	some := func(name string, rows []row, has func(row) bool) {
		t.Helper()
		if !slices.ContainsFunc(rows, has) {
			t.Errorf("no %s", name)
		}
	}
	some("internal use", loads, func(r row) bool { return r["purpose"] == "internal" && r["customer"] == "" })
	some("free issue", loads, func(r row) bool { return r["purpose"] == "free" && r["customer"] != "" })
	some("job tag", loads, func(r row) bool { return r["tag job"] != "" })
	some("night load", loads, func(r row) bool { return r["time"][11:13] >= "20" })
	some("visiting loader", loads, func(r row) bool { return r["pile"] == "TEN" && r["loader"] == "L2" })
	some("pile twice in one product", y.sheet(t, "yard.xlsx", "piles"), func(r row) bool { return r["product"] == "20mm" })
	some("transfer by the other loader", y.table(t, "transfers.csv"), func(r row) bool { return r["from pile"] == "TWENTY-E" && r["loader"] == "L2" })
	some("deduction", y.table(t, "surveys.csv"), func(r row) bool { return r["deduction [m3]"] != "" && r["deduction reason"] != "" })
	some("moisture by product", y.sheet(t, "lab.xlsx", "moistures"), func(r row) bool { return r["pile"] == "" && r["product"] == "20mm" })
	for _, r := range loads {
		if !regexp.MustCompile(`^\d+\.\d\d$`).MatchString(r["net [t]"]) {
			t.Errorf("net %q, want two places", r["net [t]"])
		}
	}
}

// TestWorkbookCells checks that dates are dates and numbers numbers.
func TestWorkbookCells(t *testing.T) {
	y := newYard(t)
	for _, tt := range []struct{ book, sheet, cell, raw, shown string }{
		{"yard.xlsx", "yards", "C2", "Europe/London", "Europe/London"},
		{"yard.xlsx", "products", "C5", "5", "5"},
		{"yard.xlsx", "piles", "C2", "45978", "2025-11-17"},
		{"yard.xlsx", "instruments", "G2", "1000000", "1000000"},
		{"yard.xlsx", "hours", "B2", "0.25", "06:00"},
		{"yard.xlsx", "hours", "C7", "0.75", "18:00"},
		{"yard.xlsx", "policy", "B3", "50 t", "50 t"},
		{"yard.xlsx", "policy", "B4", "1", "1"},
		{"yard.xlsx", "policy", "C4", "46235", "2026-08-01"},
		{"yard.xlsx", "opening", "B2", "46235", "2026-08-01 00:00"},
		{"lab.xlsx", "densities", "B2", "46261.3333333333", "2026-08-27 08:00"},
	} {
		content := strings.NewReader(string(y.files[tt.book].Content))
		f, err := excelize.OpenReader(content)
		if err != nil {
			t.Fatal(err)
		}
		shown, err := f.GetCellValue(tt.sheet, tt.cell)
		if err != nil {
			t.Fatal(err)
		}
		raw, err := f.GetCellValue(tt.sheet, tt.cell, excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		if raw != tt.raw || shown != tt.shown {
			t.Errorf("%s %s!%s holds %q and shows %q, want %q and %q", tt.book, tt.sheet, tt.cell, raw, shown, tt.raw, tt.shown)
		}
		if err := f.Close(); err != nil {
			t.Error(err)
		}
	}
}
