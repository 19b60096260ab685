package workbook

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

// open reads a written workbook back.
func open(t *testing.T, data []byte) *excelize.File {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := f.Close(); err != nil {
			t.Error(err)
		}
	})
	return f
}

func TestSampleIsSound(t *testing.T) {
	for _, rows := range []int{0, 1, 40} {
		inspect(t, written(t, sampleBook(t, movements(rows), maxSheetRows)))
	}
}

// Maps are walked in another order each time, so that one equal pair would prove little.
func TestSameBytes(t *testing.T) {
	var first [sha256.Size]byte
	for i := range 6 {
		sum := sha256.Sum256(written(t, sampleBook(t, movements(50), 40)))
		if i == 0 {
			first = sum
		} else if sum != first {
			t.Fatalf("run %d wrote other bytes than the first", i)
		}
	}
}

// One book can be written again, as for a file and a hash of it.
func TestWriteTwice(t *testing.T) {
	b := sampleBook(t, movements(25), maxSheetRows)
	if !bytes.Equal(written(t, b), written(t, b)) {
		t.Error("the second writing differs")
	}
}

func TestSheetsStandInOrder(t *testing.T) {
	b := sampleBook(t, movements(25), maxSheetRows)
	f := open(t, written(t, b))
	want := []string{"00 Cover", "01 Checks", "02 Lead", "Days", "Movements"}
	if diff := cmp.Diff(want, f.GetSheetList()); diff != "" {
		t.Error(diff)
	}
	if f.GetActiveSheetIndex() != 0 {
		t.Errorf("opens at sheet %d", f.GetActiveSheetIndex())
	}
}

// Cells as a reader shows them, by sheet and place.
func TestReadBack(t *testing.T) {
	f := open(t, written(t, sampleBook(t, movements(40), maxSheetRows)))
	tests := []struct{ sheet, cell, shown, formula string }{
		{"00 Cover", "A1", "Stockpile close of October", ""},
		{"00 Cover", "A2", "Yard North · period 2026-10 · masses are oven-dry solids", ""},
		{"00 Cover", "B10", "2026-10-01", ""},
		{"00 Cover", "B11", "1.482 ", ""},
		{"00 Cover", "B12", "1.50% ", ""},
		{"00 Cover", "B13", "BROKEN", `IF(COUNTIF('01 Checks'!$E$5:$E$7,"OK")=ROWS('01 Checks'!$E$5:$E$7),"OK","BROKEN")`},
		{"00 Cover", "C13", "01 Checks", `HYPERLINK("#'01 Checks'!$E$5","01 Checks")`},
		{"01 Checks", "E5", "OK", `IF(ABS(B5-C5)<=D5,"OK","BROKEN")`},
		{"01 Checks", "B7", "0.000 ", "B6-C6"}, // a dash in applications; this reader knows no third section
		{"02 Lead", "B4", "Opening [t]", ""},
		{"02 Lead", "C5", "67.147 ", "SUMIFS(Movements!$E$6:$E$45,Movements!$C$6:$C$45,A5,Movements!$D$6:$D$45,\"made\")"},
		{"02 Lead", "H5", "(41.500)", "F5-G5"},
		{"02 Lead", "H9", "83.000 ", "SUM($H$5:$H$8)"},
		{"02 Lead", "I9", "1.24% ", "H9/F9"},
		{"Movements", "E4", "880.916 ", "SUM($E$6:$E$45)"},
		{"Movements", "B5", "Time [Yard/North]", ""},
		{"Movements", "A6", "004100", ""},
		{"Movements", "B7", "2026-10-01 07:14:00", ""},
		{"Movements", "C7", "pile <32 mm", ""},
	}
	for _, test := range tests {
		shown, err := f.GetCellValue(test.sheet, test.cell)
		if err != nil || shown != test.shown {
			t.Errorf("%s!%s shows %q, %v; want %q", test.sheet, test.cell, shown, err, test.shown)
		}
		if formula, err := f.GetCellFormula(test.sheet, test.cell); err != nil || formula != test.formula {
			t.Errorf("%s!%s has the formula %q, %v; want %q", test.sheet, test.cell, formula, err, test.formula)
		}
	}
}

