package workbook

import (
	"crypto/sha256"
	"encoding/hex"
	"iter"
	"slices"
	"testing"
	"time"

	"repose/internal/report"
	"repose/internal/valuation"
	"repose/ledger"

	"github.com/shopspring/decimal"
)

// testYard collects the facts of an invented yard Y.
type testYard struct {
	t       testing.TB
	records []ledger.Record
}

// fileHash is the SHA-256 of a file that is nothing but its name.
func fileHash(name string) string {
	sum := sha256.Sum256([]byte(name))
	return hex.EncodeToString(sum[:])
}

const (
	registerFile = "register.xlsx"
	loadsFile    = "=loads.csv"
)

func (y *testYard) add(facts ...ledger.Fact) *ledger.Record {
	y.t.Helper()
	var last *ledger.Record
	for _, f := range facts {
		r, err := ledger.NewRecord("Y", f)
		if err != nil {
			y.t.Fatal(err)
		}
		r.Seq = int64(len(y.records))
		r.Source = ledger.Source{File: fileHash(registerFile), Sheet: f.Kind().String(), Row: len(y.records) + 2}
		if f.Kind() == ledger.KindLoadRecord {
			r.Source = ledger.Source{File: fileHash(loadsFile), Row: len(y.records) + 2}
		}
		y.records = append(y.records, r)
		last = &y.records[len(y.records)-1]
	}
	return last
}

func (y *testYard) replace(key string, f ledger.Fact) {
	y.t.Helper()
	r := y.add(f)
	r.Replaces = key
	if key == f.Key() {
		r.Revision = 1
	}
}

func (y *testYard) register() *ledger.Register {
	y.t.Helper()
	reg, err := ledger.NewRegister(y.records)
	if err != nil {
		y.t.Fatal(err)
	}
	return reg
}

// between yields the records of an interval, and before them late ones, in the order of entering.
func between(records []ledger.Record, from, until time.Time, late ...*ledger.Record) iter.Seq2[*ledger.Record, error] {
	var in []*ledger.Record
	for i := range records {
		if r := &records[i]; !r.At.IsZero() && !r.At.Before(from) && r.At.Before(until) {
			in = append(in, r)
		}
	}
	slices.SortFunc(in, (*ledger.Record).Compare)
	slices.SortFunc(late, (*ledger.Record).Compare)
	return func(yield func(*ledger.Record, error) bool) {
		for _, r := range append(late, in...) {
			if !yield(r, nil) {
				return
			}
		}
	}
}

func (y *testYard) derive(in ledger.Input) (*ledger.Month, []*ledger.Entry) {
	y.t.Helper()
	var entries []*ledger.Entry
	m, err := ledger.Derive(in, func(e *ledger.Entry) error {
		entries = append(entries, e)
		return nil
	})
	if err != nil {
		y.t.Fatal(err)
	}
	return m, entries
}

// close derives September from the first records and seals it, and October from the rest: what of it
// happened in September is late.
func (y *testYard) close(sealed int) *report.Close {
	y.t.Helper()
	september, october := period(y.t, "2026-09"), period(y.t, "2026-10")
	zone, ok := y.register().Zone("Y")
	if !ok {
		y.t.Fatal("no zone")
	}
	before := &testYard{y.t, slices.Clone(y.records[:sealed])}
	first, old := before.derive(ledger.Input{Register: before.register(), Yard: "Y", Period: september, Opening: ledger.NewState(),
		Records: between(before.records, september.Start(zone), september.End(zone).Add(2*time.Hour))})
	var late []*ledger.Record
	for i := range y.records[sealed:] {
		if r := &y.records[sealed+i]; !r.At.IsZero() && r.At.Before(october.Start(zone)) && !r.At.Before(september.Start(zone)) {
			late = append(late, r)
		}
	}
	reg := y.register()
	m, entries := y.derive(ledger.Input{Register: reg, Yard: "Y", Period: october, Opening: first.Closing,
		Records: between(y.records, october.Start(zone), october.End(zone).Add(2*time.Hour), late...),
		Entered: func(id string) (*ledger.Entry, error) {
			i := slices.IndexFunc(old, func(e *ledger.Entry) bool { return e.Record.ID() == id })
			if i < 0 {
				return nil, nil
			}
			return old[i], nil
		}})
	c := y.report(reg, m, entries)
	var handed *valuation.Closing
	if v := y.value(reg, first, old, nil); v != nil {
		handed = v.Closing()
	}
	if v := y.value(reg, m, entries, handed); v != nil {
		c.Value = report.NewValue(m, v, true)
	}
	return c
}

