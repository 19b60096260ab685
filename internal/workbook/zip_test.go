package workbook

import (
	"archive/zip"
	"bytes"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
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
