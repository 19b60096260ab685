package table

import (
	"encoding/csv"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// csvTests are files and what is read of them.
var csvTests = []struct {
	name   string
	in     string
	layout Layout
	want   string
}{
	{
		name: "plain",
		in:   "time,net [t]\n2026-10-01,24.31\n",
		want: lines("1: time|net [t]", "2: 2026-10-01|24.31"),
	},
	{
		name: "carriage returns and no line end at the end",
		in:   "a,b\r\n1,2\r\n3,4",
		want: lines("1: a|b", "2: 1|2", "3: 3|4"),
	},
	{
		name: "quotes, doubled quotes, delimiters and line breaks in cells",
		in:   "a,b\n\"3/4\"\" crushed\",\"x,\r\ny\"\n5,6\n",
		want: lines("1: a|b", `2: 3/4" crushed|x,`, "y", "4: 5|6"),
	},
	{
		name: "blank rows are passed over and counted",
		in:   "a,b\n\n1,2\n,\n \t,\u00a0\n3,4\n",
		want: lines("1: a|b", "3: 1|2", "6: 3|4"),
	},
	{
		name: "short rows",
		in:   "a,b,c\n1\n2,3\n",
		want: lines("1: a|b|c", "2: 1||", "3: 2|3|"),
	},
	{
		name: "empty cells beyond the header",
		in:   "a,b,, \n1,2,,,,\n",
		want: lines("1: a|b", "2: 1|2"),
	},
	{
		name: "spaces stay",
		in:   " a ,b\n x , y\n",
		want: lines("1:  a |b", "2:  x | y"),
	},
	{
		name: "one column",
		in:   "pile\nnorth\n",
		want: lines("1: pile", "2: north"),
	},
	{
		name:   "semicolons",
		in:     "a;b\n1,5;2\n",
		layout: Layout{Delimiter: ';'},
		want:   lines("1: a|b", "2: 1,5|2"),
	},
	{
		name:   "rows above the header, with a broken quote",
		in:     "Report of the \"yard\n\na,b\n1,2\n1,2,3\n",
		layout: Layout{HeaderRow: 3},
		want: lines("3: a|b", "4: 1|2",
			`error: t.csv:5:3: found "3" beyond the last column, wanted at most 2 cells, as in the header`),
	},
	{
		name: "all bad rows are reported",
		in:   "a,b\n1,2,3\n4,5\n6,7,,8\n",
		want: lines("1: a|b",
			`error: t.csv:2:3: found "3" beyond the last column, wanted at most 2 cells, as in the header`,
			"3: 4|5",
			`error: t.csv:4:4: found "8" beyond the last column, wanted at most 2 cells, as in the header`),
	},
	{
		name: "a column without a name is reported once, if it holds data",
		in:   "a,,c,,e\n1,,3,,5\n1,2,3,,5\n6,7,8,,9\n",
		want: lines("1: a||c||e", "2: 1||3||5",
			`error: t.csv:1:2: found no column name above "2" in row 3, wanted a name for every column that holds data`,
			"4: 6|7|8||9"),
	},
	{
		name: "bare quote",
		in:   "a,b\n1,3/4\" crushed\n5,6\n",
		want: lines("1: a|b",
			`error: t.csv:2:2: found a quote in a cell that does not begin with one, wanted the whole cell in quotes and its own quotes doubled, as in "3/4"" crushed"; the rest of the file was not read`),
	},
	{
		name: "text after a closing quote",
		in:   "a,b\n\"1\" ,2\n5,6\n",
		want: lines("1: a|b",
			`error: t.csv:2:1: found a quoted cell that does not end in a quote, wanted a closing quote before the next delimiter, quotes inside doubled; the rest of the file was not read`),
	},
	{
		name:   "open quote at the end, below skipped rows",
		in:     "skipped\na,b\n1,\"2\n3,4\n",
		layout: Layout{HeaderRow: 2},
		want: lines("2: a|b",
			`error: t.csv:3:2: found a quoted cell that does not end in a quote by line 4, wanted a closing quote before the next delimiter, quotes inside doubled; the rest of the file was not read`),
	},
	{
		name: "not UTF-8",
		in:   "a,b\n1,2\n3,caf\xe9\n5,\ufffd\nx\xff,6\n7,8\n",
		want: lines("1: a|b", "2: 1|2",
			`error: t.csv:3:2: found the byte 0xE9, which stands for no character in utf-8, wanted utf-8 text (a column map can say another encoding, such as "windows-1252")`,
			"4: 5|\ufffd",
			`error: t.csv:5:1: found the byte 0xFF, which stands for no character in utf-8, wanted utf-8 text (a column map can say another encoding, such as "windows-1252")`,
			"6: 7|8"),
	},
	{
		name: "a character cut by the end of the file",
		in:   "a,b\n1,caf\xc3",
		want: lines("1: a|b",
			`error: t.csv:2:2: found the byte 0xC3, which stands for no character in utf-8, wanted utf-8 text (a column map can say another encoding, such as "windows-1252")`),
	},
	{
		name: "NUL in a cell",
		in:   "a,b\n1,\x00\n3,4\n",
		want: lines("1: a|b",
			`error: t.csv:2:2: found a NUL character, wanted utf-8 text (a column map can say another encoding, such as "windows-1252")`,
			"3: 3|4"),
	},
	{
		name: "empty file",
		want: lines(`error: t.csv:1: found the end of the table, wanted the header, a row of column names (if it stands in another row, a column map can say which)`),
	},
	{
		name: "blank first line",
		in:   "\na,b\n",
		want: lines(`error: t.csv:1: found an empty row, wanted the header, a row of column names (if it stands in another row, a column map can say which)`),
	},
	{
		name: "empty header",
		in:   ",, \n1,2,3\n",
		want: lines(`error: t.csv:1: found an empty row, wanted the header, a row of column names (if it stands in another row, a column map can say which)`),
	},
	{
		name:   "header beyond the end",
		in:     "a,b\n1,2\n",
		layout: Layout{HeaderRow: 9},
		want:   lines(`error: t.csv:9: found the end of the table, wanted the header, a row of column names (if it stands in another row, a column map can say which)`),
	},
	{
		name: "semicolons for commas",
		in:   "\"time\";\"net\"\n1;2\n",
		want: lines(`error: t.csv:1: found the single column "\"time\";\"net\"", wanted columns with ',' between them (the file looks semicolon-separated: a column map can say delimiter = ";")`),
	},
	{
		name: "tabs for commas",
		in:   "time\tnet\r\n1\t2\r\n",
		want: lines(`error: t.csv:1: found the single column "time\tnet", wanted columns with ',' between them (the file looks tab-separated: a column map can say delimiter = "\t")`),
	},
	{
		name:   "commas for semicolons",
		in:     "time,net\n1,2\n",
		layout: Layout{Delimiter: ';'},
		want:   lines(`error: t.csv:1: found the single column "time,net", wanted columns with ';' between them (the file looks comma-separated: a column map can say delimiter = ",")`),
	},
	{
		name: "carriage returns for line ends",
		in:   "a,b\r1,2\r3,4\r",
		want: lines(`error: t.csv:1: found a carriage return within the header, wanted lines that end in LF or CRLF`),
	},
	{
		name: "workbook",
		in:   "PK\x03\x04 and so on",
		want: lines(`error: t.csv: found an .xlsx workbook or another zip archive, wanted CSV text, as this name promises`),
	},
	{
		name: "OpenDocument",
		in:   "PK\x03\x04....................................mimetypeapplication/vnd.oasis.opendocument.spreadsheet",
		want: lines(`error: t.csv: found an OpenDocument file (.ods), wanted CSV text, as this name promises`),
	},
	{
		name: "old workbook",
		in:   "\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1 and so on",
		want: lines(`error: t.csv: found an old .xls workbook or a password-protected one, wanted CSV text, as this name promises`),
	},
	{
		name:   "bad delimiter",
		layout: Layout{Delimiter: '"'},
		want:   lines(`error: t.csv: delimiter '"': want one character other than a quote or a line end`),
	},
	{
		name:   "bad header row",
		layout: Layout{HeaderRow: -1},
		want:   lines(`error: t.csv: header row -1: want 1 or more`),
	},
	{
		name:   "unknown encoding",
		layout: Layout{Encoding: "latin-9"},
		want:   lines(`error: t.csv: encoding "latin-9": want utf-8, utf-16, utf-16le, utf-16be or windows-1252`),
	},
}

func TestCSV(t *testing.T) {
	for _, tt := range csvTests {
		t.Run(tt.name, func(t *testing.T) {
			r, err := OpenCSV("t.csv", strings.NewReader(tt.in), tt.layout)
			if diff := cmp.Diff(tt.want, dump(t, r, err)); diff != "" {
				t.Errorf("(-want +got)\n%s", diff)
			}
			r, err = OpenCSV("t.csv", iotest.OneByteReader(strings.NewReader(tt.in)), tt.layout)
			if diff := cmp.Diff(tt.want, dump(t, r, err)); diff != "" {
				t.Errorf("a byte at a time (-want +got)\n%s", diff)
			}
		})
	}
}

func TestCSVLongRow(t *testing.T) {
	limits := DefaultLimits()
	limits.RowBytes = 1000
	const buffers = 4 * csvBufferBytes
	for _, tt := range []struct{ name, in, want string }{
		{
			name: "open quote",
			in:   "a,b\n1,2\n3,\"" + strings.Repeat("x\n", buffers),
			want: lines("1: a|b", "2: 1|2", `error: t.csv:3: found a row that does not end, wanted rows of at most 1000 bytes (a quote may be missing); the rest of the file was not read`),
		},
		{
			name: "no line end",
			in:   "a,b\n" + strings.Repeat("x", buffers),
			want: lines("1: a|b", `error: t.csv:2: found a row that does not end, wanted rows of at most 1000 bytes (a quote may be missing); the rest of the file was not read`),
		},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r, err := limits.OpenCSV("t.csv", strings.NewReader(tt.in), Layout{})
			if diff := cmp.Diff(tt.want, dump(t, r, err)); diff != "" {
				t.Errorf("(-want +got)\n%s", diff)
			}
		})
	}

	skipped := strings.Repeat("x", buffers) + "\na,b\n"
	_, err := limits.OpenCSV("t.csv", strings.NewReader(skipped), Layout{HeaderRow: 2})
	var bad *Error
	if !errors.As(err, &bad) || bad.Row != 1 {
		t.Errorf("long row above the header: error %v, want one at row 1", err)
	}
}

