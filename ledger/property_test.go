package ledger_test

import (
	"bytes"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"repose/ledger"
)

// TestMain asks every property for thousands of cases unless the command line says how many.
func TestMain(m *testing.M) {
	flag.Parse()
	asked := false
	flag.Visit(func(f *flag.Flag) { asked = asked || f.Name == "rapid.checks" })
	if !asked && !testing.Short() {
		if err := flag.Set("rapid.checks", "3000"); err != nil {
			panic(err)
		}
	}
	os.Exit(m.Run())
}

var pileCodes = []string{"P1", "P2", "P3"}

// instants draws minutes of October and November 2026.
func instants() *rapid.Generator[time.Time] {
	return rapid.Custom(func(t *rapid.T) time.Time {
		return at("2026-10-01 00:00").Add(time.Duration(rapid.IntRange(0, 60*24*60).Draw(t, "minute")) * time.Minute)
	})
}

func masses() *rapid.Generator[ledger.Mass] {
	return rapid.Custom(func(t *rapid.T) ledger.Mass { return ledger.Mass(rapid.Int64Range(0, 9e10).Draw(t, "grams")) })
}

func moistures() *rapid.Generator[ledger.DryBasis] {
	return rapid.Custom(func(t *rapid.T) ledger.DryBasis {
		places := rapid.Int32Range(0, 12).Draw(t, "places")
		m, err := ledger.NewDryBasis(decimal.New(rapid.Int64Range(0, 20_000_000_000_000).Draw(t, "digits"), -12).Round(places))
		if err != nil {
			t.Fatal(err)
		}
		return m
	})
}

// facts draws one fact that has an instant. n makes tickets distinct.
func drawFact(t *rapid.T, n int) ledger.Fact {
	anyPile := rapid.SampledFrom(append(pileCodes, "P9"))
	when, code := instants().Draw(t, "at"), anyPile.Draw(t, "pile")
	switch rapid.IntRange(0, 10).Draw(t, "kind") {
	case 10:
		to := rapid.SampledFrom([]ledger.End{{Kind: ledger.KindOut, Name: "internal"}, ledger.ExplainedBy("spillage"), {Kind: ledger.KindPile, Name: "P0"}}).Draw(t, "correct to")
		return ledger.Correction{Exception: "E-1", Number: 1 + n&0xff, At: when, From: ledger.End{Kind: ledger.KindPile, Name: code}, To: to, Pile: code,
			Net: max(masses().Draw(t, "net"), 1), Estimated: n%2 == 0, Reason: "counted"}
	case 9:
		return ledger.DeckTicket{At: when, Deck: "D1", Ticket: fmt.Sprint(n), Truck: rapid.SampledFrom([]string{"T1", "T2"}).Draw(t, "weighed"), Net: masses().Draw(t, "net")}
	case 0:
		return ledger.MoistureTest{Pile: code, Taken: when, Moisture: moistures().Draw(t, "m")}
	case 1:
		return ledger.MoistureTest{Product: "S20", Taken: when, Moisture: moistures().Draw(t, "m")}
	case 2:
		return ledger.Production{At: when, Belt: "B1", Pile: code, Reading: masses().Draw(t, "reading"), IsReading: true,
			ReadingUnit: ledger.UnitTonne, Note: rapid.SampledFrom([]string{"", "reset"}).Draw(t, "note")}
	case 3:
		return ledger.Production{At: when, Belt: "B2", Pile: code, Net: masses().Draw(t, "net")}
	case 4:
		return ledger.Transfer{At: when, Loader: "L1", Ticket: fmt.Sprint("t", n), From: code,
			To: rapid.SampledFrom(slices.DeleteFunc(slices.Clone(pileCodes), func(c string) bool { return c == code })).Draw(t, "to"), Net: masses().Draw(t, "net")}
	case 5:
		return ledger.Feed{At: when, Instrument: "L1", Pile: code, Net: masses().Draw(t, "net")}
	case 6:
		return ledger.Return{At: when, Instrument: "D1", Ticket: fmt.Sprint(n), Pile: code, Net: masses().Draw(t, "net")}
	case 7:
		return ledger.Survey{Survey: fmt.Sprint(n), Pile: rapid.SampledFrom(pileCodes).Draw(t, "surveyed"),
			Start: when.Add(-time.Hour), End: when, VolumeM3: decimal.New(rapid.Int64Range(0, 1e7).Draw(t, "litres"), -3)}
	}
	return ledger.Load{At: when, Loader: "L1", Ticket: fmt.Sprint(n), Pile: code, Net: masses().Draw(t, "net"),
		Truck: rapid.SampledFrom([]string{"T1", "T2"}).Draw(t, "truck"), Purpose: ledger.PurposeSale, Void: rapid.IntRange(0, 9).Draw(t, "void") == 0}
}

