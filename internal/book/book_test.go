package book_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"repose/internal/book"
	"repose/internal/sqlite"
	"repose/ledger"
)

var (
	october  = period("2026-10")
	november = period("2026-11")
	closing  = at("2027-01-10 09:00")
)

func period(s string) ledger.Period {
	p, err := ledger.ParsePeriod(s)
	if err != nil {
		panic(err)
	}
	return p
}

func at(s string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", s)
	if err != nil {
		panic(err)
	}
	return t
}

// open makes an empty book in a file that only this test knows.
func open(t testing.TB) *sqlite.Book {
	t.Helper()
	return openAt(t, filepath.Join(t.TempDir(), "repose.book"))
}

func openAt(t testing.TB, path string) *sqlite.Book {
	t.Helper()
	b, err := sqlite.Open(context.Background(), path, sqlite.Create)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	return b
}

// take takes records in as one batch and returns what became of them.
func take(t testing.TB, b *sqlite.Book, now time.Time, records []ledger.Record) map[sqlite.Outcome]int {
	t.Helper()
	tx, err := b.Begin(context.Background(), "tester", now)
	if err != nil {
		t.Fatal(err)
	}
	outcomes := map[sqlite.Outcome]int{}
	for _, rec := range records {
		outcome, _, err := tx.Append(&rec)
		if err != nil {
			t.Fatal(err)
		}
		outcomes[outcome]++
	}
	if err := tx.Commit(); err != nil {
		t.Fatal(err)
	}
	return outcomes
}

func records(t testing.TB, facts ...ledger.Fact) []ledger.Record {
	t.Helper()
	var out []ledger.Record
	for _, f := range facts {
		rec, err := ledger.NewRecord("Y", f)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, rec)
	}
	return out
}

var pileCodes = []string{"P1", "P2"}

// yard is the register of every test: two piles without water, so that solids can be followed by hand.
func yard(t testing.TB, adjust string) []ledger.Record {
	facts := []ledger.Fact{ledger.Yard{Code: "Y", Name: "Test yard", Zone: "Europe/London", Unit: ledger.UnitTonne},
		ledger.Product{Code: "S20"}, ledger.Policy{Name: ledger.PolicyAdjust, Value: adjust},
		ledger.Policy{Name: ledger.PolicySurveyEvery, Value: "0"}}
	for _, c := range pileCodes {
		facts = append(facts, ledger.Pile{Code: c, Product: "S20"},
			ledger.DensityTest{Pile: c, Taken: at("2026-09-01 00:00"), MoistTPerM3: decimal.NewFromInt(2), Compaction: decimal.NewFromInt(1)},
			ledger.Opening{Pile: c, At: at("2026-10-01 00:00"), Solids: 1000 * ledger.Tonne, IsSolids: true})
	}
	return records(t, facts...)
}

// drawn is the yard of tests that draw ticket numbers at random: nobody minds the gaps.
func drawn(t testing.TB, adjust string) []ledger.Record {
	return append(yard(t, adjust), records(t, ledger.Policy{Name: "rule missing number", Value: "off"})...)
}

// movements draws loads, production and surveys of October and November.
func movements(rt *rapid.T, t testing.TB, surveys bool) []ledger.Record {
	var facts []ledger.Fact
	for n := range rapid.IntRange(1, 30).Draw(rt, "n") {
		when := at("2026-10-01 01:00").Add(time.Duration(rapid.IntRange(0, 60*24*60).Draw(rt, "minute")) * time.Minute)
		code := rapid.SampledFrom(pileCodes).Draw(rt, "pile")
		net := ledger.Mass(rapid.Int64Range(1, 5e7).Draw(rt, "net"))
		switch kind := rapid.IntRange(0, 4).Draw(rt, "kind"); {
		case kind == 0:
			facts = append(facts, ledger.Production{At: when, Belt: fmt.Sprint("B", n), Pile: code, Net: net})
		case kind == 1 && surveys:
			facts = append(facts, ledger.Survey{Survey: fmt.Sprint(n), Pile: code, Start: when, End: when, VolumeM3: decimal.NewFromInt(int64(400 + n))})
		default:
			facts = append(facts, ledger.Load{At: when, Loader: "L1", Ticket: fmt.Sprint(n), Pile: code, Net: net, Purpose: ledger.PurposeSale})
		}
	}
	return records(t, facts...)
}

