package ledger_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"

	"repose/ledger"
)

// The roll-forward from a survey's instant to the period's end, with a truck that was between loader and
// deck when the survey ended (worked example of the close, recomputed by hand: V11).
func TestRollForwardFromSurvey(t *testing.T) {
	y := newYard(t, pile("P1"), pile("P2"), dryAs("P1"), dryAs("P2"), density("P1", "1.62"),
		policy(ledger.PolicyAdjust, "always"),
		ledger.Opening{Pile: "P1", At: at("2026-11-01 00:00"), Solids: tons(41880), IsSolids: true},
		survey("P1", "2026-11-27 14:00", "25300"),
		load("1", "2026-11-27 13:58", "P1", 24.1),
		ledger.DeckTicket{At: at("2026-11-27 14:06"), Deck: "D1", Ticket: "77", Truck: "T1", Net: tons(24.1)},
		made("2026-11-28 18:00", "P1", 4310),
		load("2", "2026-11-29 08:00", "P1", 3925),
		ledger.Transfer{At: at("2026-11-29 09:00"), Loader: "L1", From: "P1", To: "P2", Net: tons(600)})
	internal := load("3", "2026-11-29 10:00", "P1", 85)
	internal.Purpose = ledger.PurposeInternal
	y.add(internal)

	m, _ := y.month("2026-11", ledger.NewState())
	c := m.Final(ledger.PileID{Yard: "Y", Code: "P1"})
	if c.Found.Solids != tons(40986) {
		t.Errorf("survey = %v, want 40986 t", c.Found.Solids)
	}
	if got := c.Rolled(); got != tons(40686) {
		t.Errorf("rolled forward = %v, want 40686 t", got)
	}
	if got := m.Closing.Balances[account("P1")].Solids; got != tons(40686) {
		t.Errorf("closing book = %v, want 40686 t", got)
	}
	if want := tons(41880 - 24.1 - 40986); c.Difference() != want {
		t.Errorf("difference = %v, want %v", c.Difference(), want)
	}
	if len(c.Straddling) != 1 || c.Straddling[0].Record.Fact.(ledger.Load).Ticket != "1" || c.Straddling[0].Net.Solids != -tons(24.1) {
		t.Errorf("cut-off items = %+v, want ticket 1 alone with 24.1 t out", c.Straddling)
	}
	if len(c.InWindow) != 1 {
		t.Errorf("%d movements in the survey's window, want the load of 13:58 alone", len(c.InWindow))
	}
}

// A common density error moves both surveys and nearly cancels in the residual (V12, recomputed by hand).
func TestCommonDensityError(t *testing.T) {
	find := func(tPerM3 string) *ledger.Comparison {
		opening := decimal.NewFromInt(35880).Div(decimal.RequireFromString("1.62")) // m3
		y := newYard(t, pile("P1"), dryAs("P1"), density("P1", tPerM3),
			survey("P1", "2026-10-01 00:30", opening.String()), survey("P1", "2026-10-31 20:00", "25300"),
			made("2026-10-10 12:00", "P1", 60000), load("1", "2026-10-11 12:00", "P1", 54000))
		m, _ := y.month("2026-10", ledger.NewState())
		return m.Final(ledger.PileID{Yard: "Y", Code: "P1"})
	}
	high, low := find("1.62"), find("1.58")
	rh, _ := high.Residual()
	rl, _ := low.Residual()
	for _, c := range []struct {
		what string
		got  ledger.Mass
		want string
	}{
		{"opening survey", low.Base.Solids - high.Base.Solids, "-885.9"},
		{"closing survey", low.Found.Solids - high.Found.Solids, "-1012.0"},
		{"residual", rh - rl, "-126.1"},
	} {
		if got := c.got.Decimal().StringFixed(1); got != c.want {
			t.Errorf("%s moves by %s t, want %s", c.what, got, c.want)
		}
	}
}