// drawYard draws a yard of up to 40 facts, some of which replace others.
func drawYard(t *rapid.T, tb testing.TB) *testYard {
	y := newYard(tb, policy(ledger.PolicyAdjust, rapid.SampledFrom([]string{"never", "always", "outside"}).Draw(t, "adjust")),
		policy(ledger.PolicyLimitMass, "10 t"))
	for _, c := range pileCodes {
		y.add(pile(c), density(c, "1.6"), ledger.Opening{Pile: c, At: at("2026-10-01 00:00"), Mass: masses().Draw(t, "opening")})
	}
	seen := map[string]bool{}
	for n := range rapid.IntRange(0, 40).Draw(t, "facts") {
		f := drawFact(t, n)
		if id := f.Kind().String() + f.Key(); !seen[id] {
			seen[id] = true
			y.add(f)
			if l, ok := f.(ledger.Load); ok && rapid.IntRange(0, 5).Draw(t, "corrected") == 0 {
				l.Net = masses().Draw(t, "corrected net")
				y.replace(l.Key(), l)
			}
		}
	}
	return y
}

// twoMonths derives October and November and returns everything that a reader could see of them.
func twoMonths(y *testYard) (all []string, closing ledger.State) {
	state := ledger.NewState()
	for _, p := range []string{"2026-10", "2026-11"} {
		m, entries := y.month(p, state)
		all = append(all, describe(m, entries)...)
		state = m.Closing
	}
	return all, state
}

func describe(m *ledger.Month, entries []*ledger.Entry) []string {
	var all []string
	for _, e := range entries {
		all = append(all, fmt.Sprint(e.Record.ID(), e.Flags.Names(), e.Moisture, e.Legs))
	}
	for _, c := range m.Comparisons {
		all = append(all, fmt.Sprint(c.Pile, c.Book, c.Found, c.Base, c.Outcome, c.Limit, c.AfterIn, c.AfterOut, len(c.InWindow), len(c.Straddling)))
	}
	for _, id := range m.Piles {
		all = append(all, fmt.Sprint(id, *m.Flows[id]))
	}
	for _, d := range m.Days {
		all = append(all, fmt.Sprint(d.End, d.Solids))
	}
	return append(append(all, fmt.Sprint(m.Problems)), m.Closing.Lines()...)
}

func TestSolidsAndWaterAreConserved(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		y := drawYard(rt, t)
		state := ledger.NewState()
		for _, p := range []string{"2026-10", "2026-11"} {
			m, entries := y.month(p, state)
			if s := m.Closing.Balances.Sum(); s != (ledger.Amount{}) {
				rt.Fatalf("sum over all accounts = %+v", s)
			}
			for _, id := range m.Piles {
				net := m.Flows[id].Net()
				if want, err := m.Opening.Balances[id.Account()].Add(net); err != nil || want != m.Closing.Balances[id.Account()] {
					rt.Fatalf("pile %v: opening %v + flows %v is not closing %v", id, m.Opening.Balances[id.Account()], net, m.Closing.Balances[id.Account()])
				}
			}
			for _, e := range entries {
				for _, l := range e.Legs {
					if l.Solids < 0 || l.Water < 0 {
						rt.Fatalf("%s: leg runs backwards: %+v", e.Record.ID(), l)
					}
				}
			}
			state = m.Closing
		}
	})
}

func TestOrderOfIntakeDoesNotChangeTheBook(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		y := drawYard(rt, t)
		want, _ := twoMonths(y)
		seed := rapid.Uint64().Draw(rt, "seed")
		rand.New(rand.NewPCG(seed, seed)).Shuffle(len(y.records), func(i, j int) { y.records[i], y.records[j] = y.records[j], y.records[i] })
		got, _ := twoMonths(y)
		if diff := cmp.Diff(want, got); diff != "" {
			rt.Fatalf("(-want +got):\n%s", diff)
		}
	})
}

// A sealed month is read back from its entries and the state before it; everything it reports must equal
// what the open month reported.
func TestSealedMonthEqualsOpenMonth(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		y := drawYard(rt, t)
		m, entries := y.month("2026-10", ledger.NewState())
		sealed := map[string]*ledger.Entry{}
		for _, e := range entries {
			sealed[e.Record.ID()] = e
		}
		in := y.input("2026-10", ledger.NewState())
		in.Sealed = func(rec *ledger.Record) (*ledger.Entry, error) { return sealed[rec.ID()], nil }
		again, same := derive(t, in)
		if diff := cmp.Diff(describe(m, entries), describe(again, same)); diff != "" {
			rt.Fatalf("(-open +sealed):\n%s", diff)
		}
		state, err := ledger.ParseState(m.Closing.Lines())
		if err != nil {
			rt.Fatal(err)
		}
		if diff := cmp.Diff(m.Closing.Lines(), state.Lines()); diff != "" {
			rt.Fatalf("state read back (-want +got):\n%s", diff)
		}
		checkBalances(rt, m)
	})
}