func shuffle(rt *rapid.T, list []ledger.Record) []ledger.Record {
	seed := rapid.Uint64().Draw(rt, "order")
	list = slices.Clone(list)
	rand.New(rand.NewPCG(seed, 1)).Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
	return list
}

func read(t testing.TB, b *sqlite.Book, known time.Time) *book.Reader {
	t.Helper()
	r, err := book.Read(context.Background(), b, known)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// month returns all that a reader can see of a month, without places in the log.
func month(t testing.TB, b *sqlite.Book, p ledger.Period) []string {
	t.Helper()
	var all []string
	m, err := read(t, b, time.Time{}).Month(context.Background(), "Y", p, func(e *ledger.Entry) error {
		all = append(all, fmt.Sprint(e.Record.ID(), e.Flags.Names(), e.Moisture, e.Legs))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range m.Comparisons {
		all = append(all, fmt.Sprint(c.Pile, c.Book, c.Found, c.Base, c.Outcome, c.AfterIn, c.AfterOut))
	}
	for _, id := range m.Piles {
		all = append(all, fmt.Sprint(id, *m.Flows[id]))
	}
	return append(append(all, fmt.Sprint(m.Problems)), m.Closing.Lines()...)
}

func solidsAt(t testing.TB, b *sqlite.Book, when, known time.Time) map[string]ledger.Mass {
	t.Helper()
	piles, err := read(t, b, known).Stock(context.Background(), "Y", when)
	if err != nil {
		t.Fatal(err)
	}
	solids := map[string]ledger.Mass{}
	for _, p := range piles {
		solids[p.Pile.Code] = p.Held.Solids
	}
	return solids
}

func balancesOf(t testing.TB, b *sqlite.Book) []ledger.Balance {
	t.Helper()
	list, err := read(t, b, time.Time{}).Balances(context.Background(), "Y", november)
	if err != nil {
		t.Fatal(err)
	}
	return list
}

func seal(t testing.TB, b *sqlite.Book, p ledger.Period) {
	t.Helper()
	if _, err := book.Close(context.Background(), b, book.Closing{Yard: "Y", Period: p, By: "tester", Now: closing}); err != nil {
		t.Fatal(err)
	}
}

// fastDir returns a folder in memory where the system has one: thousands of commits need not wait for a
// disk here. What a disk must keep is tested elsewhere.
func fastDir(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("/dev/shm", "repose")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() {
		if err := os.RemoveAll(dir); err != nil {
			t.Error(err)
		}
	})
	return dir
}

// cases runs a property on books on disk, whose files make it slower than one in memory.
func cases(t *testing.T, property func(*rapid.T, func() *sqlite.Book)) {
	n := 0
	dir := fastDir(t)
	rapid.Check(t, func(rt *rapid.T) {
		var opened []*sqlite.Book
		defer func() {
			for _, b := range opened {
				if err := b.Close(); err != nil {
					rt.Error(err)
				}
			}
		}()
		property(rt, func() *sqlite.Book {
			n++
			b, err := sqlite.Open(context.Background(), filepath.Join(dir, fmt.Sprint(n)), sqlite.Create)
			if err != nil {
				rt.Fatal(err)
			}
			opened = append(opened, b)
			return b
		})
	})
}

func TestOrderAndBatchesDoNotChangeTheBook(t *testing.T) {
	cases(t, func(rt *rapid.T, open func() *sqlite.Book) {
		all := append(yard(t, "always"), movements(rt, t, true)...)
		one, many := open(), open()
		take(t, one, closing, all)
		mixed := shuffle(rt, all)
		cut := rapid.IntRange(0, len(mixed)).Draw(rt, "cut")
		take(t, many, closing, mixed[:cut])
		take(t, many, closing, mixed[cut:])
		for _, p := range []ledger.Period{october, november} {
			if diff := cmp.Diff(month(t, one, p), month(t, many, p)); diff != "" {
				rt.Fatalf("%s (-in order +shuffled):\n%s", p, diff)
			}
		}
	})
}

func TestTakingInTwiceChangesNothing(t *testing.T) {
	cases(t, func(rt *rapid.T, open func() *sqlite.Book) {
		all := append(yard(t, "always"), movements(rt, t, true)...)
		b := open()
		take(t, b, closing, all)
		want, err := b.Head(context.Background())
		if err != nil {
			rt.Fatal(err)
		}
		if got := take(t, b, closing.Add(time.Hour), shuffle(rt, all)); got[sqlite.Held] != len(all) {
			rt.Fatalf("%d records again: %v", len(all), got)
		}
		got, err := b.Head(context.Background())
		if err != nil || got != want {
			rt.Fatalf("head %v, want %v (%v)", got, want, err)
		}
	})
}

func TestClosingChangesNoReport(t *testing.T) {
	cases(t, func(rt *rapid.T, open func() *sqlite.Book) {
		b := open()
		take(t, b, closing, append(drawn(t, "always"), movements(rt, t, true)...))
		before := [][]string{month(t, b, october), month(t, b, november)}
		balances := balancesOf(t, b)
		when := at("2026-10-20 12:00")
		stock := solidsAt(t, b, when, time.Time{})
		seal(t, b, october)
		seal(t, b, november)
		after := [][]string{month(t, b, october), month(t, b, november)}
		if diff := cmp.Diff(before, after); diff != "" {
			rt.Fatalf("(-open +closed):\n%s", diff)
		}
		if diff := cmp.Diff(balances, balancesOf(t, b), cmpopts.EquateEmpty()); diff != "" {
			rt.Fatalf("balances (-open +closed):\n%s", diff)
		}
		if diff := cmp.Diff(stock, solidsAt(t, b, when, time.Time{})); diff != "" {
			rt.Fatalf("stock (-open +closed):\n%s", diff)
		}
		v, err := b.Verify(context.Background(), func(int64, int64) {})
		if err != nil || !v.OK() {
			rt.Fatalf("verify: %v %v", v.Faults, err)
		}
	})
}

// Records that come after a close are late; the stock at any instant is that of a book that was never
// closed, and what was known before they came can still be asked.
func TestLateRecordsCountAtTheirOwnInstant(t *testing.T) {
	cases(t, func(rt *rapid.T, open func() *sqlite.Book) {
		all := movements(rt, t, false)
		cut := rapid.IntRange(0, len(all)).Draw(rt, "cut")
		b, never := open(), open()
		take(t, b, closing.Add(-time.Hour), append(drawn(t, "never"), all[:cut]...))
		seal(t, b, october)
		known := solidsAt(t, b, at("2026-12-01 00:00"), time.Time{})
		take(t, b, closing.Add(time.Hour), all[cut:])
		take(t, never, closing, append(drawn(t, "never"), all...))

		when := at("2026-10-01 00:00").Add(time.Duration(rapid.IntRange(0, 65*24*60).Draw(rt, "asked")) * time.Minute)
		if diff := cmp.Diff(solidsAt(t, never, when, time.Time{}), solidsAt(t, b, when, time.Time{})); diff != "" {
			rt.Fatalf("stock at %v (-never closed +closed and late):\n%s", when, diff)
		}
		if diff := cmp.Diff(known, solidsAt(t, b, at("2026-12-01 00:00"), closing)); diff != "" {
			rt.Fatalf("as known before (-then +now):\n%s", diff)
		}
	})
}

func TestReplacingASealedRecord(t *testing.T) {
	b := open(t)
	load := ledger.Load{At: at("2026-10-05 08:00"), Loader: "L1", Ticket: "1", Pile: "P1", Net: 25 * ledger.Tonne, Purpose: ledger.PurposeSale}
	take(t, b, closing, append(yard(t, "never"), records(t, load)...))
	seal(t, b, october)
	sealed := month(t, b, october)

	load.Net, load.Pile = 20*ledger.Tonne, "P2"
	correction := records(t, load)
	correction[0].Replaces = load.Key()
	if got := take(t, b, closing.Add(time.Hour), correction); got[sqlite.New] != 1 {
		t.Fatalf("correction: %v", got)
	}
	if diff := cmp.Diff(sealed, month(t, b, october)); diff != "" {
		t.Errorf("the sealed month changed:\n%s", diff)
	}
	want := map[string]ledger.Mass{"P1": 1000 * ledger.Tonne, "P2": 980 * ledger.Tonne}
	if diff := cmp.Diff(want, solidsAt(t, b, at("2026-12-01 00:00"), time.Time{})); diff != "" {
		t.Errorf("stock after the correction (-want +got):\n%s", diff)
	}
}

func TestCloseKeepsItsOrder(t *testing.T) {
	b := open(t)
	take(t, b, closing, yard(t, "never"))
	for _, c := range []struct {
		p    ledger.Period
		now  time.Time
		want error
	}{
		{november, closing, book.ErrOrder},               // October is still open
		{october, at("2026-10-31 12:00"), book.ErrOrder}, // not over yet
		{october, closing, nil},
		{october, closing, book.ErrClosed},
	} {
		_, err := book.Close(context.Background(), b, book.Closing{Yard: "Y", Period: c.p, By: "tester", Now: c.now})
		if !errors.Is(err, c.want) {
			t.Errorf("close %s at %v: %v, want %v", c.p, c.now, err, c.want)
		}
	}
}

// A conflict blocks the close until somebody decides; what came in, if it is taken, replaces the held
// record, and both stay.
func TestSettlingAConflict(t *testing.T) {
	ctx := context.Background()
	load := ledger.Load{At: at("2026-10-05 08:00"), Loader: "L1", Ticket: "1", Pile: "P1", Net: 25 * ledger.Tonne, Purpose: ledger.PurposeSale}
	for _, incoming := range []bool{false, true} {
		b := open(t)
		take(t, b, closing, append(yard(t, "never"), records(t, load)...))
		other := load
		other.Net = 20 * ledger.Tonne
		take(t, b, closing, records(t, ledger.Conflict{Held: "load:Y:L1/1", Incoming: other}))

		var refused *book.RefusedError
		_, err := book.Close(ctx, b, book.Closing{Yard: "Y", Period: october, By: "tester", Now: closing})
		if !errors.As(err, &refused) || refused.Problems[0].Kind != ledger.ProblemConflict {
			t.Fatalf("close with an open conflict: %v", err)
		}
		conflicts, err := read(t, b, time.Time{}).OpenConflicts(ctx)
		if err != nil || len(conflicts) != 1 {
			t.Fatalf("open conflicts: %v %v", conflicts, err)
		}
		want := []ledger.Difference{{Field: "net", Held: "25.000 t", Incoming: "20.000 t"}}
		if diff := cmp.Diff(want, conflicts[0].Differences); diff != "" {
			t.Errorf("differences (-want +got):\n%s", diff)
		}
		s := book.Settling{Conflict: conflicts[0].Short, Take: incoming, By: "tester", Now: closing}
		if _, err := book.Settle(ctx, b, s); err == nil {
			t.Error("settled without a reason")
		}
		s.Reason, s.DryRun = "the scale house keyed it again", true
		for range 2 { // the first changes nothing
			if _, err := book.Settle(ctx, b, s); err != nil {
				t.Fatal(err)
			}
			s.DryRun = false
		}
		if _, err := book.Settle(ctx, b, s); !errors.Is(err, book.ErrConflict) {
			t.Errorf("settled twice: %v", err)
		}
		left := map[bool]ledger.Mass{false: 975 * ledger.Tonne, true: 980 * ledger.Tonne}[incoming]
		if incoming {
			if got := take(t, b, closing, records(t, other)); got[sqlite.Held] != 1 {
				t.Errorf("the row that was taken, again: %v, want it held", got)
			}
		}
		if got := solidsAt(t, b, at("2026-10-31 00:00"), time.Time{})["P1"]; got != left {
			t.Errorf("take %v: %v left, want %v", incoming, got, left)
		}
		seal(t, b, october)
	}
}

// A row that says it replaces its own key, where the book holds none of that key, is the first of its key
// and counts.
func TestReplacingNothing(t *testing.T) {
	b := open(t)
	load := records(t, ledger.Load{At: at("2026-10-05 08:00"), Loader: "L1", Ticket: "1", Pile: "P1", Net: 25 * ledger.Tonne, Purpose: ledger.PurposeSale})
	load[0].Replaces = "L1/1"
	take(t, b, closing, append(yard(t, "never"), load...))
	if got := solidsAt(t, b, at("2026-10-31 00:00"), time.Time{})["P1"]; got != 975*ledger.Tonne {
		t.Errorf("%v left, want 975 t", got)
	}
}

// A load with a mistyped year does not make the book begin in that year once it has been replaced.
func TestMistypedYear(t *testing.T) {
	b := open(t)
	load := ledger.Load{At: at("1926-10-05 08:00"), Loader: "L1", Ticket: "1", Pile: "P1", Net: 25 * ledger.Tonne, Purpose: ledger.PurposeSale}
	take(t, b, closing, append(yard(t, "never"), records(t, load)...))
	load.At = at("2026-10-05 08:00")
	correction := records(t, load)
	correction[0].Replaces = load.Key()
	take(t, b, closing, correction)
	seal(t, b, october)
}
