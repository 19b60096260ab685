package intake_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"slices"
	"testing"

	"repose/internal/intake"
	"repose/internal/table"
	"repose/ledger"
)

// memory is a book in memory. Its records of one key are revisions, as in the real one.
type memory struct {
	files   map[string]bool
	maps    map[string]string // map's hash by file's hash
	records []ledger.Record
	byKey   map[string][]int // indexes of records by kind, yard and key
}

func newMemory() *memory {
	return &memory{files: map[string]bool{}, maps: map[string]string{}, byKey: map[string][]int{}}
}

func (m *memory) AddFile(_ string, r io.Reader, mapSHA string) (sha string, isNew bool, err error) {
	h := sha256.New()
	if _, err := io.Copy(h, r); err != nil {
		return "", false, err
	}
	sha = hex.EncodeToString(h.Sum(nil))
	isNew = !m.files[sha]
	m.files[sha] = true
	m.maps[sha] = mapSHA
	return sha, isNew, nil
}

func (m *memory) Append(rec *ledger.Record) (intake.Outcome, *ledger.Record, error) {
	if !m.files[rec.Source.File] {
		return 0, nil, errors.New("record of a file that was not added")
	}
	first := *rec
	first.Revision = 0
	key := first.ID()
	body := rec.AppendBody(nil)
	revisions := m.byKey[key]
	for _, i := range revisions {
		if bytes.Equal(m.records[i].AppendBody(nil), body) {
			return intake.Held, &m.records[i], nil
		}
	}
	if len(revisions) > 0 && rec.Replaces != rec.Fact.Key() {
		return intake.Conflicting, &m.records[revisions[len(revisions)-1]], nil
	}
	rec.Seq, rec.Revision = int64(len(m.records)), len(revisions)
	m.byKey[key] = append(revisions, len(m.records))
	m.records = append(m.records, *rec)
	return intake.New, nil, nil
}

// bodies returns ID and body of every record but the conflicts' sources, sorted: the book's content
// whatever the order it came in.
func (m *memory) bodies() []string {
	var list []string
	for i := range m.records {
		r := &m.records[i]
		list = append(list, r.ID()+" "+string(r.AppendBody(nil)))
	}
	slices.Sort(list)
	return list
}

// known returns what rows may refer to.
func (m *memory) known() intake.Known {
	var k intake.Known
	for _, r := range m.records {
		switch f := r.Fact.(type) {
		case ledger.Yard:
			k.Yards = append(k.Yards, f)
		case ledger.Product:
			k.Products = append(k.Products, f.Code)
		case ledger.Pile:
			k.Piles = append(k.Piles, ledger.PileID{Yard: r.Yard, Code: f.Code})
		}
	}
	return k
}

// take takes sources into the book. Bad rows come back as an error, everything else ends the test.
func (m *memory) take(t testing.TB, maps []*intake.Map, sources ...intake.Source) (intake.Report, error) {
	t.Helper()
	files, err := intake.Assign(sources, maps)
	if err != nil {
		return intake.Report{}, onlyRowErrors(t, err)
	}
	rep, err := intake.Run(context.Background(), files, m.known(), m, nil)
	return rep, onlyRowErrors(t, err)
}

func onlyRowErrors(t testing.TB, err error) error {
	t.Helper()
	var rows *intake.RowErrors
	if err != nil && !errors.As(err, &rows) {
		t.Fatal(err)
	}
	return err
}

// mustTake takes sources in and ends the test where anything is wrong with them.
func (m *memory) mustTake(t testing.TB, maps []*intake.Map, sources ...intake.Source) intake.Report {
	t.Helper()
	rep, err := m.take(t, maps, sources...)
	if err != nil {
		t.Fatal(err)
	}
	return rep
}

// file returns a file in memory.
func file(name, content string) intake.Source { return intake.InMemory(name, []byte(content)) }

// readMap reads a column map that must be right.
func readMap(t testing.TB, text string) *intake.Map {
	t.Helper()
	m, err := intake.ReadMap("map.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// The register that most tests need: one yard, two products, three piles.
const (
	yardsCSV    = "yard,name,time zone,unit\nY1,North yard,Europe/London,t\n"
	productsCSV = "product,name,reference moisture [% dry]\n20mm,20 mm single size,3.0\nMOT,type one,5.5\n"
	pilesCSV    = "pile,product\nA,20mm\nB,MOT\nC,20mm\n"
)

// withRegister returns a book that holds that register.
func withRegister(t testing.TB) *memory {
	t.Helper()
	m := newMemory()
	m.mustTake(t, nil, file("yards.csv", yardsCSV), file("products.csv", productsCSV), file("piles.csv", pilesCSV))
	return m
}

// one takes in one file of one row and returns its record.
func one(t testing.TB, m *memory, maps []*intake.Map, source intake.Source) ledger.Record {
	t.Helper()
	before := len(m.records)
	m.mustTake(t, maps, source)
	if len(m.records) != before+1 {
		t.Fatalf("took in %d records, want 1", len(m.records)-before)
	}
	return m.records[before]
}

// firstError returns the first bad row.
func firstError(err error) *table.Error {
	var bad *table.Error
	errors.As(err, &bad)
	return bad
}
