package workbook

import (
	"fmt"
	"slices"
	"time"

	"repose/internal/audit"
	"repose/internal/report"
	"repose/internal/valuation"
	"repose/ledger"

	"github.com/shopspring/decimal"
)

// value puts a month of the yard into money; nil where the yard gives no costs.
func (y *testYard) value(reg *ledger.Register, m *ledger.Month, entries []*ledger.Entry, before *valuation.Closing) *valuation.Valuation {
	y.t.Helper()
	in := valuation.Input{Register: reg, Yard: "Y", Period: m.Period, Zone: m.Zone, Opening: m.Opening.Balances, Closing: m.Closing.Balances, Before: before}
	for i := range y.records {
		switch f := y.records[i].Fact.(type) {
		case ledger.Cost:
			if f.Period == m.Period {
				in.Costs = append(in.Costs, &y.records[i])
			}
		case ledger.Price:
			in.Prices = append(in.Prices, f)
		}
	}
	tally := valuation.NewTally(reg, m.Start())
	for _, e := range entries {
		tally.Add(e)
	}
	v, err := tally.Value(in)
	if err != nil {
		y.t.Fatal(err)
	}
	return v
}

// costs adds what the stone of two months cost, and what it sells for: less than its cost for one product, and nothing
// known of the third.
func (y *testYard) costs() {
	money := decimal.RequireFromString
	cost := func(month, product string, what ledger.CostKind, centre, amount string) ledger.Fact {
		return ledger.Cost{Period: period(y.t, month), Product: product, What: what, Centre: centre, Amount: money(amount), Currency: "EUR"}
	}
	price := func(month, product, amount string) ledger.Fact {
		return ledger.Price{From: period(y.t, month), Product: product, Amount: money(amount), Selling: money("0.80"), Completion: money("0.1"), Per: ledger.UnitTonne, Currency: "EUR"}
	}
	y.add(ledger.Policy{Name: ledger.ValueNormal, Value: "4000 t", From: at("2026-01-01 00:00")},
		cost("2026-09", "S20", ledger.CostOpening, "", "126543.21"), cost("2026-09", "<4 mm*", ledger.CostOpening, "", "33000.07"),
		cost("2026-10", "<4 mm*", ledger.CostOpening, "=opened", "4000.10"), cost("2026-10", "S20", ledger.CostMaking, "=drill", "8000.25"),
		cost("2026-10", "", ledger.CostMaking, "crushing", "12345.67"), cost("2026-10", "", ledger.CostFixed, "@plant", "5000"), cost("2026-10", "", ledger.CostMaking, "-credit", "-120.5"),
		price("2026-08", "S20", "18.40"), price("2026-09", "<4 mm*", "6.25"))
}

// testPapers are further papers of a month with names that spreadsheets would take amiss, and with what should catch a
// reader's eye: an act of one person, a record in another month, a truck between, a lapsed certificate.
func testPapers(m *ledger.Month) *report.Papers {
	return &report.Papers{CutOff: testCutOff(m), Screen: testScreen(m), Sensitivity: testSensitivity(m), Rolls: testRolls(m), Instruments: testInstruments(m),
		Acts: testActs(m), Log: testLog(m, 17)}
}

func testActs(m *ledger.Month) []report.Act {
	when := func(hours int) time.Time {
		return m.End().Add(time.Duration(hours)*time.Hour + 7*time.Second)
	}
	return []report.Act{
		{Record: "waiver:Y:1", What: "waiver", Text: "=certificate:L1 in 2026-10: it had lapsed", Reason: "+renewed since", By: "@office", Recorded: when(20), NeedsTwo: true, ApprovedBy: "=manager", Approved: when(21)},
		{Record: "adjustment:Y:S2/P1", What: "decision", Pile: "P1", Solids: report.Mass(-27.730), Text: "S2, the book takes the survey's figure", Reason: "shown by two surveys", By: "office", Recorded: when(22), NeedsTwo: true, ApprovedBy: "Office", Approved: when(23)},
		{Record: "correction:Y:2610-1/1", What: "correction", Pile: "=P2", Solids: report.Mass(3.000001), Text: "-3 t", By: "office", Recorded: when(1)},
		{Record: "settlement:Y:2610-7", What: "settlement", Pile: "p1", Text: "waived", Reason: "short", By: "office", Recorded: when(2), NeedsTwo: true},
		{Record: "policy:Y:belt factor B1/2026-10-01", What: "belt factor", Text: "belt factor B1 1.01", By: "office", Recorded: when(3), NeedsTwo: true, ApprovedBy: "office", Approved: when(4)},
	}
}

func testInstruments(m *ledger.Month) []report.InstrumentLine {
	percent := func(s string) decimal.NullDecimal { return decimal.NewNullDecimal(decimal.RequireFromString(s)) }
	return []report.InstrumentLine{
		{Instrument: "=B1", Weighs: "belt", From: at("2025-11-01 00:00"), Until: m.End().Add(-72 * time.Hour), Certificate: "=C-1", Class: "+0.5", Systematic: percent("0.5"), Random: percent("0.25"),
			Factor: percent("1.0123"), LastUse: m.End().Add(-time.Hour), InDate: "lapsed"},
		{Instrument: "D1", Weighs: "deck", From: at("2026-01-01 00:00"), LastUse: m.Start().Add(time.Hour), InDate: "no date stated"},
		{Instrument: "L1", Weighs: "loader", From: at("2026-06-01 00:00"), Until: at("2027-06-01 00:00"), Certificate: "C-2", Random: percent("1"), InDate: "yes"},
	}
}

