package workbook

import (
	"archive/zip"
	"bytes"
	"errors"
	"hash/crc32"
	"io"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// archived writes parts in the given order.
func archived(t *testing.T, names ...string) []byte {
	t.Helper()
	a := newArchive()
	for _, name := range names {
		w, err := a.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		content := strings.Repeat(name+"\n", 1000)
		if name == contentTypesPart {
			content = `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">` +
				`<Override PartName="/b" ContentType="y"/><Default Extension="xml" ContentType="t"/><Override PartName="/a" ContentType="x"/><Default Extension="rels" ContentType="r"/></Types>`
		}
		if _, err := io.WriteString(w, content); err != nil {
			t.Fatal(err)
		}
	}
	var out bytes.Buffer
	n, err := a.WriteTo(&out)
	if err != nil || n != int64(out.Len()) {
		t.Fatalf("wrote %d of %d bytes, %v", n, out.Len(), err)
	}
	return out.Bytes()
}

func TestArchiveOrder(t *testing.T) {
	one := archived(t, "xl/b.xml", contentTypesPart, "xl/a.xml", "_rels/.rels")
	two := archived(t, "_rels/.rels", "xl/a.xml", "xl/b.xml", contentTypesPart)
	if !bytes.Equal(one, two) {
		t.Error("the order in which parts come changes the file")
	}
	zr, err := zip.NewReader(bytes.NewReader(one), int64(len(one)))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range zr.File {
		names = append(names, f.Name)
		if !f.Modified.Equal(zr.File[0].Modified) || f.Modified.Year() > 1980 || len(f.Extra) > 0 {
			t.Errorf("%s is of %s", f.Name, f.Modified)
		}
	}
	if want := []string{contentTypesPart, "_rels/.rels", "xl/a.xml", "xl/b.xml"}; !slices.Equal(names, want) {
		t.Errorf("parts %q, want %q", names, want)
	}
}

func TestArchiveContent(t *testing.T) {
	p := unzip(t, archived(t, "xl/b.xml", contentTypesPart, "xl/a.xml"))
	if want := strings.Repeat("xl/a.xml\n", 1000); string(p["xl/a.xml"]) != want {
		t.Error("a part is not what was written")
	}
	var types contentTypes
	p.decode(t, contentTypesPart, &types)
	want := contentTypes{XMLName: types.XMLName,
		Defaults: []defaultType{{"rels", "r"}, {"xml", "t"}}, Parts: []partType{{"/a", "x"}, {"/b", "y"}}}
	if diff := cmp.Diff(want, types); diff != "" {
		t.Error(diff)
	}
}

// A part above the limit must not end as a file that readers refuse.
func TestArchiveRefusesHugePart(t *testing.T) {
	a := newArchive()
	a.maxPart = 10
	w, err := a.Create("xl/a.xml")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Write(make([]byte, 10)); err != nil {
		t.Fatalf("at the limit: %v", err)
	}
	if _, err := w.Write(make([]byte, 1)); !errors.Is(err, errPartSize) {
		t.Fatalf("above the limit: %v", err)
	}
	if _, err := a.WriteTo(io.Discard); !errors.Is(err, errPartSize) {
		t.Errorf("and then: %v", err)
	}
}

// Rows go in at the end of a sheet's rows, and the archive holds up to being read.
func TestArchiveSetsRowsIn(t *testing.T) {
	const name = "xl/worksheets/sheet1.xml"
	for title, test := range map[string]struct {
		parts map[string]string
		limit uint64
		want  string // the sheet, or what the error has in it
		fails bool
	}{
		"set in":     {map[string]string{name: "<a><sheetData><row/></sheetData><b/></a>"}, partLimit, "<a><sheetData><row/>" + strings.Repeat("<row>1</row>", 100_000) + "</sheetData><b/></a>", false},
		"no end":     {map[string]string{name: "<a/>"}, partLimit, "has no </sheetData>", true},
		"no sheet":   {map[string]string{"xl/worksheets/sheet2.xml": "<a/>"}, partLimit, "left over", true},
		"too large":  {map[string]string{name: "<sheetData></sheetData>"}, 1_200_000, "4 GiB", true},
		"just right": {map[string]string{name: "<sheetData></sheetData>"}, 1_200_023, "<sheetData>" + strings.Repeat("<row>1</row>", 100_000) + "</sheetData>", false},
	} {
		t.Run(title, func(t *testing.T) {
			rows, p := new(packedRows), newPacker()
			for range 100_000 {
				if p.block.raw = append(p.block.raw, "<row>1</row>"...); len(p.block.raw) > 100_000 {
					if err := p.flush(rows); err != nil {
						t.Fatal(err)
					}
				}
			}
			if err := errors.Join(p.flush(rows), p.close()); err != nil {
				t.Fatal(err)
			}
			a := newArchive()
			a.maxPart, a.rows = test.limit, map[string]*packedRows{name: rows}
			for part, content := range test.parts {
				w, err := a.Create(part)
				if err != nil {
					t.Fatal(err)
				}
				for _, c := range []byte(content) { // however it comes
					if _, err := w.Write([]byte{c}); err != nil {
						t.Fatal(err)
					}
				}
			}
			var out bytes.Buffer
			_, err := a.WriteTo(&out)
			if test.fails {
				if err == nil || !strings.Contains(err.Error(), test.want) {
					t.Errorf("err = %v, want one with %q", err, test.want)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if got := string(unzip(t, out.Bytes())[name]); got != test.want {
				t.Errorf("the sheet has %d bytes, want %d", len(got), len(test.want))
			}
		})
	}
}

func TestJoinCRC(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		a, b := rapid.SliceOf(rapid.Byte()).Draw(rt, "a"), rapid.SliceOf(rapid.Byte()).Draw(rt, "b")
		b = bytes.Repeat(b, rapid.IntRange(0, 2000).Draw(rt, "times"))
		got := joinCRC(crc32.ChecksumIEEE(a), crc32.ChecksumIEEE(b), uint64(len(b)))
		if want := crc32.ChecksumIEEE(append(a, b...)); got != want {
			rt.Fatalf("%08x, want %08x", got, want)
		}
	})
}

func TestArchiveRefusesBadTypes(t *testing.T) {
	a := newArchive()
	w, err := a.Create(contentTypesPart)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.WriteString(w, "<Types"); err != nil {
		t.Fatal(err)
	}
	if _, err := a.WriteTo(io.Discard); err == nil {
		t.Error("unreadable content types were written")
	}
}