// Two-part limits: V5 (1 % of throughput plus 50 t = 650 t; 894 t breaches it) and V13 (Kansas grain
// warehouse rule as published by the state's department of agriculture: more than 500 bushels and 1 %).
func TestTwoPartLimit(t *testing.T) {
	bushels := decimal.NewFromInt
	grain := ledger.Limit{Mass: decimal.NewNullDecimal(bushels(500)), Percent: decimal.NewNullDecimal(bushels(1)),
		Of: ledger.LimitOfBook, Join: ledger.LimitAnd}
	for _, c := range []struct {
		book, measured ledger.Mass
		breach         bool
	}{{125000, 123600, true}, {40000, 39550, false}, {125000, 123900, false}} {
		limit, _ := grain.For(c.book, 0)
		if got := c.book-c.measured > limit; got != c.breach {
			t.Errorf("V13 %d against %d: write down = %v, want %v (limit %d)", c.book, c.measured, got, c.breach, limit)
		}
	}
	y := newYard(t, pile("P1"), dryAs("P1"), density("P1", "1.62"),
		policy(ledger.PolicyLimitMass, "50 t"), policy(ledger.PolicyLimitPercent, "1"),
		policy(ledger.PolicyLimitOf, "throughput"), policy(ledger.PolicyLimitJoin, "plus"), policy(ledger.PolicyAdjust, "outside"),
		ledger.Opening{Pile: "P1", At: at("2026-10-01 00:00"), Solids: tons(35880), IsSolids: true},
		made("2026-10-10 12:00", "P1", 60000), load("1", "2026-10-11 12:00", "P1", 54000), survey("P1", "2026-10-31 20:00", "25300"))
	m, entries := y.month("2026-10", ledger.NewState())
	c := m.Final(ledger.PileID{Yard: "Y", Code: "P1"})
	if c.Limit != tons(650) || c.Difference() != tons(894) || !c.Breach() || c.Outcome != ledger.OutcomeTakeSurvey {
		t.Errorf("V5: limit %v, difference %v, breach %v, outcome %v; want 650 t, 894 t, true, take survey",
			c.Limit, c.Difference(), c.Breach(), c.Outcome)
	}
	last := entries[len(entries)-1]
	want := []ledger.Leg{{From: account("P1"), To: ledger.Account{Kind: ledger.KindShrinkage, Yard: "Y", Name: "unexplained"},
		Amount: ledger.Amount{Solids: tons(894)}}}
	if diff := cmp.Diff(want, last.Legs); diff != "" {
		t.Errorf("adjustment (-want +got):\n%s", diff)
	}
}

// A totaliser that passes its modulus: 999,412 to 1,207 with a modulus of 1,000,000 is 1,795 (worked by
// hand); a fall that no modulus explains is a reset if a note says so, and nothing otherwise.
func TestTotaliser(t *testing.T) {
	read := func(when string, shown float64, note string) ledger.Production {
		return ledger.Production{At: at(when), Belt: "B1", Pile: "P1", Reading: tons(shown), IsReading: true,
			ReadingUnit: ledger.UnitTonne, Note: note}
	}
	for _, c := range []struct {
		name    string
		before  float64
		after   float64
		note    string
		modulus ledger.Instrument
		want    float64
		flag    ledger.Flags
	}{
		{"rise", 100, 350, "", ledger.Instrument{}, 250, 0},
		{"rollover", 999412, 1207, "", ledger.Instrument{Modulus: tons(1000000)}, 1795, ledger.FlagRollover},
		{"rollover, bare modulus", 999412, 1207, "", ledger.Instrument{ModulusPlain: decimal.NewNullDecimal(decimal.NewFromInt(1000000))}, 1795, ledger.FlagRollover},
		{"fall too large for a rollover", 512000, 300, "", ledger.Instrument{Modulus: tons(1000000)}, 0, ledger.FlagUnexplainedFall},
		{"reset", 512000, 300, "power cut", ledger.Instrument{Modulus: tons(1000000)}, 300, ledger.FlagReset},
		{"fall without modulus", 999412, 1207, "", ledger.Instrument{}, 0, ledger.FlagUnexplainedFall},
	} {
		t.Run(c.name, func(t *testing.T) {
			i := c.modulus
			i.Code, i.Weighs = "B1", ledger.InstrumentBelt
			y := newYard(t, pile("P1"), dryAs("P1"), i, read("2026-10-02 06:00", c.before, ""), read("2026-10-02 14:00", c.after, c.note))
			m, entries := y.month("2026-10", ledger.NewState())
			if got := m.Closing.Balances[account("P1")].Solids; got != tons(c.want) {
				t.Errorf("made %v, want %v t", got, c.want)
			}
			if c.flag != 0 && entries[len(entries)-1].Flags&c.flag == 0 {
				t.Errorf("flags %v, want %v", entries[len(entries)-1].Flags.Names(), c.flag.Names())
			}
			if blocked := len(m.Problems) > 0 && m.Problems[0].Kind == ledger.ProblemUnexplainedFall; blocked != (c.flag == ledger.FlagUnexplainedFall) {
				t.Errorf("problems = %+v", m.Problems)
			}
		})
	}
}

