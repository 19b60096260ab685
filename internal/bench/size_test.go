package bench

import (
	"crypto/sha256"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// readTables returns the rows of all tables without their headers.
func readTables(t rapid.TB, dir string) map[string][][]string {
	t.Helper()
	read := map[string][][]string{}
	for name := range headers {
		f, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(f).ReadAll()
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		read[name] = rows[1:]
	}
	return read
}

func writeTables(t rapid.TB, s Size, dir string) map[string][][]string {
	t.Helper()
	if err := s.Write(dir); err != nil {
		t.Fatal(err)
	}
	return readTables(t, dir)
}

func anySize(t *rapid.T) Size {
	s := Size{Seed: rapid.Uint64().Draw(t, "seed"), Start: time.Date(2024, time.Month(rapid.IntRange(1, 12).Draw(t, "month")), 1, 0, 0, 0, 0, time.UTC),
		Months: rapid.IntRange(1, 4).Draw(t, "months"), Yards: rapid.IntRange(1, 3).Draw(t, "yards"), Loads: rapid.IntRange(1, 300).Draw(t, "loads")}
	s.Piles = s.Yards + rapid.IntRange(0, 5).Draw(t, "more piles")
	s.Deck = rapid.IntRange(0, s.Loads).Draw(t, "deck")
	s.Readings = rapid.IntRange(0, 50).Draw(t, "readings")
	return s
}

// Of any size there are as many records as were asked for, and the numbers of each series are complete and in the order
// of time.
func TestTablesAreComplete(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		s := anySize(t)
		tables := writeTables(t, s, dir)
		counts := map[string]int{}
		for name, rows := range tables {
			counts[name] = len(rows)
		}
		want := map[string]int{"loads.csv": s.Loads, "deck.csv": s.Deck, "production.csv": s.Readings, "yards.csv": s.Yards,
			"piles.csv": s.Piles, "opening.csv": s.Piles, "products.csv": products, "policy.csv": s.Yards, "instruments.csv": 4 * s.Yards,
			"moistures.csv": s.Piles * s.Months, "densities.csv": s.Piles * s.Months, "surveys.csv": s.Piles * s.Months}
		if diff := cmp.Diff(want, counts); diff != "" {
			t.Fatalf("rows of each table (-want +got):\n%s", diff)
		}
		for _, name := range []string{"loads.csv", "deck.csv"} {
			last, clocks := map[string]int{}, ""
			for _, row := range tables[name] {
				series := row[2]
				n, err := strconv.Atoi(row[3][strings.LastIndex(row[3], "-")+1:])
				if err != nil || n != last[series]+1 || row[0] < clocks {
					t.Fatalf("%s: row %q after number %d and %s", name, row, last[series], clocks)
				}
				last[series], clocks = n, row[0]
			}
		}
	})
}

// The same size gives the same bytes.
func TestWriteIsRepeatable(t *testing.T) {
	hash := func(s Size) string {
		dir := t.TempDir()
		if err := s.Write(dir); err != nil {
			t.Fatal(err)
		}
		var sums []string
		for name := range headers {
			data, err := os.ReadFile(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			sums = append(sums, fmt.Sprintf("%s %x", name, sha256.Sum256(data)))
		}
		slices.Sort(sums)
		return strings.Join(sums, "\n")
	}
	s := tinySizes().Year
	first := hash(s)
	if diff := cmp.Diff(first, hash(s)); diff != "" {
		t.Errorf("written twice (-first +second):\n%s", diff)
	}
	s.Seed++
	if first == hash(s) {
		t.Error("another seed gave the same tables")
	}
}

// The months of a short book are those of the long one: the same trucks with the same loads at the same times. Only
// numbers and what lay in the piles at the opening differ.
func TestLastMonthsAreTheSame(t *testing.T) {
	long := tinySizes().History
	short := long.last(2)
	all, some := writeTables(t, long, t.TempDir())["loads.csv"], writeTables(t, short, t.TempDir())["loads.csv"]
	if want := len(all) / 2; len(some) != want {
		t.Fatalf("%d loads in the short book, want %d", len(some), want)
	}
	for i, row := range all[len(all)-len(some):] {
		row[3], some[i][3] = "", "" // the ticket
		if diff := cmp.Diff(row, some[i]); diff != "" {
			t.Fatalf("load %d (-long +short):\n%s", i, diff)
		}
	}
}

func TestSizesThatCannotBe(t *testing.T) {
	for name, spoil := range map[string]func(*Size){
		"start in a month": func(s *Size) { s.Start = s.Start.AddDate(0, 0, 1) },
		"no month":         func(s *Size) { s.Months = 0 },
		"no yard":          func(s *Size) { s.Yards = 0 },
		"too few piles":    func(s *Size) { s.Piles = s.Yards - 1 },
		"no load":          func(s *Size) { s.Loads, s.Deck = 0, 0 },
		"too many tickets": func(s *Size) { s.Deck = s.Loads + 1 },
		"readings":         func(s *Size) { s.Readings = -1 },
	} {
		s := tinySizes().Year
		spoil(&s)
		if err := s.Write(t.TempDir()); err == nil {
			t.Errorf("%s: found no error", name)
		}
	}
	for _, scale := range []float64{0, 0.01, 1, 3} {
		full := Full(scale)
		for _, s := range []Size{full.Year, full.Month, full.History, full.History.last(full.Recent)} {
			if err := s.check(); err != nil {
				t.Errorf("scale %v: %v", scale, err)
			}
		}
		if full.SheetRows > full.Year.Loads {
			t.Errorf("scale %v: a sheet of %d rows of %d loads", scale, full.SheetRows, full.Year.Loads)
		}
	}
}
