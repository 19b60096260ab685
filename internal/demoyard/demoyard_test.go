package demoyard_test

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"path"
	"strings"
	"testing"

	"repose/internal/demoyard"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/text/encoding/charmap"
)

// textSum is the SHA-256 of all text files, one after the other. The workbooks are left out because a
// new release of the compressor may pack them otherwise. It changes only with the yard itself.
const textSum = "a38b81885ccc8dbb2a1e39cdafabb70ef8a082b0782a9d777622857300b98b6f"

func TestFilesAreTheSameEveryTime(t *testing.T) {
	first, truth, err := demoyard.Files()
	if err != nil {
		t.Fatal(err)
	}
	again, truthAgain, err := demoyard.Files()
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(truth, truthAgain); diff != "" {
		t.Errorf("truth differs (-first +again):\n%s", diff)
	}
	if len(first) != len(again) {
		t.Fatalf("%d files, then %d", len(first), len(again))
	}
	sum := sha256.New()
	for i, f := range first {
		if f.Name != again[i].Name || f.Map != again[i].Map || sha256.Sum256(f.Content) != sha256.Sum256(again[i].Content) {
			t.Errorf("file %d, %s, differs from the one before", i, f.Name)
		}
		if path.Ext(f.Name) != ".xlsx" {
			sum.Write(f.Content)
		}
	}
	if got := hex.EncodeToString(sum.Sum(nil)); got != textSum {
		t.Errorf("SHA-256 of the text files is %s, want %s", got, textSum)
	}
}

// TestNames holds each file to the way intake decides which table it is: by the base name up to the
// first "-" or ".", by the sheets of a workbook, or by the column map, which must come before its file.
func TestNames(t *testing.T) {
	files, truth, err := demoyard.Files()
	if err != nil {
		t.Fatal(err)
	}
	tables := map[string][]demoyard.TableTruth{}
	for _, c := range truth.Tables {
		tables[c.File] = append(tables[c.File], c)
	}
	came := map[string]bool{}
	for _, f := range files {
		came[f.Name] = true
		base, _, _ := strings.Cut(strings.TrimSuffix(f.Name, path.Ext(f.Name)), "-")
		switch counts := tables[f.Name]; {
		case path.Ext(f.Name) == ".toml":
			if len(counts) != 0 {
				t.Errorf("%s is counted as a table", f.Name)
			}
		case f.Map != "":
			if !came[f.Map] || len(counts) != 1 {
				t.Errorf("%s: map %q came before: %v; %d tables", f.Name, f.Map, came[f.Map], len(counts))
			}
		case path.Ext(f.Name) == ".csv":
			if len(counts) != 1 || counts[0].Table != base {
				t.Errorf("%s: counts %+v, want one of table %q", f.Name, counts, base)
			}
		case len(counts) == 0:
			t.Errorf("%s is not counted", f.Name)
		}
	}
}

// TestCounts compares the rows that the truth announces with those in the files.
func TestCounts(t *testing.T) {
	y := newYard(t)
	seen := map[string]string{} // load tickets of the exports before
	for _, c := range y.truth.Tables {
		var rows []row
		switch {
		case c.Sheet != "":
			rows = y.sheet(t, c.File, c.Sheet)
		case c.Table == "deck":
			rows = y.deck(t)
		default:
			rows = y.table(t, c.File)
		}
		got := demoyard.TableTruth{File: c.File, Sheet: c.Sheet, Table: c.Table, Rows: len(rows)}
		for _, r := range rows {
			if r["status"] == "void" {
				got.Voids++
			}
			if r["replaces"] != "" {
				got.Replacing++
			}
			if c.Table != "loads" {
				continue
			}
			content, again := seen[r["ticket"]]
			if again {
				got.Repeated++
			}
			if again && content != fmt.Sprint(r) {
				t.Errorf("%s: ticket %s differs from the export before", c.File, r["ticket"])
			}
			seen[r["ticket"]] = fmt.Sprint(r)
		}
		if diff := cmp.Diff(c, got); diff != "" {
			t.Errorf("%s %s (-truth +file):\n%s", c.File, c.Sheet, diff)
		}
	}
	if loads := len(seen); loads < 3_000 || loads > 4_000 {
		t.Errorf("%d loads, want 3,000 to 4,000", loads)
	}
}