// Rain changes the water of a pile and nothing else: a pile of 10,000 t at 4 % that is rained on to 7 %
// weighs 10,288.46 t without a movement (constructed, recomputed by hand).
func TestRainIsNotShrinkage(t *testing.T) {
	y := newYard(t, pile("P1"), density("P1", "1.6"), policy(ledger.PolicyAdjust, "always"),
		ledger.MoistureTest{Pile: "P1", Taken: at("2026-10-01 00:00"), Moisture: mustDry(t, "4")},
		ledger.Opening{Pile: "P1", At: at("2026-10-01 06:00"), Mass: tons(10000)},
		ledger.MoistureTest{Pile: "P1", Taken: at("2026-10-20 06:00"), Moisture: mustDry(t, "7")})
	m, _ := y.month("2026-10", ledger.NewState())
	got := m.Closing.Balances[account("P1")]
	if s := got.AsIs().Decimal().StringFixed(2); s != "10288.46" {
		t.Errorf("as-is mass %s t, want 10288.46", s)
	}
	if s := got.Solids.Decimal().StringFixed(2); s != "9615.38" {
		t.Errorf("solids %s t, want 9615.38", s)
	}
	for a := range m.Totals {
		if a.Kind == ledger.KindShrinkage {
			t.Errorf("rain was entered as shrinkage: %v", m.Totals[a])
		}
	}
}

func TestReplacedAndVoid(t *testing.T) {
	opening := ledger.Opening{Pile: "P1", At: at("2026-10-01 00:00"), Solids: tons(1000), IsSolids: true}
	y := newYard(t, pile("P1"), dryAs("P1"), opening, load("1", "2026-10-02 08:00", "P1", 25))
	void := load("2", "2026-10-02 09:00", "P1", 25)
	void.Void = true
	y.add(void)
	y.replace("L1/1", load("1", "2026-10-02 08:00", "P1", 20))
	m, _ := y.month("2026-10", ledger.NewState())
	if got := m.Closing.Balances[account("P1")].Solids; got != tons(980) {
		t.Errorf("open month: %v, want 980 t", got)
	}

	// After October is sealed with 25 t, the correction arrives in November.
	y = newYard(t, pile("P1"), dryAs("P1"), opening, load("1", "2026-10-02 08:00", "P1", 25))
	october, entries := y.month("2026-10", ledger.NewState())
	y.replace("L1/1", load("1", "2026-10-02 08:00", "P1", 20))
	in := y.input("2026-11", october.Closing)
	in.Records = inOrder(y.records[len(y.records)-1:], time.Time{}, at("2027-01-01 00:00"))
	in.Entered = func(id string) (*ledger.Entry, error) {
		for _, e := range entries {
			if e.Record.ID() == id {
				return e, nil
			}
		}
		return nil, nil
	}
	november, corrections := derive(t, in)
	if got := november.Closing.Balances[account("P1")].Solids; got != tons(980) {
		t.Errorf("correction of a sealed month: %v, want 980 t", got)
	}
	if len(november.Late) != 1 || corrections[0].Flags&(ledger.FlagLate|ledger.FlagReversal) != ledger.FlagLate|ledger.FlagReversal {
		t.Errorf("late = %d, flags %v; want one late reversal", len(november.Late), corrections[0].Flags.Names())
	}
}

func TestUnknownPileGoesToSuspense(t *testing.T) {
	y := newYard(t, pile("P1"), load("1", "2026-10-02 08:00", "P9", 25), load("2", "2026-10-02 09:00", "", 10))
	m, _ := y.month("2026-10", ledger.NewState())
	var blocking []string
	for _, p := range m.Problems {
		if p.Kind == ledger.ProblemSuspense && p.Kind.Blocks() {
			blocking = append(blocking, p.Subject)
		}
	}
	if diff := cmp.Diff([]string{"", "P9"}, blocking); diff != "" {
		t.Errorf("suspense (-want +got):\n%s", diff)
	}
	if m.Closing.Balances.Sum() != (ledger.Amount{}) {
		t.Errorf("sum over all accounts = %v", m.Closing.Balances.Sum())
	}
}

