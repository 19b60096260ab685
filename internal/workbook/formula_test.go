package workbook

import (
	"errors"
	"strings"
	"testing"
)

func TestReferences(t *testing.T) {
	tests := []struct {
		got, want string
	}{
		{cellRef{"Lead", 3, 7}.String(), "Lead!$C$7"},
		{cellRef{"02 Lead", 3, 7}.String(), "'02 Lead'!$C$7"},
		{cellRef{"Driver's", 28, 7}.String(), "'Driver''s'!$AB$7"},
		{cellRef{"Sum", 1, 1}.String(), "'Sum'!$A$1"}, // could read as a column
		{cellRef{"R1C1", 1, 1}.String(), "'R1C1'!$A$1"},
		{cellRef{"Lead", 3, 7}.local(), "C7"},
		{areaRef{"Lead", 3, 7, 20}.String(), "Lead!$C$7:$C$20"},
		{areaRef{"Lead", 3, 7, 20}.local(), "$C$7:$C$20"},
		{columnLetters(16384), "XFD"},
		{columnLetters(16385), "#REF!"},
		{quoted(`say "go"`), `"say ""go"""`},
	}
	for _, test := range tests {
		if test.got != test.want {
			t.Errorf("got %s, want %s", test.got, test.want)
		}
	}
}

// probe is a book of one sheet with a table of three rows and a total.
func probe(t *testing.T) (*book, *table) {
	t.Helper()
	b := newBook(sampleProps(t))
	tab := b.sheet("Probe", "Probe").table(tableSpec{
		name: "Probe", count: 3,
		columns: []column{
			{key: "pile", head: "Pile", kind: kindText, isKey: true},
			{key: "note", head: "Note", kind: kindText},
			{key: "in", head: "In", kind: kindTonnes},
			{key: "out", head: "Out", kind: kindTonnes},
		},
		rows:  rowsOf([]value{{}, {}, {}, {}}, []value{{}, {}, {}, {}}, []value{{}, {}, {}, {}}),
		total: []value{text("All"), {}, tonnes(0), tonnes(0)},
	})
	return b, tab
}

func TestTemplate(t *testing.T) {
	_, tab := probe(t)
	tests := map[string]struct {
		formula string
		row     int
		want    string
		err     string
	}{
		"this row":         {"{in}-{out}", 1, "C6-D6", ""},
		"row above":        {"{in@above}+{in}", 1, "C5+C6", ""},
		"first to this":    {"SUM({in@first}:{in})", 2, "SUM($C$5:C7)", ""},
		"total":            {"{in}/{in@total}", 2, "C7/$C$8", ""},
		"in the total":     {"{in}-{out}", inTotal, "C8-D8", ""},
		"no names":         {"SUM(A1:A2)", 0, "SUM(A1:A2)", ""},
		"text literal":     {`IF({in}>0,"{in}","a""{x}")`, 0, `IF(C5>0,"{in}","a""{x}")`, ""},
		"unknown column":   {"{inn}", 0, "", `no column "inn"`},
		"unknown position": {"{in@below}", 0, "", "in braces"},
		"array constant":   {"SUM({1,2})", 0, "", "in braces"},
		"above the first":  {"{in@above}", 0, "", "above the first"},
		"above the total":  {"{in@above}", inTotal, "", "above the first"},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			form, err := parseTemplate(test.formula, tab.index)
			got := ""
			if err == nil {
				got, err = tab.expand(form, test.row)
			}
			if test.err != "" {
				if err == nil || !strings.Contains(err.Error(), test.err) {
					t.Fatalf("got %q, %v; want an error with %q", got, err, test.err)
				}
				return
			}
			if err != nil || got != test.want {
				t.Errorf("got %q, %v; want %q", got, err, test.want)
			}
		})
	}
}

func TestTemplateWithoutTotal(t *testing.T) {
	_, tab := probe(t)
	tab.total = 0
	form, err := parseTemplate("{in@total}", tab.index)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := tab.expand(form, 0); err == nil {
		t.Errorf("got %q for a total that is not there", got)
	}
}

func TestTemplateFromFirstOfSplit(t *testing.T) {
	b := newBook(sampleProps(t))
	b.sheetRows = 8
	tab := numbered(b.sheet("S", "S"), 9, tableSpec{long: true})
	form, err := parseTemplate("SUM({n@first}:{n})", tab.index)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := tab.expand(form, 8); !errors.Is(err, errSplitFirst) {
		t.Errorf("got %q, %v; want an error: no area runs over two sheets", got, err)
	}
}

func TestSpanFormulas(t *testing.T) {
	b, tab := probe(t)
	in, pile := tab.column("in"), tab.column("pile")
	tests := map[string]struct{ got, want string }{
		"sum":      {in.sum(), "SUM(Probe!$C$5:$C$7)"},
		"sumifs":   {sumIfs(in, where(pile, "{pile}"), where(tab.column("out"), `">"&{out}`)), `SUMIFS(Probe!$C$5:$C$7,Probe!$A$5:$A$7,{pile},Probe!$D$5:$D$7,">"&{out})`},
		"countifs": {countIfs(where(pile, `"pile x"`)), `COUNTIFS(Probe!$A$5:$A$7,"pile x")`},
		"all well": {allOK(pile, in), `COUNTIF(Probe!$A$5:$A$7,"OK")+COUNTIF(Probe!$C$5:$C$7,"OK")=ROWS(Probe!$A$5:$A$7)+ROWS(Probe!$C$5:$C$7)`},
	}
	for name, test := range tests {
		if test.got != test.want {
			t.Errorf("%s:\n got %s\nwant %s", name, test.got, test.want)
		}
	}
	if b.err != nil {
		t.Error(b.err)
	}
}

// What a formula cannot say, the book remembers, and the formula shows.
func TestSpanRefuses(t *testing.T) {
	tests := map[string]func(tab, other *table) string{
		"text that is no key": func(tab, _ *table) string { return countIfs(where(tab.column("note"), `"x"`)) },
		"values of another":   func(tab, other *table) string { return sumIfs(other.column("in"), where(tab.column("pile"), `"x"`)) },
		"asking another": func(tab, other *table) string {
			return countIfs(where(tab.column("pile"), `"x"`), where(other.column("pile"), `"x"`))
		},
	}
	for name, build := range tests {
		t.Run(name, func(t *testing.T) {
			b, tab := probe(t)
			_, other := probe(t)
			if got := build(tab, other); got != brokenRef || b.err == nil {
				t.Errorf("got %q, error %v", got, b.err)
			}
		})
	}
}

func TestKeys(t *testing.T) {
	for _, name := range []string{"0/4", "<4 mm", "010", "=1", "1*", "a~b?", "TRUE", "Ö", "1 Oct", "-5"} {
		if err := checkKey(keyText("pile", name)); err != nil {
			t.Errorf("%q: %v", name, err)
		}
	}
	for _, word := range []string{"", "sale", "pile x"} {
		if err := checkKey(word); err != nil {
			t.Errorf("%q: %v", word, err)
		}
	}
	for _, bad := range []string{"0/4", "<4", "010", "pile 1*", "pile ?", "true", "false", "Pile x", " x", "pile " + strings.Repeat("x", 255)} {
		if err := checkKey(bad); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
}