// TestRecorded adds the files up by pile and month, and holds the truth's sums to them.
func TestRecorded(t *testing.T) {
	y := newYard(t)
	got := map[string]*demoyard.Movements{}
	at := func(pile string, r row) *demoyard.Movements {
		key := pile + " " + r["time"][:len("2026-08")]
		if got[key] == nil {
			got[key] = &demoyard.Movements{}
		}
		return got[key]
	}
	for _, r := range standingLoads(t, y) {
		m := at(r["pile"], r)
		sums := map[string]*int64{"sale": &m.SaleG, "internal": &m.InternalG, "free": &m.FreeG}
		*sums[r["purpose"]] += r.grams(t, "net [t]")
	}
	for _, r := range y.table(t, "transfers.csv") {
		at(r["from pile"], r).TransferOutG += r.grams(t, "net [t]")
		at(r["to pile"], r).TransferInG += r.grams(t, "net [t]")
	}
	for _, r := range y.table(t, "feed.csv") {
		at(r["pile"], r).FeedG += r.grams(t, "net [t]")
	}
	for _, r := range y.table(t, "returns.csv") {
		at(r["pile"], r).ReturnG += r.grams(t, "net [t]")
	}
	last := map[string]int64{}
	for _, r := range y.table(t, "production-belts.csv") {
		reading := r.grams(t, "reading [t]")
		if before, seen := last[r["belt"]]; seen && (reading >= before || r["note"] == "") {
			const modulus = 1_000_000_000_000
			at(r["pile"], r).ProductionG += (reading - before + modulus) % modulus
		}
		last[r["belt"]] = reading
	}
	for _, p := range y.truth.Piles {
		for _, m := range p.Months {
			key := p.Pile + " " + m.Period
			if got[key] == nil {
				t.Fatalf("no movements of %s", key)
			}
			if diff := cmp.Diff(m.Recorded, *got[key]); diff != "" {
				t.Errorf("%s (-truth +files):\n%s", key, diff)
			}
		}
	}
}

// TestUnrecorded checks the size of what left without a record, and that nothing shows it.
func TestUnrecorded(t *testing.T) {
	y := newYard(t)
	var total int64
	loads := loadRows(t, y)
	for _, u := range y.truth.Unrecorded {
		total += u.WetG
		for _, r := range loads {
			if gap := y.time(t, r["time"]).Sub(u.At).Abs(); r["pile"] == u.Pile && gap < sameLoad {
				t.Errorf("load %s is within %v of an unrecorded one", r["ticket"], gap)
			}
		}
	}
	if n := len(y.truth.Unrecorded); n < 14 || n > 20 || total < 400e6 || total > 500e6 {
		t.Errorf("%d unrecorded loads of %.1f t in all, want 14 to 20 of 400 to 500 t", n, float64(total)/1e6)
	}
	if first := y.truth.Unrecorded[0].At; first.Before(y.truth.Piles[0].Months[0].SurveyEnd) {
		t.Errorf("the first is at %v, before the first survey", first)
	}
	counted := 0
	for _, p := range y.truth.Piles {
		for _, m := range p.Months {
			counted += m.UnrecordedLoads
			if m.UnrecordedLoads > 0 && p.Pile != y.truth.Unrecorded[0].Pile {
				t.Errorf("%s loses in %s too", p.Pile, m.Period)
			}
		}
	}
	if counted != len(y.truth.Unrecorded) {
		t.Errorf("months count %d unrecorded loads, the list %d", counted, len(y.truth.Unrecorded))
	}
}

// TestWords checks that records stay records: the files accuse nobody and carry no filler.
func TestWords(t *testing.T) {
	files, _, err := demoyard.Files()
	if err != nil {
		t.Fatal(err)
	}
	banned := []string{"theft", "thief", "stole", "steal", "fraud", "suspect", "unrecorded", "leak", "lorem", "todo", "fixme"}
	for _, f := range files {
		if path.Ext(f.Name) == ".xlsx" {
			continue
		}
		content, err := charmap.Windows1252.NewDecoder().Bytes(f.Content)
		if err != nil {
			t.Fatal(err)
		}
		lower := strings.ToLower(string(content))
		for _, word := range banned {
			if strings.Contains(lower, word) {
				t.Errorf("%s says %q", f.Name, word)
			}
		}
	}
}