func testCutOff(m *ledger.Month) *report.CutOff {
	c := report.NewCutOff("Y", m.Period, m.Zone)
	weighings := func(instrument, pile string, end time.Time, sign int) (lines []audit.CutLine) {
		for i := range 3 {
			when := end.Add(time.Duration(sign*(i+1))*37*time.Minute + 11*time.Second)
			p := ledger.PeriodOf(when, m.Zone)
			line := audit.CutLine{Movement: audit.Movement{ID: fmt.Sprintf("load:Y:%s/%d", instrument, sign*i), Instrument: instrument, Ticket: fmt.Sprintf("=%d", 100+i), At: when, Pile: pile,
				Mass: 20*ledger.Tonne + ledger.Mass(i), Period: p}, Belongs: p}
			if i == 2 && sign < 0 {
				line.Period, line.Wrong = ledger.Period{}, true // not entered anywhere
			}
			lines = append(lines, line)
		}
		return lines
	}
	cut := func(what, pile string, end time.Time) {
		pair := audit.Pair{Loader: audit.Movement{ID: "load:Y:L1/9", At: end.Add(-time.Minute), Pile: "P1", Mass: 23*ledger.Tonne + 1}, Deck: audit.Movement{ID: "deck:Y:=D1/9", At: end.Add(6 * time.Minute)}}
		instruments := []audit.InstrumentCut{{Instrument: "loader L1", Before: weighings("loader L1", pile, end, -1), After: weighings("loader L1", pile, end, 1)},
			{Instrument: "=deck D1", Before: weighings("=deck D1", "", end, -1)}}
		c.Add(what, audit.Cut{At: end}, instruments, []audit.Pair{pair}, pair.Loader.Mass)
	}
	cut("End of "+m.Period.String(), "=P2", m.End())
	for _, x := range m.Comparisons {
		cut(fmt.Sprintf("=Survey %s of pile %s", x.Survey.Survey, x.Pile.Code), x.Pile.Code, x.Survey.End)
	}
	return c
}

func testSensitivity(m *ledger.Month) *report.Sensitivity {
	s := report.NewSensitivity("Y", m.Period)
	for i, id := range m.Piles {
		solids := m.Closing.Balances[id.Account()].Solids
		x := &audit.Sensitivity{Pile: id.Code, Product: "=product", Solids: solids, Adjusted: solids + solids/20}
		var by *audit.Measured
		if i%2 == 0 {
			by = &audit.Measured{Survey: ledger.Survey{Survey: "=S"}}
		}
		for q := audit.QuantityVolume; q <= audit.QuantityBelt; q++ {
			step := solids/100 + ledger.Mass(q)
			l := audit.SensitivityLine{Quantity: q, Up: audit.Change{Solids: step, Adjusted: step + step/20}, Slope: audit.Change{Solids: step + 1}}
			if q != audit.QuantityMoisturePoint {
				l.Down = &audit.Change{Solids: -step - 3, Adjusted: -step - step/20}
			}
			x.Lines = append(x.Lines, l)
		}
		s.Add(x, by)
	}
	return s
}

func testRolls(m *ledger.Month) *report.Rolls {
	r := report.NewRolls("Y", m.Period, m.Zone)
	for i, c := range m.Comparisons {
		if !c.HasDensity {
			continue
		}
		x := &audit.Roll{Pile: c.Pile.Code, From: audit.Cut{At: c.Survey.End, Kind: audit.CutSurvey}, To: audit.PeriodEnd(m.Period, m.Zone), Start: c.Found.Solids, End: c.Found.Solids}
		if i%3 == 2 {
			x.From.At = m.End().Add(50 * time.Hour)
		}
		for j, column := range []ledger.Column{ledger.ColumnProduction, ledger.ColumnSale, ledger.ColumnFeed}[:1+i%3] {
			l := audit.RollLine{Column: column, Solids: (100*ledger.Tonne + ledger.Mass(7*i)) * ledger.Mass(1-2*(j%2)), Records: 3 + j}
			x.Lines = append(x.Lines, l)
			x.End += l.Solids
		}
		book := ledger.Mass(0)
		if slices.Contains(m.Piles, c.Pile) {
			book = m.Closing.Balances[c.Pile.Account()].Solids
		}
		r.Add(c.Survey.Survey, x, book)
	}
	return r
}

func testScreen(m *ledger.Month) *report.Screen {
	entries := []audit.Manual{{ID: "correction:Y:2610-1/1", By: "=office", Recorded: m.End().Add(30 * time.Hour), Reason: "=ok", Mass: 100 * ledger.Tonne},
		{ID: "waiver:Y:1", By: "office", Recorded: m.End().Add(31 * time.Hour)}}
	flags := []audit.Flag{{Rule: audit.JournalRules()[0], ID: entries[0].ID, Text: "=on the last day"}, {Rule: audit.JournalRules()[2], ID: entries[0].ID, Text: "+100 t"},
		{Rule: audit.JournalRules()[0], ID: entries[1].ID, Text: "@the first day"}}
	return report.NewScreen("Y", m.Period, entries, flags)
}

func testLog(m *ledger.Month, n int) (lines []report.LogLine) {
	for i := range n {
		l := report.LogLine{Seq: int64(40 + 3*i), Record: fmt.Sprintf("=record:Y:%d", i), Recorded: m.End().Add(time.Duration(i) * time.Minute), By: "@office", Leaf: fileHash(fmt.Sprint(i))}
		if i%2 == 0 {
			l.Source = fmt.Sprintf("=register.xlsx sheet density row %d", i)
		}
		lines = append(lines, l)
	}
	return lines
}
