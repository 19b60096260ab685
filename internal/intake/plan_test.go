package intake_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"repose/internal/intake"

	"github.com/google/go-cmp/cmp"
)

// planned returns what each file of a plan is, by base name.
func planned(files []intake.File) map[string]string {
	got := map[string]string{}
	for _, f := range files {
		var parts []string
		for _, p := range f.Parts {
			parts = append(parts, strings.TrimPrefix(p.Sheet+"="+p.Table, "="))
		}
		if f.Map != nil {
			parts = append(parts, "by "+f.Map.Name())
		}
		got[filepath.Base(f.Path)] = strings.Join(parts, " ")
	}
	return got
}

func TestPlanOfAFolder(t *testing.T) {
	dir := t.TempDir()
	for name, content := range map[string]string{
		"loads-2026-08.csv": "", "LOADS.2026-09.CSV": "", "yards.csv": "", "~$book.xlsx": "", ".hidden.csv": "",
		"deck-map.toml": "", "readme.txt": "", "tickets 7.txt": "", "tickets 8.csv": "",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(filepath.Join(dir, "older.csv"), 0o700); err != nil {
		t.Fatal(err)
	}
	columnMap := readMap(t, "table = \"deck\"\nmatch = \"Tickets*\"\n[columns]\ntime = \"a\"\nticket = \"b\"\ndeck = \"c\"\nnet = { from = \"d\", unit = \"t\" }\n")
	files, err := intake.Plan([]string{dir, filepath.Join(dir, "yards.csv")}, []*intake.Map{columnMap})
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]string{"loads-2026-08.csv": "loads", "LOADS.2026-09.CSV": "loads", "yards.csv": "yards",
		"tickets 7.txt": "deck by map.toml", "tickets 8.csv": "deck by map.toml"}
	if diff := cmp.Diff(want, planned(files)); diff != "" || len(files) != len(want) {
		t.Errorf("%d files: %s", len(files), diff)
	}
	if _, err := intake.Plan([]string{filepath.Join(dir, "older.csv")}, nil); err == nil || !strings.Contains(err.Error(), "a folder without tables") {
		t.Errorf("got %v, want an empty folder refused", err)
	}
	if _, err := intake.Plan([]string{filepath.Join(dir, "nowhere.csv")}, nil); !os.IsNotExist(err) {
		t.Errorf("got %v, want the file missing", err)
	}
}

func TestFilesOnDiskAreReadToTheirLengthAtOpening(t *testing.T) {
	path := filepath.Join(t.TempDir(), "feed.csv")
	if err := os.WriteFile(path, []byte("time,pile\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	c, err := intake.OnDisk(path).Open()
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteString("more\n"); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	if c.Size() != 10 {
		t.Errorf("size %d, want 10", c.Size())
	}
}

// A map without a glob claims what no name says, and files that its own table's name says.
func TestMapWithoutAGlob(t *testing.T) {
	columnMap := readMap(t, "table = \"deck\"\n[columns]\ntime = \"a\"\nticket = \"b\"\ndeck = \"c\"\nnet = { from = \"d\", unit = \"t\" }\n")
	loads := sheetOf{"loads", [][]any{{"time"}}}
	files, err := intake.Assign([]intake.Source{file("loads.csv", ""), file("deck 2026.csv", ""), file("export.csv", ""),
		workbook(t, "month.xlsx", loads), workbook(t, "tickets.xlsx", sheetOf{"Sheet1", nil})}, []*intake.Map{columnMap})
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]string{"loads.csv": "loads", "deck 2026.csv": "deck by map.toml", "export.csv": "deck by map.toml",
		"month.xlsx": "loads=loads", "tickets.xlsx": "Sheet1=deck by map.toml"}
	if diff := cmp.Diff(want, planned(files)); diff != "" {
		t.Error(diff)
	}
	_, err = intake.Assign([]intake.Source{workbook(t, "tickets.xlsx", sheetOf{"one", nil}, sheetOf{"two", nil})}, []*intake.Map{columnMap})
	if err == nil || !strings.Contains(err.Error(), `found the sheets "one", "two", wanted one named by sheet = "..." in map.toml`) {
		t.Errorf("got %v, want the sheets listed", err)
	}
}
