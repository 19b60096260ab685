package workbook

import (
	"bytes"
	"encoding/xml"
	"io"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
)

func TestCleanText(t *testing.T) {
	tests := map[string]struct{ in, want string }{
		"plain":            {"truck 12", "truck 12"},
		"empty":            {"", ""},
		"formula":          {`=HYPERLINK("x")`, `=HYPERLINK("x")`},
		"spaces kept":      {"  a  ", "  a  "},
		"line feed kept":   {"a\nb\tc", "a\nb\tc"},
		"dos line ends":    {"a\r\nb", "a\nb"},
		"lone return":      {"a\rb", "a␍b"},
		"controls":         {"\x00\x07\x1b\x7f", "␀␇␛␡"},
		"not UTF-8":        {"a\xffb", "a\uFFFDb"},
		"no character":     {"a\uFFFEb", "a\uFFFDb"},
		"escape kept":      {"_x0041_", "_x0041_"},
		"half a surrogate": {"_xD800_", "\uFF3FxD800_"},
		"umlaut":           {"Öl", "Öl"},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			got, err := cleanText(test.in)
			if err != nil || got != test.want {
				t.Errorf("cleanText(%q) = %q, %v; want %q", test.in, got, err, test.want)
			}
		})
	}
}

// The limit counts UTF-16 units, of which a character beyond the basic plane takes two.
func TestCleanTextLength(t *testing.T) {
	for name, test := range map[string]struct {
		in string
		ok bool
	}{
		"at the limit":     {strings.Repeat("a", maxCellUnits), true},
		"above":            {strings.Repeat("a", maxCellUnits+1), false},
		"bytes above":      {strings.Repeat("é", maxCellUnits), true},
		"pairs at":         {strings.Repeat("𝛒", maxCellUnits/2), true},
		"pairs above":      {strings.Repeat("𝛒", maxCellUnits/2+1), false},
		"bad bytes within": {strings.Repeat("\xff", maxCellUnits), true},
	} {
		t.Run(name, func(t *testing.T) {
			if _, err := cleanText(test.in); (err == nil) != test.ok {
				t.Errorf("err = %v, want ok = %v", err, test.ok)
			}
		})
	}
}

func TestCleanLine(t *testing.T) {
	for in, want := range map[string]string{
		" a \n\t b ": "a b",
		"_x0041_":    "\uFF3Fx0041_",
		"_xylem":     "_xylem",
		"a\x00":      "a␀",
	} {
		if got := cleanLine(in); got != want {
			t.Errorf("cleanLine(%q) = %q, want %q", in, got, want)
		}
	}
}

func TestWrap(t *testing.T) {
	tests := map[string]struct {
		in    string
		width int
		want  []string
	}{
		"empty":      {"", 10, []string{""}},
		"fits":       {"one two", 7, []string{"one two"}},
		"breaks":     {"one two", 6, []string{"one", "two"}},
		"long words": {"stockpiles of rock", 5, []string{"stockpiles", "of", "rock"}},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			if diff := cmp.Diff(test.want, wrap(test.in, test.width)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// Whatever comes in, what goes out is UTF-8 that XML can carry, and cleaning it again changes nothing.
func FuzzCleanText(f *testing.F) {
	for _, s := range []string{"", "=1", "a\r\nb", "\x00\xff", "_x0041_", "_xDFFF__x005F_", "\uFFFE", "\xed\xa0\x80"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, in string) {
		out, err := cleanText(in)
		if err != nil {
			return
		}
		if !utf8.ValidString(out) {
			t.Fatalf("%q became %q, which is not UTF-8", in, out)
		}
		if again, err := cleanText(out); err != nil || again != out {
			t.Errorf("%q became %q and then %q, %v", in, out, again, err)
		}
		var buf bytes.Buffer
		buf.WriteString("<t>")
		if err := xml.EscapeText(&buf, []byte(out)); err != nil {
			t.Fatal(err)
		}
		buf.WriteString("</t>")
		dec := xml.NewDecoder(&buf)
		var back strings.Builder
		for {
			token, err := dec.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%q: %v", out, err)
			}
			if chars, ok := token.(xml.CharData); ok {
				back.Write(chars)
			}
		}
		if back.String() != out {
			t.Errorf("%q comes back from XML as %q", out, back.String())
		}
	})
}
