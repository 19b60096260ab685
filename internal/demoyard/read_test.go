package demoyard_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"path"
	"strconv"
	"strings"
	"testing"
	"time"

	"repose/internal/demoyard"

	"github.com/pelletier/go-toml/v2"
	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding/charmap"
)

// row is one row of a table by heading.
type row map[string]string

func (r row) number(t *testing.T, heading string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r[heading], 64)
	if err != nil {
		t.Fatalf("%s of %v: %v", heading, r, err)
	}
	return v
}

// grams reads a mass in tonnes exactly.
func (r row) grams(t *testing.T, heading string) int64 {
	t.Helper()
	return int64(math.Round(r.number(t, heading) * 1e6))
}

// yard is the generated yard, read back from its files without the package that wrote them.
type yard struct {
	files map[string]demoyard.File
	truth demoyard.Truth
	zone  *time.Location
}

func newYard(t *testing.T) *yard {
	t.Helper()
	files, truth, err := demoyard.Files()
	if err != nil {
		t.Fatal(err)
	}
	zone, err := time.LoadLocation(truth.Zone)
	if err != nil {
		t.Fatal(err)
	}
	y := &yard{files: map[string]demoyard.File{}, truth: truth, zone: zone}
	for _, f := range files {
		if _, twice := y.files[f.Name]; twice {
			t.Fatalf("two files are called %q", f.Name)
		}
		y.files[f.Name] = f
	}
	return y
}

// time reads a local time of the yard's own text files.
func (y *yard) time(t *testing.T, s string) time.Time {
	t.Helper()
	layout := "2006-01-02 15:04"
	if len(s) > len(layout) {
		layout += ":05"
	}
	at, err := time.ParseInLocation(layout, s, y.zone)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

// table reads a text file of the yard's own.
func (y *yard) table(t *testing.T, name string) []row {
	t.Helper()
	f, ok := y.files[name]
	if !ok {
		t.Fatalf("no file %q", name)
	}
	all, err := csv.NewReader(bytes.NewReader(f.Content)).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return byHeading(all)
}

// sheet reads a sheet of a workbook: numbers as they are stored, dates as serial numbers of days.
func (y *yard) sheet(t *testing.T, name, sheet string) []row {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(y.files[name].Content), excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	defer f.Close()
	all, err := f.GetRows(sheet)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return byHeading(all)
}

func byHeading(all [][]string) []row {
	var rows []row
	for _, cells := range all[1:] {
		r := row{}
		for i, heading := range all[0] {
			r[heading] = ""
			if i < len(cells) {
				r[heading] = cells[i]
			}
		}
		rows = append(rows, r)
	}
	return rows
}

// serial turns a worksheet's day number into a local time of the yard.
func (y *yard) serial(t *testing.T, s string) time.Time {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	wall, err := excelize.ExcelDateToTime(v, false)
	if err != nil {
		t.Fatal(err)
	}
	wall = wall.Round(time.Second)
	return time.Date(wall.Year(), wall.Month(), wall.Day(), wall.Hour(), wall.Minute(), wall.Second(), 0, y.zone)
}

// columnMap is the part of a column map that the deck's export needs.
type columnMap struct {
	Table     string                       `toml:"table"`
	Match     string                       `toml:"match"`
	Encoding  string                       `toml:"encoding"`
	Delimiter string                       `toml:"delimiter"`
	Decimal   string                       `toml:"decimal"`
	Thousands string                       `toml:"thousands"`
	HeaderRow int                          `toml:"header row"`
	Layout    string                       `toml:"date layout"`
	Columns   map[string]any               `toml:"columns"`
	Constants map[string]string            `toml:"constants"`
	Values    map[string]map[string]string `toml:"values"`
}

// deck takes the deck's export in with the column map that came along, masses in tonnes.
func (y *yard) deck(t *testing.T) []row {
	t.Helper()
	var file demoyard.File
	for _, f := range y.files {
		if f.Map != "" {
			file = f
		}
	}
	var m columnMap
	if err := toml.NewDecoder(bytes.NewReader(y.files[file.Map].Content)).DisallowUnknownFields().Decode(&m); err != nil {
		t.Fatalf("%s: %v", file.Map, err)
	}
	if fits, err := path.Match(m.Match, file.Name); err != nil || !fits || m.Table != "deck" || m.Encoding != "windows-1252" {
		t.Fatalf("map of %q: match %q (%v), table %q, encoding %q", file.Name, m.Match, err, m.Table, m.Encoding)
	}
	content, err := charmap.Windows1252.NewDecoder().Bytes(file.Content)
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(bytes.NewReader(content))
	r.Comma, r.FieldsPerRecord = rune(m.Delimiter[0]), -1
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []row
	for _, theirs := range byHeading(all[m.HeaderRow-1:]) {
		rows = append(rows, m.ours(t, theirs))
	}
	return rows
}

// ours translates a row of the export.
func (m columnMap) ours(t *testing.T, theirs row) row {
	t.Helper()
	r := row{}
	for name, value := range m.Constants {
		r[name] = value
	}
	for name, column := range m.Columns {
		switch column := column.(type) {
		case string:
			value, ok := theirs[column]
			if !ok {
				t.Fatalf("no column %q in %v", column, theirs)
			}
			if words, ok := m.Values[name]; ok {
				if value, ok = words[value]; !ok {
					t.Fatalf("%s %q is not in the map", name, theirs[column])
				}
			}
			r[name] = value
		case map[string]any:
			if column["unit"] != "kg" {
				t.Fatalf("unit of %s is %v", name, column["unit"])
			}
			digits := strings.NewReplacer(m.Thousands, "", m.Decimal, ".").Replace(theirs[column["from"].(string)])
			kg, err := strconv.ParseFloat(digits, 64)
			if err != nil {
				t.Fatal(err)
			}
			r[name] = strconv.FormatFloat(kg/1_000, 'f', -1, 64)
		}
	}
	if m.Layout != "DD.MM.YYYY HH:MM" {
		t.Fatalf("date layout %q", m.Layout)
	}
	return r
}

// loadRows returns the rows of all load exports, those of an overlap once.
func loadRows(t *testing.T, y *yard) []row {
	t.Helper()
	var rows []row
	seen := map[string]bool{}
	for _, month := range []string{"08", "09", "10"} {
		for _, r := range y.table(t, "loads-2026-"+month+".csv") {
			if !seen[r["ticket"]] {
				rows = append(rows, r)
			}
			seen[r["ticket"]] = true
		}
	}
	return rows
}

// standingLoads returns the loads that count: kept, and not replaced by another.
func standingLoads(t *testing.T, y *yard) []row {
	t.Helper()
	replaced := map[string]bool{}
	for _, r := range loadRows(t, y) {
		if r["replaces"] != "" {
			replaced[r["replaces"]] = true
		}
	}
	var rows []row
	for _, r := range loadRows(t, y) {
		if r["status"] == "kept" && !replaced[r["ticket"]] {
			rows = append(rows, r)
		}
	}
	return rows
}
