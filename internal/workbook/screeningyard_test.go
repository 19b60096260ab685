package workbook

import (
	"fmt"
	"time"

	"repose/internal/report"
	"repose/ledger"
)

// corrects adds a correction that settled an exception: a record that no file has.
func (y *testYard) corrects(exception, from, to, pile, when string, net float64) {
	y.t.Helper()
	ends := make([]ledger.End, 2)
	for i, s := range []string{from, to} {
		e, err := ledger.ParseEnd(s)
		if err != nil {
			y.t.Fatal(err)
		}
		ends[i] = e
	}
	rec := y.add(ledger.Correction{Exception: exception, Number: 1, At: at(when), From: ends[0], To: ends[1], Pile: pile, Net: tons(net), Reason: "=counted in the field"})
	rec.Source = ledger.Source{}
}

// testScreening is a register of n exceptions of a month, of every status, with names that spreadsheets would take
// amiss, and the tables that go with it.
func testScreening(m *ledger.Month, n int) *report.Screening {
	x := report.NewExceptions(m.Yard.Code, []ledger.Period{m.Period}, m.Zone)
	for i := range n {
		x.Exceptions = append(x.Exceptions, testException(m, i))
	}
	return &report.Screening{Exceptions: x,
		Sequences: []report.SequenceLine{
			{Instrument: "L1", Series: "", First: "100", Last: "122", Count: 21, Expected: 23, Missing: 2, Voids: 1, OutOfOrder: 3, Mass: report.Mass(44.1234), Low: report.Mass(38), High: report.Mass(50.5)},
			{Instrument: "=D1", Series: "R 2026", First: "0001", Last: "=R9", Count: 9, Expected: 8, Duplicates: 1},
			{Instrument: "=D1", Series: "77", First: "77", Last: "77", Count: 1, Expected: 1},
		},
		Matching: []report.MatchLine{
			{Loader: "L1", Deck: "=D1", Pairs: 412, LoaderMass: report.Mass(9_412.501), DeckMass: report.Mass(9_301.44), Merged: 2, Split: 1, LagMinutes: 6.25, SpreadMins: 3.1,
				BiasPct: 1.1834, SDPct: 2.04, LoadsAlone: 5, AloneMass: report.Mass(112.25), DeckAlone: 3, TicketsMass: report.Mass(66)},
			{Loader: "L1", Deck: "D2", Pairs: 3, LoaderMass: report.Mass(60), DeckMass: report.Mass(61.5), LagMinutes: -0.5, BiasPct: -2.4,
				LoadsAlone: 5, AloneMass: report.Mass(112.25), DeckAlone: 0},
			{Loader: "@L2", Deck: "=D1", LoadsAlone: 7, AloneMass: report.Mass(150), DeckAlone: 3, TicketsMass: report.Mass(66)},
		}}
}

func testException(m *ledger.Month, i int) report.ExceptionLine {
	pick := func(list ...string) string { return list[i%len(list)] }
	l := report.ExceptionLine{ID: fmt.Sprintf("2610-%08X", 0x4A7C9000+i*7919), Rule: pick("missing number", "near twin", "=gap*", "Near Twin", "below zero"),
		Strength: pick("certain", "likely", "likely", "pattern"), Pile: pick("P1", "=P2", "", "p1"), Status: pick("open", "open", "open", "explained", "settled", "waived", "open"),
		Time: m.Start().Add(time.Duration(i%600)*53*time.Minute + 17*time.Second), Instrument: pick("L1", "=D1", ""), Series: pick("", "77"), Product: pick("S20", "<4 mm*"),
		Truck: pick("T100", "", "=T5"), Customer: pick("=HYPERLINK(\"http://example.org\")", ""),
		Seen: fmt.Sprintf("=number %d stands between two that are there, %d minutes apart; at the usual load of this series it would be a truck of about 22 t", i, 3+i%40)}
	switch i % 3 {
	case 0:
		l.Mass = report.Tonnes(22*ledger.Tonne) + report.Tonnes(i)
		l.Low, l.High = new(l.Mass-report.Tonnes(3*ledger.Tonne)), new(l.Mass+report.Tonnes(3*ledger.Tonne))
	case 1:
		l.Mass = report.Tonnes(19*ledger.Tonne) + report.Tonnes(3*i)
	}
	for k := range 1 + i%14 {
		l.Records = append(l.Records, fmt.Sprintf("load:Y:L1/%d", 100+i+k))
	}
	for k := range i % 4 {
		l.Explains = append(l.Explains, report.Explain{Pile: []string{"P1", "p1", "=P2"}[k], Shrinkage: report.Tonnes(ledger.Mass(1-2*(k%2)) * (21*ledger.Tonne + ledger.Mass(i)))})
	}
	if l.Status != "open" {
		l.How, l.Reason, l.By, l.Wrote = "void", "=the driver came back; seen on the gate's list", "@office", []string{"correction:Y:" + l.ID + "/1"}
		l.Decided, l.Gone = new(m.End().Add(time.Duration(i)*time.Minute)), i%2 == 0
	}
	return l
}
