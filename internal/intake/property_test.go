package intake_test

import (
	"bytes"
	"encoding/csv"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"repose/internal/intake"
	"repose/ledger"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
)

// column is one column of a written table: its header and a cell for each row.
type column struct {
	header string
	cells  []string
}

// write returns the columns in a random order as CSV.
func write(r *rapid.T, columns []column) string {
	columns = rapid.Permutation(columns).Draw(r, "order")
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	row := make([]string, len(columns))
	for i := -1; i < len(columns[0].cells); i++ {
		for j, c := range columns {
			if i < 0 {
				row[j] = anyCase(r, c.header)
			} else {
				row[j] = rapid.SampledFrom([]string{"", " "}).Draw(r, "pad") + c.cells[i]
			}
		}
		if err := w.Write(row); err != nil {
			r.Fatal(err)
		}
	}
	w.Flush()
	return b.String()
}

// anyCase writes a header in another case and with other blanks, which do not matter.
func anyCase(r *rapid.T, s string) string {
	switch rapid.IntRange(0, 3).Draw(r, "spelling") {
	case 0:
		return strings.ToUpper(s)
	case 1:
		return "  " + strings.ReplaceAll(s, " ", "  ") + " "
	case 2:
		return strings.ReplaceAll(s, " [", "[")
	}
	return s
}

// place is the number of decimal places from a metric unit of mass to the gram.
var places = map[string]int32{"t": 6, "kg": 3, "g": 0}

var london = mustZone("Europe/London")

func mustZone(name string) *time.Location {
	zone, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return zone
}

// clockTime writes an instant in one of the ways that a cell may have it.
func clockTime(r *rapid.T, at time.Time) string {
	layouts := []string{time.RFC3339, "2006-01-02 15:04:05Z07:00", "2006-01-02T15:04:05.000-0700"}
	local := at.In(london)
	if local.Month() != time.October || local.Day() < 25 { // else the clock may show it twice
		layouts = append(layouts, time.DateTime, "2006-01-02T15:04:05")
		if local.Second() == 0 {
			layouts = append(layouts, "2006-01-02 15:04")
		}
	}
	return local.Format(rapid.SampledFrom(layouts).Draw(r, "layout"))
}

func drawTime(r *rapid.T) time.Time {
	return time.Unix(rapid.Int64Range(1_767_225_600, 1_798_761_600).Draw(r, "unix")/30*30, 0).UTC() // in 2026
}

// Valid loads give the same records in whatever unit, order and spelling they are written.
func TestLoadsReadAsWritten(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(1, 8).Draw(r, "rows")
		unit := rapid.SampledFrom([]string{"t", "kg", "g"}).Draw(r, "unit")
		want := make([]ledger.Load, n)
		texts := make([][]string, n)
		for i := range want {
			l := ledger.Load{At: drawTime(r), Loader: "L" + strconv.Itoa(rapid.IntRange(1, 3).Draw(r, "loader")),
				Ticket: strconv.Itoa(i) + rapid.SampledFrom([]string{"", "/a", " b"}).Draw(r, "ticket"),
				Pile:   rapid.SampledFrom([]string{"", "A", "B", "Z"}).Draw(r, "pile"),
				Truck:  rapid.StringMatching(`([A-Z0-9é"',;]{1,6})?`).Draw(r, "truck"),
				Passes: rapid.IntRange(0, 9).Draw(r, "passes"), Net: ledger.Mass(rapid.Int64Range(0, 99_999_999).Draw(r, "net")),
				Purpose: rapid.SampledFrom([]ledger.Purpose{ledger.PurposeSale, ledger.PurposeInternal, ledger.PurposeFree}).Draw(r, "purpose"),
				Void:    rapid.Bool().Draw(r, "void")}
			status := "kept"
			if l.Void {
				status = "VOID"
			}
			want[i] = l
			texts[i] = []string{clockTime(r, l.At), l.Loader, l.Ticket, l.Pile, l.Truck, strconv.Itoa(l.Passes),
				decimal.New(int64(l.Net), -places[unit]).String(), l.Purpose.String(), status}
		}
		headers := []string{"time", "loader", "ticket", "pile", "truck", "passes", "net [" + unit + "]", "purpose", "status"}
		columns := make([]column, len(headers))
		for j, h := range headers {
			columns[j].header = h
			for i := range texts {
				columns[j].cells = append(columns[j].cells, texts[i][j])
			}
		}
		m := withRegister(t)
		before := len(m.records)
		content := write(r, columns)
		rep, err := m.take(t, nil, file("loads.csv", content))
		if err != nil {
			r.Fatalf("%s\n%v", content, err)
		}
		var got []ledger.Load
		for _, rec := range m.records[before:] {
			got = append(got, rec.Fact.(ledger.Load))
		}
		if diff := cmp.Diff(want, got); diff != "" || rep.Tables[0].New != n {
			r.Fatalf("%s\n%s", content, diff)
		}
	})
}