// checkBalances holds what a seal keeps of a month's balances to the month itself.
func checkBalances(rt *rapid.T, m *ledger.Month) {
	var want []ledger.Balance
	for _, c := range m.Comparisons {
		if b, ok := c.Balance(); ok {
			want = append(want, b)
			if residual, _ := c.Residual(); residual != b.Residual() {
				rt.Fatalf("residual %v as a comparison, %v as a balance", residual, b.Residual())
			}
			var net ledger.Mass
			for _, t := range b.Base.Streams {
				net += t.Solids
			}
			if net != b.Base.In-b.Base.Out {
				rt.Fatalf("streams of %s sum to %v, in less out is %v", b.Survey, net, b.Base.In-b.Base.Out)
			}
		}
	}
	sealed := map[string][]string{}
	for _, l := range m.SealLines() {
		sealed[l.Kind] = append(sealed[l.Kind], l.Text)
	}
	got, err := ledger.ParseBalances(sealed[ledger.SealSurvey], sealed[ledger.SealStream])
	if err != nil {
		rt.Fatal(err)
	}
	if diff := cmp.Diff(want, got, cmpopts.EquateEmpty()); diff != "" {
		rt.Fatalf("balances read back (-want +got):\n%s", diff)
	}
	pairs, err := ledger.ParsePairs(sealed[ledger.SealPair])
	if err != nil {
		rt.Fatal(err)
	}
	if diff := cmp.Diff(m.Pairs, pairs, cmpopts.EquateEmpty()); diff != "" {
		rt.Fatalf("pairs read back (-want +got):\n%s", diff)
	}
}

// Rain alone, whatever the tests say, moves no solids and leaves no shrinkage.
func TestWeatherMovesNoSolids(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		y := newYard(t, pile("P1"), policy(ledger.PolicyAdjust, "always"),
			ledger.Opening{Pile: "P1", At: at("2026-10-01 00:00"), Mass: masses().Draw(rt, "opening"), Moisture: decimal.NewNullDecimal(decimal.NewFromInt(4))})
		for range rapid.IntRange(1, 20).Draw(rt, "tests") {
			y.add(ledger.MoistureTest{Pile: "P1", Taken: instants().Draw(rt, "taken"), Moisture: moistures().Draw(rt, "m")})
		}
		m, _ := y.month("2026-10", ledger.NewState())
		opened := m.Flows[ledger.PileID{Yard: "Y", Code: "P1"}][ledger.ColumnOpening]
		if got := m.Closing.Balances[account("P1")].Solids; got != opened.Solids {
			rt.Fatalf("solids went from %v to %v", opened.Solids, got)
		}
	})
}

func TestBodyRoundTrip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := drawFact(rt, rapid.Int().Draw(rt, "n"))
		want, err := ledger.NewRecord("Y", f)
		if err != nil {
			rt.Skip(err)
		}
		want.Replaces = rapid.String().Draw(rt, "replaces")
		if name, value := rapid.StringN(1, 9, -1).Draw(rt, "tag"), rapid.StringN(1, 9, -1).Draw(rt, "value"); name != "" && value != "" {
			want.Tags = []ledger.Tag{{Name: name, Value: value}}
		}
		body := want.AppendBody(nil)
		var got ledger.Record
		if err := got.SetBody(f.Kind(), body); err != nil {
			rt.Fatalf("%s: %v", body, err)
		}
		if again := got.AppendBody(nil); !bytes.Equal(body, again) {
			rt.Fatalf("%s read and written again is %s", body, again)
		}
		checkInstant(rt, &got)
	})
}

// checkInstant holds Kind.InstantField to what a record says.
func checkInstant(t interface{ Fatalf(string, ...any) }, rec *ledger.Record) {
	name := rec.Fact.Kind().InstantField()
	var at time.Time
	if text := rec.Field(name); text != "" {
		var err error
		if at, err = time.Parse(time.RFC3339Nano, text); err != nil {
			t.Fatalf("%v: %v", rec.ID(), err)
		}
	}
	if (name == "") != rec.At.IsZero() || !at.Equal(rec.At) {
		t.Fatalf("%v: field %q says %v, the record %v", rec.ID(), name, at, rec.At)
	}
}