// What stands in a cell is kept as it is and never becomes a formula.
func TestHostileText(t *testing.T) {
	texts := []string{"=1+1", "+1", "-1", "@SUM(A1)", `=HYPERLINK("http://example.org","x")`, "'quoted", "  spaces  ", "_x0041_", "_x005F_x0041_",
		"_x000D_", "a\nb", "tab\there", "<b>&amp;</b>", "]]>", `"`, "007", "1E5", "10/4", "TRUE", "#REF!", strings.Repeat("long ", 6553),
		strings.Repeat("𝛒", maxCellUnits/2), "{net}"}
	var rows [][]value
	for _, s := range texts {
		rows = append(rows, []value{text(s), link(s, cellRef{"Hostile", 1, 1})})
	}
	b := newBook(sampleProps(t))
	b.sheet("Hostile", "=1+1 _x0041_").table(tableSpec{name: "Hostile", count: len(rows), rows: rowsOf(rows...), main: true,
		columns: []column{{key: "text", head: "=2+2 _x0041_\n<&>", kind: kindText}, {key: "link", head: "@link", kind: kindText}}})
	data := written(t, b)
	inspect(t, data)
	f := open(t, data)
	for i, s := range texts {
		cell := cellRef{col: 1, row: firstBlockRow + 1 + i}.local()
		got, err := f.GetCellValue("Hostile", cell)
		if err != nil || got != s {
			t.Errorf("%q comes back as %q, %v", clip(s, 40), clip(got, 40), err)
		}
		formula, err := f.GetCellFormula("Hostile", cell)
		if err != nil || formula != "" {
			t.Errorf("%q became the formula %q, %v", clip(s, 40), formula, err)
		}
		style, err := f.GetCellStyle("Hostile", cell)
		if err != nil {
			t.Fatal(err)
		}
		look, err := f.GetStyle(style)
		if err != nil || look.CustomNumFmt == nil || *look.CustomNumFmt != formatText {
			t.Errorf("%q is not formatted as text: %v", clip(s, 40), err)
		}
	}
}

func FuzzText(f *testing.F) {
	for _, s := range []string{"=1", "_x0041_", "_x005F_x0041_", "\x00", "a\r\nb", " ", "_xD800_", "_x_x0041_"} {
		f.Add(s, s)
	}
	f.Fuzz(func(t *testing.T, cell, head string) {
		want, err := cleanText(cell)
		if err != nil || cleanLine(head) == "" || units(head) > 255 {
			return
		}
		b := newBook(sampleProps(t))
		b.props.page.headLeft = head
		b.sheet("S", head).table(tableSpec{name: "T", count: 1, rows: rowsOf([]value{text(cell)}), main: true,
			columns: []column{{key: "text", head: head, kind: kindText}}})
		data := written(t, b)
		inspect(t, data)
		got, err := open(t, data).GetCellValue("S", "A5")
		if err != nil || got != want {
			t.Errorf("%q comes back as %q, %v", want, got, err)
		}
	})
}

func TestProperties(t *testing.T) {
	f := open(t, written(t, sampleBook(t, movements(3), maxSheetRows)))
	doc, err := f.GetDocProps()
	if err != nil {
		t.Fatal(err)
	}
	want := &excelize.DocProperties{Title: "Stockpile close", Subject: "Yard North · period 2026-10 · masses are oven-dry solids",
		Creator: "Yard office", LastModifiedBy: "Yard office", Created: "2026-11-03T14:30:00Z", Modified: "2026-11-03T14:30:00Z"}
	if diff := cmp.Diff(want, doc); diff != "" {
		t.Error(diff)
	}
	app, err := f.GetAppProps()
	if err != nil || app.Application != "Repose test" {
		t.Errorf("application %q, %v", app.Application, err)
	}
}

func TestPrinting(t *testing.T) {
	f := open(t, written(t, sampleBook(t, movements(3), maxSheetRows)))
	for _, sheet := range f.GetSheetList() {
		page, err := f.GetPageLayout(sheet)
		if err != nil || *page.Orientation != "landscape" || *page.Size != int(paperA4) || *page.FitToWidth != 1 || *page.FitToHeight != 0 {
			t.Errorf("%s: page %+v, %v", sheet, page, err)
		}
		props, err := f.GetSheetProps(sheet)
		if err != nil || !*props.FitToPage {
			t.Errorf("%s does not fit the page, %v", sheet, err)
		}
		text, err := f.GetHeaderFooter(sheet)
		if err != nil {
			t.Fatal(err)
		}
		if want := "&L&8 Yard North && Sons&R&8 2026-10 closed"; text.OddHeader != want {
			t.Errorf("%s: header %q, want %q", sheet, text.OddHeader, want)
		}
		if want := "&L&8 head 9f2c41d07be85a36&C&8 &A&R&8 Page &P of &N"; text.OddFooter != want {
			t.Errorf("%s: footer %q, want %q", sheet, text.OddFooter, want)
		}
	}
	titles := make(map[string]string)
	for _, n := range f.GetDefinedName() {
		if n.Name == "_xlnm.Print_Titles" {
			titles[n.Scope] = n.RefersTo
		}
	}
	want := map[string]string{"01 Checks": "'01 Checks'!$4:$4", "02 Lead": "'02 Lead'!$4:$4", "Days": "Days!$4:$4", "Movements": "Movements!$5:$5"}
	if diff := cmp.Diff(want, titles); diff != "" {
		t.Error(diff)
	}
}

func TestPageFieldFits(t *testing.T) {
	for _, s := range []string{"", "a & b", strings.Repeat("&", 200), strings.Repeat("𝛒", 200), "a\nb"} {
		if got := pageField(s); units(got) > maxPageField+units(pageFont) || strings.Contains(got, "\n") {
			t.Errorf("%q became %q", s, got)
		}
	}
}