// Moisture of a record: last of the pile, else of the product, else the next, else assumed.
func TestMoistureInForce(t *testing.T) {
	id := ledger.PileID{Yard: "Y", Code: "P1"}
	own := func(day, pct string) ledger.Fact {
		return ledger.MoistureTest{Pile: "P1", Taken: at("2026-10-" + day + " 00:00"), Moisture: mustDry(t, pct)}
	}
	product := func(day, pct string) ledger.Fact {
		return ledger.MoistureTest{Product: "S20", Taken: at("2026-10-" + day + " 00:00"), Moisture: mustDry(t, pct)}
	}
	for _, c := range []struct {
		name  string
		tests []ledger.Fact
		want  string
		flags ledger.Flags
	}{
		{"last of pile", []ledger.Fact{own("01", "3"), own("10", "4"), own("20", "9"), product("14", "8")}, "4", 0},
		{"at its instant", []ledger.Fact{own("15", "5")}, "5", 0},
		{"product", []ledger.Fact{own("20", "9"), product("14", "8")}, "8", ledger.FlagMoistureProduct},
		{"next of pile", []ledger.Fact{own("20", "9"), product("18", "8")}, "9", ledger.FlagMoistureLater},
		{"next of product", []ledger.Fact{product("18", "8")}, "8", ledger.FlagMoistureProduct | ledger.FlagMoistureLater},
		{"assumed", nil, "2", ledger.FlagMoistureAssumed},
	} {
		y := newYard(t, append(c.tests, pile("P1"))...)
		m, flags := y.register().Moisture(id, at("2026-10-15 00:00"))
		if !m.Equal(mustDry(t, c.want)) || flags != c.flags {
			t.Errorf("%s: %v %v, want %s %v", c.name, m, flags.Names(), c.want, c.flags.Names())
		}
	}
}

// What moved between two surveys is kept by instrument and calibration epoch, which is what shares an
// error of measurement.
func TestStreamsByInstrumentAndEpoch(t *testing.T) {
	calibrated := ledger.Instrument{Code: "L1", Weighs: ledger.InstrumentLoader, From: at("2026-10-10 00:00")}
	y := newYard(t, pile("P1"), pile("P2"), dryAs("P1"), dryAs("P2"), density("P1", "1.6"), calibrated,
		ledger.Opening{Pile: "P1", At: at("2026-10-01 00:00"), Solids: tons(1000), IsSolids: true},
		made("2026-10-02 12:00", "P1", 50), load("1", "2026-10-03 08:00", "P1", 20), load("2", "2026-10-12 08:00", "P1", 25),
		load("3", "2026-10-13 08:00", "P1", 25),
		ledger.Transfer{At: at("2026-10-14 08:00"), Loader: "L1", Ticket: "T", From: "P1", To: "P2", Net: tons(10)},
		survey("P1", "2026-10-31 12:00", "600"))
	m, _ := y.month("2026-10", ledger.NewState())
	got := m.Final(ledger.PileID{Yard: "Y", Code: "P1"}).Base.Streams
	want := ledger.Streams{
		{Way: ledger.ColumnProduction, Instrument: "B1"}:                                       {Solids: tons(50), Weighings: 1},
		{Way: ledger.ColumnSale, Instrument: "L1"}:                                             {Solids: -tons(20), Weighings: 1},
		{Way: ledger.ColumnSale, Instrument: "L1", Epoch: calibrated.From}:                     {Solids: -tons(50), Weighings: 2},
		{Way: ledger.ColumnTransferOut, Instrument: "L1", Epoch: calibrated.From, Other: "P2"}: {Solids: -tons(10), Weighings: 1},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// Trucks that a loader and a deck scale weighed are paired once each; one whose weighings are a tenth or
// more apart is counted and left out.
func TestLoaderAgainstDeck(t *testing.T) {
	deck := func(when, truck string, net float64) ledger.DeckTicket {
		return ledger.DeckTicket{At: at(when), Deck: "D1", Ticket: when, Truck: truck, Net: tons(net)}
	}
	y := newYard(t, pile("P1"), dryAs("P1"),
		load("1", "2026-10-03 08:00", "P1", 20), deck("2026-10-03 08:06", "T1", 20.1), deck("2026-10-03 08:07", "T1", 20.1),
		load("2", "2026-10-03 09:00", "P1", 25), deck("2026-10-03 09:06", "T2", 12),
		load("3", "2026-10-03 10:00", "P1", 25), deck("2026-10-03 18:00", "T3", 25),
		load("4", "2026-10-31 23:58", "P1", 30), deck("2026-11-01 00:05", "T4", 29.9))
	m, _ := y.month("2026-10", ledger.NewState())
	want := ledger.Pairs{{Loader: "L1", Deck: "D1"}: {Count: 2, Loader: 50000, Deck: 50000, LoaderSquares: 400e6 + 900e6,
		DeckSquares: 20100*20100 + 29900*29900, Product: 20000*20100 + 30000*29900, Unlike: 1}}
	if diff := cmp.Diff(want, m.Pairs); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if next, _ := y.month("2026-11", m.Closing); len(next.Pairs) != 0 {
		t.Errorf("paired again in the next month: %v", next.Pairs)
	}
}
