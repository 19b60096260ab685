package table

import (
	"encoding/xml"
	"fmt"
	"hash/maphash"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// newXML returns a reader of doc whose buffer begins with so many bytes.
func newXML(doc string, bufferBytes int) *xmlReader {
	return &xmlReader{
		src:  strings.NewReader(doc),
		at:   Error{File: "yard.xlsx"},
		part: "doc.xml",
		seed: maphash.MakeSeed(),
		buf:  make([]byte, bufferBytes),
		max:  1 << 20,
	}
}

// tokens returns what x yields, with neighbouring runs of text joined.
func tokens(x *xmlReader) ([]string, error) {
	var list []string
	var text []byte
	for {
		tok, err := x.next()
		if err != nil {
			return list, err
		}
		if tok == charData {
			if x.cdata {
				text = appendLines(text, x.data)
			} else if text, err = x.appendData(text, x.data); err != nil {
				return list, err
			}
			continue
		}
		inRoot := tok == endTag || tok == startTag && len(x.open) > 1
		if len(text) > 0 && inRoot {
			list = append(list, "text "+string(text))
		}
		text = text[:0]
		switch tok {
		case startTag:
			s := "start " + string(x.name)
			for _, a := range x.attrs {
				v, err := x.value(a)
				if err != nil {
					return list, err
				}
				s += fmt.Sprintf(" %s=%q", localName(string(a.name)), v)
			}
			list = append(list, s)
		case endTag:
			list = append(list, "end")
		case endOfPart:
			return list, nil
		}
	}
}

// localName returns a name without its prefix.
func localName(name string) string {
	if _, local, ok := strings.Cut(name, ":"); ok {
		return local
	}
	return name
}

// oracleTokens is tokens by encoding/xml.
func oracleTokens(doc string) ([]string, error) {
	d := xml.NewDecoder(strings.NewReader(doc))
	var list []string
	text, depth := "", 0
	for {
		tok, err := d.RawToken()
		if err == io.EOF {
			return list, nil
		}
		if err != nil {
			return nil, err
		}
		switch tok := tok.(type) {
		case xml.CharData:
			text += string(tok)
			continue
		case xml.StartElement, xml.EndElement:
			if text != "" && depth > 0 {
				list = append(list, "text "+text)
			}
			text = ""
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			depth++
			s := "start " + tok.Name.Local
			for _, a := range tok.Attr {
				s += fmt.Sprintf(" %s=%q", a.Name.Local, a.Value)
			}
			list = append(list, s)
		case xml.EndElement:
			depth--
			list = append(list, "end")
		}
	}
}

// drawElement returns a random element.
func drawElement(t *rapid.T, depth int) string {
	name := rapid.SampledFrom([]string{"c", "row", "x:v", "is"}).Draw(t, "name")
	space := rapid.SampledFrom([]string{"", " ", "\n"})
	var b strings.Builder
	b.WriteString("<" + name)
	for i := range rapid.IntRange(0, 3).Draw(t, "attributes") {
		value := rapid.SampledFrom([]string{`"1"`, `"a>b"`, `'"'`, `"&lt;&#x41;"`, `""`, `"/"`, `"é"`}).Draw(t, "value")
		s := space.Draw(t, "space")
		fmt.Fprintf(&b, " %sa%d%s=%s%s", s, i, s, s, value)
	}
	b.WriteString(space.Draw(t, "space"))
	if rapid.Bool().Draw(t, "empty") {
		return b.String() + "/>"
	}
	b.WriteString(">")
	if depth < 4 {
		for range rapid.IntRange(0, 4).Draw(t, "children") {
			switch rapid.IntRange(0, 2).Draw(t, "child") {
			case 0:
				b.WriteString(drawElement(t, depth+1))
			case 1:
				b.WriteString(rapid.SampledFrom([]string{
					"text", "a&amp;b", "\r\n\r", "&#10;é😀", " ", "<![CDATA[<&]]&gt;\r\n]]>", "<![CDATA[]]>", "&quot;&apos;>]",
				}).Draw(t, "text"))
			default:
				b.WriteString(rapid.SampledFrom([]string{"<!-- <c> -->", "<!---->", "<?pi <c>?>"}).Draw(t, "other"))
			}
		}
	}
	return b.String() + "</" + name + space.Draw(t, "space") + ">"
}

// TestXMLOracle reads random documents, and encoding/xml the same.
func TestXMLOracle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		doc := rapid.SampledFrom([]string{"", "\ufeff", "<?xml version=\"1.0\"?>\r\n", "<!-- - -->"}).Draw(t, "prolog") +
			drawElement(t, 0) + rapid.SampledFrom([]string{"", "\n", "<!---->"}).Draw(t, "end")
		want, err := oracleTokens(doc)
		if err != nil {
			t.Fatal(err)
		}
		got, err := tokens(newXML(doc, rapid.IntRange(1, 64).Draw(t, "buffer")))
		if err != nil {
			t.Fatalf("%q: %v", doc, err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%q (-want +got)\n%s", doc, diff)
		}

		cut := doc[:rapid.IntRange(0, len(strings.TrimRight(doc, "\n<!->"))-1).Draw(t, "cut")]
		if got, err := tokens(newXML(cut, 16)); err == nil && len(got) > 0 {
			t.Errorf("no error for %q cut to %q", doc, cut)
		}
	})
}