// Every kind with an instant, so that none is left out by chance.
func TestInstantField(t *testing.T) {
	at := time.Date(2026, 10, 5, 6, 7, 8, 9, time.UTC)
	facts := []ledger.Fact{
		ledger.Yard{Code: "Y", Zone: "UTC", Unit: ledger.UnitTonne}, ledger.Product{Code: "S20"}, ledger.Pile{Code: "P1", Product: "S20", Opened: at},
		ledger.Instrument{Code: "L1", Weighs: ledger.InstrumentLoader, From: at}, ledger.Hours{Day: "Monday"},
		ledger.Policy{Name: ledger.PolicyAdjust, Value: "never", From: at},
		ledger.Opening{Pile: "P1", At: at}, ledger.MoistureTest{Pile: "P1", Taken: at},
		ledger.DensityTest{Pile: "P1", Taken: at, MoistTPerM3: decimal.NewFromInt(2), Compaction: decimal.NewFromInt(1)},
		ledger.Production{At: at, Belt: "B1", Pile: "P1", Net: 1}, ledger.Return{At: at, Pile: "P1", Net: 1, Instrument: "D1", Ticket: "1"},
		ledger.Transfer{At: at, Loader: "L1", Ticket: "1", From: "P1", To: "P2", Net: 1}, ledger.Feed{At: at, Pile: "P1", Net: 1, Instrument: "B1"},
		ledger.Load{At: at, Loader: "L1", Ticket: "1", Pile: "P1", Net: 1, Purpose: ledger.PurposeSale}, ledger.DeckTicket{At: at, Deck: "D1", Ticket: "1", Net: 1},
		ledger.Survey{Survey: "S1", Pile: "P1", Start: at.Add(-time.Hour), End: at},
		ledger.Correction{Exception: "2610-ABCDEFGH", Number: 1, At: at, Pile: "P1", Net: 1, From: ledger.End{Kind: ledger.KindPile, Name: "P1"}, To: ledger.End{Kind: ledger.KindPile, Name: "P2"}},
	}
	for _, f := range facts {
		rec := ledger.Record{Yard: "Y", Fact: f}
		if err := rec.SetBody(f.Kind(), rec.AppendBody(nil)); err != nil {
			t.Fatal(err)
		}
		checkInstant(t, &rec)
	}
}

func TestSplitLosesNothing(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		wet := ledger.Mass(rapid.Int64Range(-int64(ledger.MaxMass), int64(ledger.MaxMass)).Draw(rt, "wet"))
		m := moistures().Draw(rt, "m")
		a := m.Split(wet)
		if a.AsIs() != wet || a.Solids.Abs() > wet.Abs() || wet != 0 && a.Water != 0 && (a.Water > 0) != (wet > 0) {
			rt.Fatalf("%v at %v splits into %+v", wet, m, a)
		}
		// The exact quotient is within half a gram.
		exact := decimal.NewFromInt(int64(wet)).Mul(decimal.NewFromInt(100))
		d := decimal.NewFromInt(int64(a.Solids)).Mul(decimal.NewFromInt(100).Add(m.Percent())).Sub(exact)
		if half := decimal.NewFromInt(100).Add(m.Percent()); d.Abs().Mul(decimal.NewFromInt(2)).GreaterThan(half) {
			rt.Fatalf("%v at %v: solids %v are more than half a gram away", wet, m, a.Solids)
		}
	})
}

func FuzzSetBody(f *testing.F) {
	for _, s := range []string{`{}`, `{"pile":"P1","product":"S20"}`, `{"a":"\u0001"}`, `{"pile":"P1",}`} {
		for k := ledger.KindYardRecord; k <= ledger.KindCloseRecord; k++ {
			f.Add(uint8(k), s)
		}
	}
	f.Fuzz(func(t *testing.T, kind uint8, body string) {
		var r ledger.Record
		if err := r.SetBody(ledger.Kind(kind), []byte(body)); err != nil {
			return
		}
		var again ledger.Record
		written := r.AppendBody(nil)
		if err := again.SetBody(ledger.Kind(kind), written); err != nil {
			t.Fatalf("%s was read, and %s that it writes is not: %v", body, written, err)
		}
	})
}

func FuzzParseMass(f *testing.F) {
	for _, s := range []string{"24.31", "-0.000001", "1e5", "1,000.5", ".5", "5.", "999999999999", "0000.0000001", "+7"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		m, err := ledger.ParseMass(s, ledger.UnitTonne)
		if err != nil {
			return
		}
		again, err := ledger.ParseMass(m.Tonnes(), ledger.UnitTonne)
		if err != nil || again != m {
			t.Fatalf("%q is %v, which reads as %v (%v)", s, m, again, err)
		}
	})
}