func TestCSVReadError(t *testing.T) {
	broken := errors.New("disk on fire")
	for _, read := range []string{"", "a,b\n", "a,b\n1,2\n3,"} {
		in := io.MultiReader(strings.NewReader(read), iotest.ErrReader(broken))
		r, err := OpenCSV("t.csv", in, Layout{})
		for err == nil {
			_, err = r.Next()
		}
		if !errors.Is(err, broken) {
			t.Errorf("after %q: error %v, want %v", read, err, broken)
		}
		if bad := (*Error)(nil); errors.As(err, &bad) {
			t.Errorf("after %q: error %v is about the file's content", read, err)
		}
	}
}

// TestCSVRowsStay checks the promise of Row: strings outlive the next call.
func TestCSVRowsStay(t *testing.T) {
	r, err := OpenCSV("t.csv", strings.NewReader("a,b\n1,2\n3,4\n"), Layout{})
	if err != nil {
		t.Fatal(err)
	}
	row, err := r.Next()
	if err != nil {
		t.Fatal(err)
	}
	first := append([]string(nil), row.Cells...)
	if _, err := r.Next(); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"1", "2"}, first); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

// TestCSVRoundTrip writes random tables by encoding/csv and reads them.
func TestCSVRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.IntRange(1, 5).Draw(t, "width")
		// A NUL is no text, and encoding/csv itself makes CR LF of LF in cells.
		cell := rapid.StringMatching(`[ -~\n\t,"é€😀]{0,8}`)
		row := rapid.SliceOfN(cell, width, width)
		rows := rapid.SliceOf(row).Draw(t, "rows")
		header := make([]string, width)
		for i := range header {
			header[i] = string(rune('a' + i))
		}
		delimiter := rapid.SampledFrom([]rune{',', ';', '\t', '|'}).Draw(t, "delimiter")

		var file strings.Builder
		w := csv.NewWriter(&file)
		w.Comma = delimiter
		w.UseCRLF = rapid.Bool().Draw(t, "CRLF")
		if err := w.WriteAll(append([][]string{header}, rows...)); err != nil {
			t.Fatal(err)
		}

		var want [][]string
		for _, r := range rows {
			if !allEmpty(r) {
				want = append(want, r)
			}
		}
		var got [][]string
		r, err := OpenCSV("t.csv", strings.NewReader(file.String()), Layout{Delimiter: delimiter})
		if err != nil {
			t.Fatal(err)
		}
		for {
			row, err := r.Next()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			got = append(got, append([]string(nil), row.Cells...))
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%q (-want +got)\n%s", file.String(), diff)
		}
	})
}

// A file's text comes in UTF-8 whatever it was written in.
func TestDecode(t *testing.T) {
	for name, c := range map[string]struct {
		content string
		lay     Layout
	}{
		"utf-8 with its mark":    {"\uFEFFKörnung\r\n", Layout{}},
		"utf-16 with its mark":   {"\xFF\xFEK\x00\xF6\x00r\x00n\x00u\x00n\x00g\x00\r\x00\n\x00", Layout{}},
		"windows-1252 by layout": {"K\xF6rnung\r\n", Layout{Encoding: "windows-1252"}},
	} {
		r, err := Decode("a.csv", strings.NewReader(c.content), c.lay)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := io.ReadAll(r); err != nil || string(got) != "Körnung\r\n" {
			t.Errorf("%s: %q, %v", name, got, err)
		}
	}
	if _, err := Decode("a.csv", strings.NewReader("PK\x03\x04"), Layout{}); err == nil {
		t.Error("a workbook was decoded")
	}
}
