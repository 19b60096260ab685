package pack

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestCells(t *testing.T) {
	for _, test := range []struct {
		cell Cell
		want string
	}{
		{Text("a"), `a`},
		{Text("a b"), `"a b"`},
		{Text(`say "so", or; not`), `"say ""so"", or; not"`},
		{Text("=1+1"), `'=1+1`},
		{Text("+1"), `'+1`},
		{Text("-1"), `'-1`},
		{Text("@a"), `'@a`},
		{Text("＝1"), `'＝1`},
		{Text(" =1"), `"' =1"`},
		{Text("'quoted"), `''quoted`},
		{Text("\t=1"), `\u0009=1`},
		{Text("a\r\nb"), `a\u000d\u000ab`},
		{Text("a\u0085b"), `a\u0085b`},
		{Text("a\xffb"), "a\uFFFDb"},
		{Text("1-2"), `1-2`},
		{Int(-12), `-12`},
		{Grams(-5), `-5`},
		{Number("-12.50"), `-12.50`},
		{Number("+1"), `'+1`},
		{Number("1e5"), `1e5`},
		{Number("=1"), `'=1`},
	} {
		if got := string(appendCells(nil, []Cell{test.cell, {}})); got != test.want+"," {
			t.Errorf("got %s, want %s,", got, test.want)
		}
	}
	if got := string(appendRow(nil, []Cell{{}})); got != "\"\"\r\n" {
		t.Errorf("a row of one empty cell: %q", got)
	}
}

func TestRowsHaveOneWidth(t *testing.T) {
	var b bytes.Buffer
	w := NewCSV(&b)
	if err := w.Row(); err == nil {
		t.Error("a row without cells: no error")
	}
	if err := w.Row(texts("a", "b")...); err != nil {
		t.Fatal(err)
	}
	if err := w.Row(Text("1")); err == nil {
		t.Error("a short row: no error")
	}
	if diff := cmp.Diff("a,b\r\n", b.String()); diff != "" {
		t.Error(diff)
	}
}

// TestTextComesBack reads any text with another reader. The row is one line, no cell looks like a formula, and the text is
// had again.
func TestTextComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		texts := rapid.SliceOfN(rapid.OneOf(rapid.String(), rapid.StringMatching(`[=+\-@' ",;a\t]{0,4}`)), 1, 5).Draw(t, "texts")
		cells := make([]Cell, len(texts))
		for i, s := range texts {
			cells[i] = Text(s)
		}
		row := string(appendRow(nil, cells))
		if strings.IndexFunc(row, unicode.IsControl) != len(row)-2 || !utf8.ValidString(row) {
			t.Fatalf("%q: want one line", row)
		}
		got, err := csv.NewReader(strings.NewReader(row)).Read()
		if err != nil || len(got) != len(texts) {
			t.Fatalf("%q: %q, error %v", row, got, err)
		}
		for i, s := range got {
			if first := strings.TrimSpace(s); first != "" && strings.ContainsRune("=+-@", rune(first[0])) {
				t.Errorf("%q could be a formula", s)
			}
			want := strings.ToValidUTF8(texts[i], "\uFFFD")
			if back := strings.TrimPrefix(s, "'"); back != want && back != escapeControls(want) {
				t.Errorf("%q came back as %q", want, back)
			}
		}
	})
}
