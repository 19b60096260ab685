package table

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
)

// dump reads r to its end and returns what it yields, a line each: the header,
// the rows with the kinds of cells that are not text, and the errors.
func dump(t testing.TB, r *Reader, err error) string {
	t.Helper()
	if err != nil {
		return "error: " + err.Error() + "\n"
	}
	var b strings.Builder
	dumpRow(&b, r.Header())
	for {
		row, err := r.Next()
		var bad *Error
		switch {
		case err == io.EOF:
			if _, err := r.Next(); err != io.EOF {
				t.Errorf("Next after io.EOF = %v, want io.EOF again", err)
			}
			return b.String()
		case errors.As(err, &bad):
			fmt.Fprintf(&b, "error: %v\n", bad)
		case err != nil:
			fmt.Fprintf(&b, "failed: %v\n", err)
		default:
			if len(row.Cells) != len(r.Header().Cells) {
				t.Errorf("row %d has %d cells, want %d as in the header", row.Number, len(row.Cells), len(r.Header().Cells))
			}
			dumpRow(&b, row)
		}
	}
}

func dumpRow(b *strings.Builder, row Row) {
	fmt.Fprintf(b, "%d: ", row.Number)
	for i, c := range row.Cells {
		if i > 0 {
			b.WriteByte('|')
		}
		b.WriteString(c)
		if k := row.Kind(i); k != Text {
			fmt.Fprintf(b, " <%v>", k)
		}
	}
	b.WriteByte('\n')
}

// lines joins the lines of an expected dump.
func lines(l ...string) string { return strings.Join(l, "\n") + "\n" }

func TestErrorPosition(t *testing.T) {
	for _, tt := range []struct {
		err  Error
		want string
	}{
		{Error{File: "loads.csv", Row: 14, Column: 6, Found: "x", Wanted: "y"}, "loads.csv:14:6: found x, wanted y"},
		{Error{File: "loads.csv", Row: 14, Found: "x", Wanted: "y"}, "loads.csv:14: found x, wanted y"},
		{Error{File: "loads.csv", Found: "x", Wanted: "y"}, "loads.csv: found x, wanted y"},
	} {
		if got := tt.err.Error(); got != tt.want {
			t.Errorf("got %q, want %q", got, tt.want)
		}
	}
}

func TestQuote(t *testing.T) {
	for _, tt := range []struct{ in, want string }{
		{"", `""`},
		{"a\"b\n", `"a\"b\n"`},
		{strings.Repeat("é", 40), `"` + strings.Repeat("é", 40) + `"`},
		{strings.Repeat("é", 41), `"` + strings.Repeat("é", 40) + `"...`},
	} {
		if got := quote(tt.in); got != tt.want {
			t.Errorf("quote(%q) = %s, want %s", tt.in, got, tt.want)
		}
	}
}

func TestByteSize(t *testing.T) {
	for _, tt := range []struct {
		bytes uint64
		want  string
	}{
		{0, "0 bytes"}, {1023, "1023 bytes"}, {1024, "1 KiB"}, {1536, "1.5 KiB"},
		{4 << 20, "4 MiB"}, {4 << 30, "4 GiB"}, {1 << 50, "1024 TiB"},
	} {
		if got := byteSize(tt.bytes); got != tt.want {
			t.Errorf("byteSize(%d) = %q, want %q", tt.bytes, got, tt.want)
		}
	}
}