func (y *testYard) report(reg *ledger.Register, m *ledger.Month, entries []*ledger.Entry) *report.Close {
	y.t.Helper()
	rec, err := report.NewReconciliation(reg, m, true, testErrors(m))
	if err != nil {
		y.t.Fatal(err)
	}
	files := []report.SourceFile{
		{Name: registerFile, SHA256: fileHash(registerFile), Bytes: 48_213, TakenIn: at("2026-10-31 18:00"), By: "office",
			Records: []report.KindTotal{{Kind: ledger.KindProductionRecord, Records: 7, Net: tons(3_600), First: "B1/2026-10-02", Last: "B1/2026-10-30"}}},
		{Name: loadsFile, SHA256: fileHash(loadsFile), Bytes: 9_771, TakenIn: at("2026-10-31 18:00"), By: "+office", Map: fileHash("map"),
			Records: []report.KindTotal{{Kind: ledger.KindLoadRecord, Records: 21, Net: tons(512.4), First: "L1/100", Last: "L1/121"}}},
	}
	return &report.Close{Month: m, Register: reg, Closed: true, Head: report.Head{Size: int64(len(y.records)), Root: fileHash("head")},
		Seal: fileHash("seal"), ClosedBy: "=office", ClosedAt: at("2026-11-03 09:12"), Reconciliation: rec, Causes: testCauses(m),
		RollForward: report.RollForward(reg, m), Files: files, Screening: testScreening(m, 23), Papers: testPapers(m), Number: 1,
		Entries: func(yield func(*ledger.Entry, error) bool) {
			for _, e := range entries {
				if !yield(e, nil) {
					return
				}
			}
		}}
}

