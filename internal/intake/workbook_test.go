package intake_test

import (
	"archive/zip"
	"bytes"
	"io"
	"regexp"
	"strings"
	"testing"
	"time"

	"repose/internal/intake"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

// sheetOf is a sheet of a test's workbook: rows of strings, numbers and times.
type sheetOf struct {
	name string
	rows [][]any
}

// workbook returns an .xlsx file.
func workbook(t testing.TB, name string, sheets ...sheetOf) intake.Source {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	for i, sh := range sheets {
		if i == 0 {
			if err := f.SetSheetName("Sheet1", sh.name); err != nil {
				t.Fatal(err)
			}
		} else if _, err := f.NewSheet(sh.name); err != nil {
			t.Fatal(err)
		}
		for r, row := range sh.rows {
			for c, value := range row {
				cell, err := excelize.CoordinatesToCellName(c+1, r+1)
				if err != nil {
					t.Fatal(err)
				}
				if err := f.SetCellValue(sh.name, cell, value); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	return intake.InMemory(name, b.Bytes())
}

// wall is what a clock shows, as a workbook's cell holds it: without a zone.
func wall(s string) time.Time {
	at, err := time.Parse(time.DateTime, s)
	if err != nil {
		panic(err) // a test's own literal
	}
	return at
}

func TestWorkbookOfTablesAndNotes(t *testing.T) {
	m := withRegister(t)
	rep := m.mustTake(t, nil, workbook(t, "month.xlsx",
		sheetOf{"Read me", [][]any{{"anything"}}},
		sheetOf{"Loads (Aug)", [][]any{{"Time", "Loader", "Ticket", "Pile", "Net [t]"}, {wall("2026-08-03 09:05:00"), "L1", 17, "A", 24.31}, {}, {"2026-08-03 09:15", "L1", 18.0, "A", "24.5"}}},
		sheetOf{"moistures", [][]any{{"pile", "taken", "moisture [% wet]"}, {"A", wall("2026-08-03 00:00:00"), 20}}},
		sheetOf{"#old", [][]any{{"anything"}}},
		sheetOf{"lists", nil},
	))
	var passed []string
	for _, p := range rep.PassedOver {
		passed = append(passed, p.File+"/"+p.Sheet)
	}
	if diff := cmp.Diff([]string{"month.xlsx/Read me", "month.xlsx/#old", "month.xlsx/lists"}, passed); diff != "" {
		t.Error(diff)
	}
	var got []string
	for _, r := range m.records[len(m.records)-3:] {
		got = append(got, r.Source.Sheet+" "+r.ID()+" "+string(r.AppendBody(nil)))
	}
	want := []string{
		`moistures moisture:Y1:pile/A/2026-08-02T23:00:00Z {"pile":"A","taken":"2026-08-02T23:00:00Z","moisture_pct_dry":"25"}`,
		`Loads (Aug) load:Y1:L1/17 {"time":"2026-08-03T08:05:00Z","loader":"L1","ticket":"17","pile":"A","net_g":"24310000","purpose":"sale","status":"kept"}`,
		`Loads (Aug) load:Y1:L1/18 {"time":"2026-08-03T08:15:00Z","loader":"L1","ticket":"18","pile":"A","net_g":"24500000","purpose":"sale","status":"kept"}`,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if last := m.records[len(m.records)-1].Source; last.Row != 4 {
		t.Errorf("source %+v, want row 4", last)
	}
}

func TestWorkbookErrors(t *testing.T) {
	m := withRegister(t)
	_, err := m.take(t, nil, workbook(t, "month.xlsx", sheetOf{"Sheet1", [][]any{{"time"}}}, sheetOf{"loads", nil}))
	if err == nil || !strings.HasPrefix(err.Error(), "month.xlsx[Sheet1]: found a sheet that no table claims") {
		t.Errorf("got %v, want the sheet named", err)
	}
	_, err = m.take(t, nil, workbook(t, "month.xlsx", sheetOf{"loads", [][]any{
		{"time", "loader", "ticket", "pile", "net [t]"}, {46000.5, "L1", 1, "A", 1}, {wall("2026-08-03 09:05:00"), "L1", 2, "A", "x"}}}))
	if err == nil || !strings.Contains(err.Error(), "month.xlsx[loads]:2:1: found \"46000.5\"") || !strings.Contains(err.Error(), "month.xlsx[loads]:3:5: found \"x\"") {
		t.Errorf("got %v, want positions in the sheet", err)
	}
	_, err = m.take(t, nil, file("month.xlsx", "no workbook"))
	if err == nil || !strings.HasPrefix(err.Error(), "month.xlsx: ") {
		t.Errorf("got %v, want the file refused", err)
	}
}

// A workbook named after a table whose one sheet is not.
func TestWorkbookNamedAfterATable(t *testing.T) {
	rec := one(t, withRegister(t), nil, workbook(t, "feed-2026-08.xlsx", sheetOf{"Sheet1", [][]any{
		{"time", "pile", "net [kg]"}, {wall("2026-08-03 09:05:00"), "A", 1500}}}))
	if rec.ID() != "feed:Y1:/2026-08-03T08:05:00Z/A" || rec.Source.Sheet != "Sheet1" {
		t.Errorf("record %s of %+v", rec.ID(), rec.Source)
	}
}

// Real dates and numbers of a workbook are what they are, whatever the map says of texts.
func TestMappedWorkbook(t *testing.T) {
	columnMap := readMap(t, `
table = "deck"
sheet = "Tabelle1"
"header row" = 2
decimal = ","
thousands = "."
"date layout" = "DD.MM.YYYY HH:MM"
[columns]
time = { date = "Datum", time = "Uhrzeit" }
ticket = "Schein"
net = { from = "Netto", unit = "kg" }
[constants]
deck = "D1"
`)
	m := withRegister(t)
	rep := m.mustTake(t, []*intake.Map{columnMap}, workbook(t, "export.xlsx",
		sheetOf{"Deckblatt", [][]any{{"Wiegescheine"}}},
		sheetOf{"tabelle1", [][]any{{"Titel"}, {"Datum", "Uhrzeit", "Schein", "Netto"},
			{wall("2026-08-03 00:00:00"), 9*time.Hour + 5*time.Minute, 1, 24310.5},
			{"03.08.2026", "21:07", "2", "18.000"}}},
	))
	want := []string{
		`deck:Y1:D1/1 {"time":"2026-08-03T08:05:00Z","deck":"D1","ticket":"1","net_g":"24310500","status":"kept"}`,
		`deck:Y1:D1/2 {"time":"2026-08-03T20:07:00Z","deck":"D1","ticket":"2","net_g":"18000000","status":"kept"}`,
	}
	if diff := cmp.Diff(want, deckBodies(m)); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]intake.Passed{{File: "export.xlsx", Sheet: "Deckblatt"}}, rep.PassedOver); diff != "" {
		t.Error(diff)
	}
}

func TestErrorsOfFormulasAreNotValues(t *testing.T) {
	f := excelize.NewFile()
	defer f.Close()
	for cell, value := range map[string]any{"A1": "time", "B1": "pile", "C1": "net [t]", "D1": "tag job",
		"A2": "2026-08-03 09:00", "B2": "A", "C2": 1, "D2": "J1", "A3": "2026-08-03 09:01", "B3": "B", "C3": 1, "D3": "J2"} {
		if err := f.SetCellValue("Sheet1", cell, value); err != nil {
			t.Fatal(err)
		}
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	content := failedCells(t, b.Bytes(), "B2", "D3")
	_, err = withRegister(t).take(t, nil, intake.InMemory("feed.xlsx", content))
	if err == nil || !strings.Contains(err.Error(), `feed.xlsx[Sheet1]:2:2: found "#N/A", the error of a formula`) ||
		!strings.Contains(err.Error(), `feed.xlsx[Sheet1]:3:4: found "#N/A", the error of a formula`) {
		t.Errorf("got %v, want both cells refused", err)
	}
}

// failedCells makes cells of the first sheet of a workbook hold the error of a formula.
func failedCells(t *testing.T, content []byte, cells ...string) []byte {
	t.Helper()
	in, err := zip.NewReader(bytes.NewReader(content), int64(len(content)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, part := range in.File {
		r, err := part.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if part.Name == "xl/worksheets/sheet1.xml" {
			for _, cell := range cells {
				pattern := regexp.MustCompile(`<c r="` + cell + `"[^>]*>.*?</c>`)
				if !pattern.Match(text) {
					t.Fatalf("no cell %s", cell)
				}
				text = pattern.ReplaceAll(text, []byte(`<c r="`+cell+`" t="e"><v>#N/A</v></c>`))
			}
		}
		p, err := w.Create(part.Name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := p.Write(text); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}