func TestXMLErrors(t *testing.T) {
	for _, tt := range []struct{ doc, want string }{
		{"<a>", "the end of the XML within an element"},
		{"<a>text", "the end of the XML within an element"},
		{"<a", "the end of the XML within a tag"},
		{"<", "the end of the XML within a tag"},
		{"<a></a", "the end of the XML within a tag"},
		{"<a b='1", "the end of the XML within a tag"},
		{"<a><!-- ", "the end of the XML within <!--..."},
		{"<a><![CDATA[ ]]", "the end of the XML within <![CDATA[..."},
		{"<?xml ", "the end of the XML within <?..."},
		{"<!DOCTYPE a><a/>", "a document type declaration"},
		{"<a><b></a></b>", `the misplaced end tag "a"`},
		{"<a/></a>", `the misplaced end tag "a"`},
		{"<a><x:b></y:b></a>", `the misplaced end tag "y:b"`},
		{"< a/>", "a broken tag"},
		{"<a / >", "a broken tag"},
		{"<a b>", "a broken tag"},
		{"<a b=1>", "a broken tag"},
		{"<a ='1'>", "a broken tag"},
		{"<a b='&#xD800;'>", `a broken value of the attribute "b"`},
		{"<a b='&'>", `a broken value of the attribute "b"`},
		{"<a b='\xff'>", `a broken value of the attribute "b"`},
		{"<a>&lt</a>", "a broken reference such as &amp; in text"},
		{"<a>&#x110000;</a>", "a broken reference such as &amp; in text"},
		{"<a>&unknown;</a>", "a broken reference such as &amp; in text"},
	} {
		for _, bufferBytes := range []int{1, 1 << 10} {
			want := "yard.xlsx: found " + tt.want + " in doc.xml, wanted well-formed XML"
			if _, err := tokens(newXML(tt.doc, bufferBytes)); err == nil || err.Error() != want {
				t.Errorf("%q: error %v, want %s", tt.doc, err, want)
			}
		}
	}
}

func TestXMLBounds(t *testing.T) {
	deep := strings.Repeat("<a>", xmlDepth+1)
	_, err := tokens(newXML(deep, 16))
	if want := "yard.xlsx: found elements nested more than 256 deep in doc.xml, wanted less"; err == nil || err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
	long := "<a>" + strings.Repeat("x", 3<<20) + "</a>"
	_, err = tokens(newXML(long, 16))
	if want := "yard.xlsx: found a tag or text without end in doc.xml, wanted at most 1 MiB of it"; err == nil || err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
}

func TestUnescape(t *testing.T) {
	for _, tt := range []struct{ in, want string }{
		{"", ""},
		{"plain", "plain"},
		{"_x0041_", "A"},
		{"a_x000d_b_x000D_", "a\rb\r"},
		{"_x005F_x0041_", "_x0041_"},
		{"_x20AC_", "€"},
		{"_xD83D__xDE00_", "😀"},
		{"_xD83D_", "_xD83D_"},
		{"_xD83D__x0041_", "_xD83D_A"},
		{"_xDE00__xD83D_", "_xDE00__xD83D_"},
		{"_x0000_", "_x0000_"},
		{"_x004_", "_x004_"},
		{"_x+041_", "_x+041_"},
		{"__x0041__x", "_A_x"},
	} {
		const before = "_x0041_" // stays
		if got := string(unescape([]byte(before+tt.in), len(before))); got != before+tt.want {
			t.Errorf("unescape(%q) = %q, want %q", tt.in, strings.TrimPrefix(got, before), tt.want)
		}
	}
}