// Moistures on wet and on dry basis are the same tests.
func TestMoisturesReadOnEitherBasis(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		wet, err := ledger.NewWetBasis(decimal.New(rapid.Int64Range(0, 4000).Draw(r, "hundredths of a per cent"), -2))
		if err != nil {
			r.Fatal(err)
		}
		dry, err := wet.ToDry()
		if err != nil {
			r.Fatal(err)
		}
		at := clockTime(r, drawTime(r))
		a := one(t, withRegister(t), nil, file("moistures.csv", write(r, []column{{"pile", []string{"A"}}, {"taken", []string{at}}, {"moisture [% wet]", []string{wet.Percent().String()}}})))
		b := one(t, withRegister(t), nil, file("moistures.csv", write(r, []column{{"pile", []string{"A"}}, {"taken", []string{at}}, {"moisture [% dry]", []string{dry.Percent().String()}}})))
		if diff := cmp.Diff(string(a.AppendBody(nil)), string(b.AppendBody(nil))); diff != "" {
			r.Fatal(diff)
		}
	})
}

// shuffled returns a CSV file with its rows below the header in another order.
func shuffled(random *rand.Rand, content []byte, header int) []byte {
	lines := bytes.SplitAfter(content, []byte("\n"))
	rows := lines[header : len(lines)-1] // what follows the last line end is empty
	random.Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
	return bytes.Join(lines, nil)
}

// The invented yard's book is the same whatever the order of its files and of the rows in them.
func TestOrderPlaysNoPart(t *testing.T) {
	sources, maps, _ := demo(t)
	m := newMemory()
	m.mustTake(t, maps, sources...)
	want := m.bodies()
	for seed := range uint64(2) {
		random := rand.New(rand.NewPCG(seed, 7))
		mixed := slices.Clone(sources)
		for i, s := range mixed {
			if !strings.HasSuffix(s.Path, ".csv") {
				continue
			}
			c, err := s.Open()
			if err != nil {
				t.Fatal(err)
			}
			content := make([]byte, c.Size())
			if _, err := c.ReadAt(content, 0); err != nil {
				t.Fatal(err)
			}
			header := 1
			if strings.Contains(s.Path, "Wiege") {
				header = 3
			}
			mixed[i] = intake.InMemory(s.Path, shuffled(random, content, header))
		}
		random.Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
		m := newMemory()
		m.mustTake(t, maps, mixed...)
		if diff := cmp.Diff(want, m.bodies()); diff != "" {
			t.Fatalf("seed %d: %s", seed, diff)
		}
	}
}

// Whatever a file holds, it is taken in or refused with its place, and every row is accounted for.
func FuzzLoadsFile(f *testing.F) {
	f.Add(loadsHeader + "2026-08-03 09:00,L1,1,A,20,,\n2026-08-03 09:10,L1,1,A,21,,\n")
	f.Add("time,loader,ticket,pile,net [short ton],tag x\n2026-10-25 01:50,L1,1,A,20,a\n2026-10-25 01:10,L1,2,A,20,b\n")
	f.Add("Net [ kg ],TIME,loader,ticket,pile,passes\n\"1\n\",2026-10-25T01:50Z,L1,1,,3\n")
	f.Add("time,time,[t],net [t,tag ,tag\n")
	f.Fuzz(func(t *testing.T, content string) {
		m := withRegister(t)
		before := len(m.records)
		rep, err := m.take(t, nil, file("loads.csv", content))
		if err != nil {
			if bad := firstError(err); bad == nil || bad.File != "loads.csv" || bad.Found == "" || bad.Wanted == "" {
				t.Fatalf("got %v, want a place, what was found and what was wanted", err)
			}
			return
		}
		r := rep.Tables[0]
		if r.Rows != r.New+r.Held+len(r.Conflicts) || r.Rejected != 0 {
			t.Fatalf("report %+v: want every row accounted for", r)
		}
		for _, rec := range m.records[before:] {
			var again ledger.Record
			if err := again.SetBody(rec.Fact.Kind(), rec.AppendBody(nil)); err != nil {
				t.Fatalf("record %s cannot be read back: %v", rec.ID(), err)
			}
		}
	})
}