// A filter and frozen heads belong to every main table, drop-downs and marks to every column that asks.
func TestFeatures(t *testing.T) {
	f := open(t, written(t, sampleBook(t, movements(3), maxSheetRows)))
	panes, err := f.GetPanes("Movements")
	if err != nil || !panes.Freeze || panes.XSplit != 1 || panes.YSplit != 5 || panes.TopLeftCell != "B6" {
		t.Errorf("panes %+v, %v", panes, err)
	}
	tables, err := f.GetTables("Movements")
	if err != nil || len(tables) != 1 || tables[0].Range != "A5:F8" || tables[0].Name != "Movements" {
		t.Errorf("tables %+v, %v", tables, err)
	}
	rules, err := f.GetDataValidations("02 Lead")
	if err != nil || len(rules) != 1 || rules[0].Sqref != "J5:J8" || rules[0].Formula1 != `"inside,outside"` {
		t.Errorf("validations %+v, %v", rules[0], err)
	}
	marks, err := f.GetConditionalFormats("01 Checks")
	if err != nil || len(marks) != 1 || len(marks["E5:E7"]) != 2 {
		t.Errorf("marks %+v, %v", marks, err)
	}
	width, err := f.GetColWidth("02 Lead", "A")
	if err != nil || width != 20 {
		t.Errorf("first column %v wide, %v", width, err)
	}
	for _, n := range f.GetDefinedName() {
		if n.Name == "MovedTotal" && n.RefersTo != "Movements!$E$4" {
			t.Errorf("MovedTotal refers to %s", n.RefersTo)
		}
	}
}

func TestChoicesFromTable(t *testing.T) {
	b := newBook(sampleProps(t))
	lists := b.sheet("Lists", "Lists").table(tableSpec{name: "Lists", count: 2, rows: rowsOf([]value{text("a")}, []value{text("b")}),
		columns: []column{{key: "pile", head: "Pile", kind: kindText}}})
	b.sheet("Entry", "Entry").table(tableSpec{name: "Entry", columns: []column{{key: "pile", head: "Pile", kind: kindText, role: roleInput, choicesFrom: lists.column("pile")}}})
	data := written(t, b)
	inspect(t, data)
	rules, err := open(t, data).GetDataValidations("Entry")
	if err != nil || len(rules) != 1 || rules[0].Formula1 != "'Lists'!$A$5:$A$6" && rules[0].Formula1 != "Lists!$A$5:$A$6" {
		t.Errorf("validations %+v, %v", rules, err)
	}
}

func TestRefusesChoices(t *testing.T) {
	for name, choices := range map[string][]string{"comma": {"a,b", "c"}, "too long": {strings.Repeat("x", 256)}} {
		t.Run(name, func(t *testing.T) {
			b := newBook(sampleProps(t))
			b.sheet("S", "S").table(tableSpec{name: "T", columns: []column{{key: "a", head: "A", kind: kindText, choices: choices}}})
			if err := b.write(t.Context(), io.Discard); err == nil || !strings.Contains(err.Error(), "choices without commas") {
				t.Errorf("err = %v", err)
			}
		})
	}
}

func TestRefusesBook(t *testing.T) {
	tests := map[string]struct {
		change func(*properties)
		sheet  bool
		want   string
	}{
		"no sheets":  {func(*properties) {}, false, "no sheets"},
		"no zone":    {func(p *properties) { p.zone = nil }, true, "no time zone"},
		"no instant": {func(p *properties) { p.made = time.Time{} }, true, "no instant"},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			props := sampleProps(t)
			test.change(&props)
			b := newBook(props)
			if test.sheet {
				b.sheet("S", "S")
			}
			if err := b.write(t.Context(), io.Discard); err == nil || !strings.Contains(err.Error(), test.want) {
				t.Errorf("err = %v, want one with %q", err, test.want)
			}
		})
	}
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	var out bytes.Buffer
	if err := sampleBook(t, movements(3), maxSheetRows).write(ctx, &out); !errors.Is(err, context.Canceled) || out.Len() > 0 {
		t.Errorf("err = %v after %d bytes", err, out.Len())
	}
}

// failingWriter fails after n bytes.
type failingWriter struct{ n int }

var errFull = errors.New("disk full")

func (w *failingWriter) Write(b []byte) (int, error) {
	if w.n -= len(b); w.n < 0 {
		return 0, errFull
	}
	return len(b), nil
}

func TestWriterFails(t *testing.T) {
	size := len(written(t, sampleBook(t, movements(3), maxSheetRows)))
	for _, n := range []int{0, 100, size / 2, size - 1} {
		if err := sampleBook(t, movements(3), maxSheetRows).write(t.Context(), &failingWriter{n}); !errors.Is(err, errFull) {
			t.Errorf("after %d bytes: err = %v", n, err)
		}
	}
}