func period(t testing.TB, s string) ledger.Period {
	t.Helper()
	p, err := ledger.ParsePeriod(s)
	if err != nil {
		t.Fatal(err)
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

func tons(t float64) ledger.Mass { return ledger.Mass(t*1000) * ledger.Kilogram }

func dry(t testing.TB, pct string) ledger.DryBasis {
	t.Helper()
	m, err := ledger.NewDryBasis(decimal.RequireFromString(pct))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// hostileYard has everything that a month can have, and names that spreadsheets would take amiss. It
// returns the number of records that September was sealed with.
func hostileYard(t testing.TB) (y *testYard, sealed int) {
	y = &testYard{t: t}
	policy := func(name ledger.PolicyName, value string) ledger.Fact {
		return ledger.Policy{Name: name, Value: value, From: at("2026-01-01 00:00")}
	}
	density := func(code, tPerM3, moisture, factor string) ledger.Fact {
		return ledger.DensityTest{Pile: code, Taken: at("2026-08-01 00:00"), MoistTPerM3: decimal.RequireFromString(tPerM3), Moisture: dry(t, moisture),
			Compaction: decimal.RequireFromString(factor), Tests: 3, Method: "cone and bucket"}
	}
	moisture := func(code, when, pct string) ledger.Fact {
		return ledger.MoistureTest{Pile: code, Taken: at(when), Moisture: dry(t, pct), Tests: 2}
	}
	opening := func(code string, t float64) ledger.Fact {
		return ledger.Opening{Pile: code, At: at("2026-09-01 00:00"), Solids: tons(t), IsSolids: true}
	}
	y.add(ledger.Yard{Code: "Y", Name: "Test yard & Sons", Zone: "Europe/London", Unit: ledger.UnitTonne},
		ledger.Product{Code: "S20", Name: "20 mm", Reference: dry(t, "1.5")}, ledger.Product{Code: "<4 mm*", Name: "=1+1", Reference: dry(t, "5")},
		ledger.Product{Code: "s20", Reference: dry(t, "2")},
		ledger.Pile{Code: "P1", Product: "S20"}, ledger.Pile{Code: "p1", Product: "S20"}, ledger.Pile{Code: "=P2", Product: "<4 mm*"},
		ledger.Pile{Code: "010", Product: "<4 mm*"}, ledger.Pile{Code: "HELD", Product: "s20", Owner: "@owner"}, ledger.Pile{Code: "EMPTY", Product: "S20"},
		policy(ledger.PolicyAdjust, "outside"), policy(ledger.PolicyLimitMass, "20 t"), policy(ledger.PolicyLimitPercent, "1.337"),
		policy(ledger.PolicyLimitOf, "book"), policy(ledger.PolicyLimitJoin, "and"),
		density("P1", "1.62", "4", "1"), density("=P2", "1.5133", "6.7", "1.02"), density("HELD", "1.44", "0", "1.01"),
		moisture("P1", "2026-09-01 00:00", "3.1"), moisture("=P2", "2026-09-01 00:00", "6.25"),
		opening("P1", 12_345.678), opening("p1", 900), opening("=P2", 4_000.000001), opening("HELD", 250),
		y.load("90", "2026-09-14 09:00", "P1", 20.5), y.load("91", "2026-09-15 09:00", "P1", 21.5))
	y.corrects("2609-1", "pile:=P2", "shrinkage:explained spillage", "=P2", "2026-09-20 10:00", 4.25)
	sealed = len(y.records)
	y.add(y.load("92", "2026-09-20 09:00", "=P2", 19.25))                                                    // late
	y.replace("L1/91", y.load("91", "2026-09-15 09:00", "P1", 12.5))                                         // late, with a reversal
	y.add(ledger.MoistureTest{Pile: "P1", Taken: at("2026-10-12 06:00"), Moisture: dry(t, "5.4"), Tests: 1}, // rain
		ledger.MoistureTest{Product: "<4 mm*", Taken: at("2026-10-20 06:00"), Moisture: dry(t, "7.1"), Tests: 1}) // not for =P2, which has its own
	y.addOctober()
	return y, sealed
}

func (y *testYard) load(ticket, when, code string, net float64) ledger.Load {
	return ledger.Load{At: at(when), Loader: "L1", Ticket: ticket, Pile: code, Truck: "T" + ticket, Customer: "=HYPERLINK(\"http://example.org\")",
		Net: tons(net), Purpose: ledger.PurposeSale}
}

func (y *testYard) addOctober() {
	made := func(when, code string, net float64) ledger.Fact {
		return ledger.Production{At: at(when), Belt: "B1", Pile: code, Net: tons(net)}
	}
	reading := func(when string, shown float64) ledger.Fact {
		return ledger.Production{At: at(when), Belt: "B2", Pile: "010", Reading: tons(shown), IsReading: true, ReadingUnit: ledger.UnitTonne}
	}
	survey := func(number, code, end, m3, less string) ledger.Fact {
		s := ledger.Survey{Survey: number, Pile: code, Start: at(end).Add(-90 * time.Minute), End: at(end), VolumeM3: decimal.RequireFromString(m3),
			VolumeU: decimal.NewNullDecimal(decimal.RequireFromString("0.8")), DeductionM3: decimal.RequireFromString(less), Method: "drone, 80 m",
			Surveyor: "SV-3", Report: "R-2026-10", Base: "base of 2025"}
		if s.DeductionM3.IsPositive() {
			s.DeductionReason = "permanent base layer, with berms at both ends"
		}
		return s
	}
	internal, free, void := y.load("103", "2026-10-05 10:00", "P1", 18), y.load("104", "2026-10-05 11:00", "=P2", 6), y.load("105", "2026-10-05 12:00", "P1", 22)
	internal.Purpose, free.Purpose, void.Void = ledger.PurposeInternal, ledger.PurposeFree, true
	y.add(made("2026-10-02 16:00", "P1", 800.25), made("2026-10-09 16:00", "=P2", 640), made("2026-10-25 00:30", "P1", 100), made("2026-10-25 01:30", "P1", 101),
		reading("2026-10-02 16:00", 1_000), reading("2026-10-03 16:00", 1_480.5), reading("2026-10-04 16:00", 100),
		y.load("100", "2026-10-03 08:00", "P1", 24.31), y.load("101", "2026-10-03 08:30", "=P2", 17.777), y.load("102", "2026-10-03 09:00", "p1", 25.04),
		internal, free, void, y.load("106", "2026-10-06 09:00", "P9", 23), y.load("107", "2026-10-06 09:30", "", 11),
		ledger.Transfer{At: at("2026-10-07 09:00"), Loader: "L1", Ticket: "108", From: "P1", To: "p1", Net: tons(60)},
		ledger.Transfer{At: at("2026-10-07 10:00"), Loader: "L1", Ticket: "109", From: "=P2", To: "HELD", Net: tons(12.5)},
		ledger.Transfer{At: at("2026-10-07 11:00"), Loader: "L1", Ticket: "110", From: "P1", To: "P9", Net: tons(1.5)},
		ledger.Feed{At: at("2026-10-08 09:00"), Instrument: "L1", Pile: "010", Net: tons(44)},
		ledger.Return{At: at("2026-10-08 10:00"), Instrument: "D1", Ticket: "R1", Pile: "P1", Net: tons(3.2)},
		ledger.Opening{Pile: "010", At: at("2026-10-01 06:00"), Mass: tons(700), Moisture: decimal.NewNullDecimal(decimal.RequireFromString("4.4"))},
		survey("S1", "P1", "2026-10-15 12:00", "8421.5", "37.5"), survey("S2", "P1", "2026-10-30 15:00", "8444.125", "37.5"),
		survey("S2", "=P2", "2026-10-30 15:00", "3200", "0"), survey("S3", "010", "2026-10-30 15:00", "820", "0"), survey("S4", "HELD", "2026-10-30 15:00", "180.2", "0"),
		survey("S9", "P9", "2026-10-30 15:00", "10", "0"),
		y.load("120", "2026-10-30 14:10", "P1", 24.1), y.load("121", "2026-10-30 15:00", "P1", 23.9), y.load("122", "2026-10-31 08:00", "P1", 22.2),
		made("2026-10-31 10:00", "=P2", 55.5),
		ledger.DeckTicket{At: at("2026-10-30 15:06"), Deck: "D1", Ticket: "77", Truck: "T121", Net: tons(23.9)})
	y.corrects("2610-1", "pile:P1", "shrinkage:explained spillage", "P1", "2026-10-10 09:00", 3)
	y.corrects("2610-2", "pile:P1", "shrinkage:explained =thrown@over", "P1", "2026-10-18 09:00", 12.5)
	y.corrects("2610-3", "pile:=P2", "shrinkage:explained spillage", "=P2", "2026-10-09 09:00", 2.125)
	y.corrects("2610-4", "pile:P1", "shrinkage:explained spillage", "P1", "2026-10-31 09:00", 1.75)
	y.corrects("2610-5", "shrinkage:unexplained", "shrinkage:explained spillage", "P1", "2026-10-31 10:00", 5)
	y.corrects("2610-6", "shrinkage:unexplained", "out:internal", "P1", "2026-10-31 11:00", 6)
	y.costs()
}

// hostileClose is the closed month of the hostile yard.
func hostileClose(t testing.TB) *report.Close {
	t.Helper()
	y, sealed := hostileYard(t)
	return y.close(sealed)
}
