package audit

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"repose/ledger"
)

// history turns moves, out of the pile if negative, into points a day apart that start at an opening book.
func history(t testing.TB, opening float64, moves ...float64) []Point {
	book := tons(opening)
	points := make([]Point, len(moves))
	for i, m := range moves {
		book += tons(m)
		points[i] = Point{Record: fmt.Sprint("r", i), At: at(t, "2026-10-01 12:00").AddDate(0, 0, i), In: max(tons(m), 0), Out: max(-tons(m), 0), Book: book}
	}
	return points
}

func percent(s string) *decimal.Decimal { return new(decimal.RequireFromString(s)) }

func TestDepletions(t *testing.T) {
	day := func(i int) time.Time { return at(t, "2026-10-01 12:00").AddDate(0, 0, i) }
	with := func(points []Point, i int, f Found) []Point { points[i].Found = f; return points }
	for _, c := range []struct {
		name   string
		points []Point
		want   []Depletion
	}{
		{"no points", nil, nil},
		{"never empty", history(t, 0, 1000, -979), nil},
		{"just low enough", history(t, 0, 1000, -980), []Depletion{{"r1", day(1), EvidenceBook, tons(20), 0, tons(1000), tons(980), day(0), percent("2")}}},
		{"yet to begin", history(t, 0, 0, 20, 500), nil},
		// 1,000 t came, 988 t went, and nothing is left: 12 t, 1.2 % of the throughput, are missing
		{"a survey finds nothing", with(history(t, 0, 1000, -988, 0), 2, FoundNothing),
			[]Depletion{{"r2", day(2), EvidenceSurvey, tons(12), 0, tons(1000), tons(988), day(0), percent("1.2")}}},
		{"a survey finds nothing where the book has plenty", with(history(t, 0, 1000, -900, 0, 500), 2, FoundNothing),
			[]Depletion{{"r2", day(2), EvidenceSurvey, tons(100), 0, tons(1000), tons(900), day(0), percent("10")}}},
		{"more came out than was booked", history(t, 500, 100, -400, -190, -17.5, 300),
			[]Depletion{{"r3", day(3), EvidenceBook, -tons(7.5), 0, tons(100), tons(607.5), day(0), percent("-1.2346")}}},
		{"the lowest point of a stretch", history(t, 0, 800, -785, -9, 3, -3, 2, 900),
			[]Depletion{{"r4", day(4), EvidenceBook, tons(6), 0, tons(803), tons(797), day(0), percent("0.7472")}}},
		// the book keeps its 12 t; of the 20 t of the second time, 8 t are new
		{"twice, the book stood", with(with(history(t, 0, 1000, -988, 0, 600, -592, 0), 2, FoundNothing), 5, FoundNothing),
			[]Depletion{{"r2", day(2), EvidenceSurvey, tons(12), 0, tons(1000), tons(988), day(0), percent("1.2")},
				{"r5", day(5), EvidenceSurvey, tons(20), tons(12), tons(600), tons(592), day(2), percent("1.3333")}}},
		{"found empty again, the book taken over", func() []Point {
			p := with(with(history(t, 0, 1000, -988, 0, 0), 2, FoundNothingTaken), 3, FoundNothingTaken)
			p[3].Book = 0
			return p
		}(), []Depletion{{"r2", day(2), EvidenceSurvey, tons(12), 0, tons(1000), tons(988), day(0), percent("1.2")}}},
		{"a survey counts for more than the book", with(history(t, 0, 1000, -990, 4, 900), 2, FoundNothing),
			[]Depletion{{"r2", day(2), EvidenceSurvey, tons(14), 0, tons(1004), tons(990), day(0), percent("1.3944")}}},
	} {
		got, err := Depletions(c.points, tons(20))
		if err != nil {
			t.Fatal(err)
		}
		same(t, c.name, c.want, got, cmp.Comparer(func(a, b decimal.Decimal) bool { return a.Equal(b) }))
	}
}

// A book that took the survey over carries nothing on.
func TestDepletionAfterTaking(t *testing.T) {
	points := history(t, 0, 1000, -988, 0, 600, -592, 0)
	points[2].Found, points[5].Found = FoundNothingTaken, FoundNothing
	for i := 3; i < len(points); i++ {
		points[i].Book -= tons(12)
	}
	got, err := Depletions(points, 0)
	if err != nil || len(got) != 2 {
		t.Fatalf("%v, %v: want two", got, err)
	}
	same(t, "second time", []ledger.Mass{tons(8), 0}, []ledger.Mass{got[1].Leftover, got[1].Carried})
}

// A pile whose every record is true and that is loaded to nothing leaves nothing; one whose belt reads too much leaves
// as much as it read too much.
func TestDepletionOfKnownBelt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		when := time.Date(2026, 10, 1, 6, 0, 0, 0, time.UTC)
		var points []Point
		var there, book, over ledger.Mass
		add := func(p Point) {
			when = when.Add(time.Hour)
			p.At = when
			points = append(points, p)
		}
		var want []ledger.Mass
		for range rapid.IntRange(1, 4).Draw(t, "times") {
			for range rapid.IntRange(1, 5).Draw(t, "shifts") {
				real := ledger.Mass(rapid.Int64Range(1e6, 1e9).Draw(t, "made"))
				read := real + real*ledger.Mass(rapid.Int64Range(-20, 20).Draw(t, "per mille"))/1000
				there, book, over = there+real, book+read, over+read-real
				add(Point{In: read, Book: book})
			}
			for there > 0 {
				load := min(there, ledger.Mass(rapid.Int64Range(1e8, 1e9).Draw(t, "load")))
				there, book = there-load, book-load
				add(Point{Out: load, Book: book})
			}
			add(Point{Book: book, Found: FoundNothing})
			want = append(want, over)
		}
		got, err := Depletions(points, -ledger.MaxMass) // surveys alone
		if err != nil || len(got) != len(want) {
			t.Fatalf("%d times, %v, want %d", len(got), err, len(want))
		}
		for i, d := range got {
			if d.Leftover != want[i] || d.Leftover != d.Carried+d.In-d.Out {
				t.Fatalf("%+v: want a leftover of %v, and carried + in - out", d, want[i])
			}
		}
	})
}
