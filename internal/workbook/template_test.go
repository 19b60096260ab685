package workbook

import (
	"bytes"
	"errors"
	"io"
	"testing"

	"repose/internal/intake"
	"repose/ledger"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

// catalogue is the intake tables as a template's.
func catalogue() []TemplateTable {
	var tables []TemplateTable
	for _, t := range intake.Tables() {
		out := TemplateTable{Name: t.Name, Note: t.Note}
		for _, c := range t.Columns {
			column := TemplateColumn{Head: c.Heading(), Required: c.Need == intake.Required, Note: c.Note, Choices: c.Words, Holds: TemplateText}
			switch c.Holds {
			case intake.Time:
				column.Holds, column.Example = TemplateInstant, "2026-10-05 07:42"
			case intake.Date, intake.LastDate:
				column.Holds = TemplateDate
			case intake.Mass, intake.Volume, intake.Density, intake.Moisture:
				column.Holds, column.Example = TemplateNumber, "24.31"
			}
			out.Columns = append(out.Columns, column)
		}
		tables = append(tables, out)
	}
	return tables
}

func writtenTemplate(t testing.TB, tables []TemplateTable) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := WriteTemplate(t.Context(), &buf, tables); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func TestTemplateIsSound(t *testing.T) {
	data := writtenTemplate(t, catalogue())
	inspect(t, data)
	if !bytes.Equal(data, writtenTemplate(t, catalogue())) {
		t.Error("the same tables gave other bytes")
	}
	f := open(t, data)
	want := []string{"read me"}
	for _, table := range catalogue() {
		want = append(want, table.Name)
		heads, err := f.GetRows(table.Name, excelize.Options{RawCellValue: true})
		if err != nil || len(heads) != 1 {
			t.Fatalf("sheet %s has %d rows, %v; want its header alone", table.Name, len(heads), err)
		}
		for i, c := range table.Columns {
			if heads[0][i] != c.Head {
				t.Errorf("sheet %s: head %q, want %q", table.Name, heads[0][i], c.Head)
			}
		}
	}
	if diff := cmp.Diff(want, f.GetSheetList()); diff != "" {
		t.Error(diff)
	}
}

// emptyBook takes nothing in.
type emptyBook struct{ t *testing.T }

func (b emptyBook) AddFile(_ string, r io.Reader, _ string) (string, bool, error) {
	n, err := io.Copy(io.Discard, r)
	if n == 0 {
		b.t.Error("an empty file was added")
	}
	return "", true, err
}

func (emptyBook) Append(*ledger.Record) (intake.Outcome, *ledger.Record, error) {
	return 0, nil, errors.New("a record came out of an empty template")
}

// The empty template is taken in without a word: every sheet but the first is a table, with no rows.
func TestTemplateIsTakenIn(t *testing.T) {
	files, err := intake.Assign([]intake.Source{intake.InMemory("template.xlsx", writtenTemplate(t, catalogue()))}, nil)
	if err != nil {
		t.Fatal(err)
	}
	rep, err := intake.Run(t.Context(), files, intake.Known{}, emptyBook{t}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(rep.Tables) != len(intake.Tables()) || len(rep.PassedOver) != 1 || rep.PassedOver[0].Sheet != "read me" {
		t.Errorf("%d tables taken in and %+v passed over; want %d, and the sheet read me", len(rep.Tables), rep.PassedOver, len(intake.Tables()))
	}
	for _, table := range rep.Tables {
		if table.Rows != 0 {
			t.Errorf("table %s has %d rows, want none", table.Table, table.Rows)
		}
	}
}

func TestTemplateColumns(t *testing.T) {
	data := writtenTemplate(t, []TemplateTable{{Name: "loads", Note: "truckloads", Columns: []TemplateColumn{
		{Head: "ticket", Required: true, Note: "number of the ticket", Holds: TemplateText},
		{Head: "net [t]", Required: true, Note: "mass loaded", Holds: TemplateNumber},
		{Head: "status", Note: "a void load moves nothing", Choices: []string{"kept", "void"}},
	}}})
	f := open(t, data)
	rules, err := f.GetDataValidations("loads")
	if err != nil {
		t.Fatal(err)
	}
	type rule struct{ Cells, Type, List, Prompt string }
	var got []rule
	for _, r := range rules {
		got = append(got, rule{r.Sqref, r.Type, r.Formula1, *r.Prompt})
	}
	want := []rule{
		{"A2:A1048576", "", "", "Needed: number of the ticket"},
		{"B2:B1048576", "", "", "Needed: mass loaded"},
		{"C2:C1048576", "list", `"kept,void"`, "May be empty: a void load moves nothing"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if panes, err := f.GetPanes("loads"); err != nil || !panes.Freeze || panes.YSplit != 1 {
		t.Errorf("panes %+v, %v; want the header frozen", panes, err)
	}
	style, err := f.GetColStyle("loads", "A")
	if err != nil {
		t.Fatal(err)
	}
	if s, err := f.GetStyle(style); err != nil || s.CustomNumFmt == nil || *s.CustomNumFmt != "@" {
		t.Errorf("tickets are shown as %+v, %v; want text", s, err)
	}
}

func TestTemplateRefuses(t *testing.T) {
	for _, c := range []struct {
		name  string
		table TemplateTable
	}{
		{"no columns", TemplateTable{Name: "loads"}},
		{"a head twice", TemplateTable{Name: "loads", Columns: []TemplateColumn{{Head: "net"}, {Head: "Net"}}}},
		{"no head", TemplateTable{Name: "loads", Columns: []TemplateColumn{{}}}},
		{"two lines", TemplateTable{Name: "loads", Columns: []TemplateColumn{{Head: "net\n[t]"}}}},
		{"a comma", TemplateTable{Name: "loads", Columns: []TemplateColumn{{Head: "net", Choices: []string{"a,b"}}}}},
		{"a sheet name", TemplateTable{Name: "a/b", Columns: []TemplateColumn{{Head: "net"}}}},
	} {
		if err := WriteTemplate(t.Context(), io.Discard, []TemplateTable{c.table}); err == nil {
			t.Errorf("%s: no error", c.name)
		}
	}
}
