package table

import (
	"encoding/binary"
	"strings"
	"testing"
	"testing/iotest"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// toUTF16 returns s in UTF-16.
func toUTF16(s string, order binary.AppendByteOrder) string {
	var b []byte
	for _, u := range utf16.Encode([]rune(s)) {
		b = order.AppendUint16(b, u)
	}
	return string(b)
}

func TestCSVEncodings(t *testing.T) {
	const text = "pile,note\nnorth,caf\u00e9 \u20ac \U0001F600\n"
	good := lines("1: pile|note", "2: north|caf\u00e9 \u20ac \U0001F600")
	le, be := binary.LittleEndian, binary.BigEndian
	for _, tt := range []struct{ name, in, encoding, want string }{
		{"utf-8 with mark", "\ufeff" + text, "", good},
		{"utf-8 with mark, stated", "\ufeff" + text, "UTF-8", good},
		{"utf-16le with mark", toUTF16("\ufeff"+text, le), "", good},
		{"utf-16be with mark", toUTF16("\ufeff"+text, be), "", good},
		{"utf-16 with mark, stated", toUTF16("\ufeff"+text, be), "utf-16", good},
		{"utf-16le with mark, stated", toUTF16("\ufeff"+text, le), "utf-16le", good},
		{"utf-16le stated", toUTF16(text, le), "utf-16le", good},
		{"utf-16be stated", toUTF16(text, be), "utf-16be", good},
		{"windows-1252", "pile,note\nnorth,caf\xe9 \x80 \x99\n", "windows-1252", lines("1: pile|note", "2: north|caf\u00e9 \u20ac \u2122")},
		{
			"windows-1252, undefined byte", "pile,note\nnorth,a\x81b\n", "windows-1252",
			lines("1: pile|note", "error: t.csv:2:2: found the byte 0x81, which stands for no character in windows-1252, wanted windows-1252 text"),
		},
		{
			"utf-16 without mark", toUTF16(text, le), "utf-16",
			lines(`error: t.csv: found no UTF-16 byte-order mark, wanted one, or an encoding that says the order of bytes: "utf-16le" or "utf-16be"`),
		},
		{
			"utf-16 without mark, unstated", toUTF16(text, le), "",
			lines(`error: t.csv:1: found a NUL byte, wanted text (if the file is UTF-16 without a byte-order mark, a column map can say encoding = "utf-16le" or "utf-16be")`),
		},
		{
			"mark against the layout", toUTF16("\ufeff"+text, le), "utf-8",
			lines("error: t.csv: found the byte-order mark of utf-16le, wanted utf-8, as the layout says"),
		},
		{
			"mark against windows-1252", "\ufeff" + text, "windows-1252",
			lines("error: t.csv: found the byte-order mark of utf-8, wanted windows-1252, as the layout says"),
		},
		{
			"high surrogate alone", toUTF16("a,b\n1,x", le) + "\x3d\xd8" + toUTF16("y\n2,3\n", le), "utf-16le",
			lines("1: a|b", "error: t.csv:2:2: found half a UTF-16 character, wanted utf-16le text", "3: 2|3"),
		},
		{
			"low surrogate alone", toUTF16("a,b\n1,x", le) + "\x00\xde" + toUTF16("y\n2,3\n", le), "utf-16le",
			lines("1: a|b", "error: t.csv:2:2: found half a UTF-16 character, wanted utf-16le text", "3: 2|3"),
		},
		{
			"surrogate cut by the end", toUTF16("a,b\n1,x", le) + "\x3d\xd8", "utf-16le",
			lines("1: a|b", "error: t.csv:2:2: found half a UTF-16 character, wanted utf-16le text"),
		},
		{
			"odd byte at the end", toUTF16("a,b\n1,2\n3,4", be) + "\x00", "utf-16be",
			lines("1: a|b", "2: 1|2", "error: t.csv:3:2: found half a UTF-16 character, wanted utf-16be text"),
		},
	} {
		t.Run(tt.name, func(t *testing.T) {
			layout := Layout{Encoding: tt.encoding}
			r, err := OpenCSV("t.csv", strings.NewReader(tt.in), layout)
			if diff := cmp.Diff(tt.want, dump(t, r, err)); diff != "" {
				t.Errorf("(-want +got)\n%s", diff)
			}
			r, err = OpenCSV("t.csv", iotest.HalfReader(strings.NewReader(tt.in)), layout)
			if diff := cmp.Diff(tt.want, dump(t, r, err)); diff != "" {
				t.Errorf("in halves (-want +got)\n%s", diff)
			}
		})
	}
}

// TestTextReader compares what a textReader suspects, fed in random pieces,
// with what utf8.Valid says of the whole.
func TestTextReader(t *testing.T) {
	piece := rapid.SampledFrom([]string{"a", "\n", "é", "€", "😀", "\x00", "\xff", "\xe2\x82", "\xf0\x9f", "\x80", "\xed\xa0\x80"})
	rapid.Check(t, func(t *rapid.T) {
		in := strings.Join(rapid.SliceOf(piece).Draw(t, "pieces"), "")
		r := &textReader{src: strings.NewReader(in), max: len(in) + 1}
		var err error
		for err == nil {
			_, err = r.Read(make([]byte, rapid.IntRange(1, 5).Draw(t, "bytes")))
		}
		want := !utf8.ValidString(in) || strings.Contains(in, "\x00")
		if r.suspect != want {
			t.Errorf("suspect = %v for %q, want %v", r.suspect, in, want)
		}
	})
}
