package ledger_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/ledger"
)

func correction(from, to, pile string, net ledger.Mass, clock string) ledger.Correction {
	f, err := ledger.ParseEnd(from)
	if err != nil {
		panic(err)
	}
	t, err := ledger.ParseEnd(to)
	if err != nil {
		panic(err)
	}
	return ledger.Correction{Exception: "E-1", Number: 1, At: at(clock), From: f, To: t, Pile: pile, Net: net, Reason: "counted in the field"}
}

func TestParseEnd(t *testing.T) {
	for _, s := range []string{"pile:P1", "out:internal", "shrinkage:unexplained", "shrinkage:explained spillage"} {
		e, err := ledger.ParseEnd(s)
		if err != nil || e.String() != s {
			t.Errorf("%q: %v, %v", s, e, err)
		}
	}
	for _, s := range []string{"", "pile:", "pile:a/b", "out:gift", "shrinkage:", "shrinkage:expected", "shrinkage:explained", "shrinkage:explained a/b", "opening:", "weather:"} {
		if e, err := ledger.ParseEnd(s); err == nil {
			t.Errorf("%q was read as %v", s, e)
		}
	}
}

// A correction and a settlement come back from the book as they went in.
func TestSettlementBody(t *testing.T) {
	for _, f := range []ledger.Fact{
		correction("pile:P1", "out:internal", "P1", tons(20), "2026-10-05 08:00"),
		ledger.Settlement{Exception: "E-1", Rule: "near twin", Status: ledger.ExceptionSettled, How: "void", Reason: "entered twice", Pile: "P1",
			Mass: tons(20), At: at("2026-10-05 08:00"), Seen: "two loads", Records: []string{"a", "b"}, Wrote: []string{"c"}, Decided: at("2026-11-02 09:00")},
	} {
		rec, err := ledger.NewRecord("Y", f)
		if err != nil {
			t.Fatal(err)
		}
		var back ledger.Record
		if err := back.SetBody(f.Kind(), rec.AppendBody(nil)); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(f, back.Fact); diff != "" {
			t.Errorf("(-want +got):\n%s", diff)
		}
	}
}

func TestRefusedSettlements(t *testing.T) {
	good := correction("pile:P1", "out:internal", "P1", tons(1), "2026-10-05 08:00")
	for name, f := range map[string]ledger.Fact{
		"no mass":      func() ledger.Fact { c := good; c.Net = 0; return c }(),
		"to itself":    func() ledger.Fact { c := good; c.To = c.From; return c }(),
		"no exception": func() ledger.Fact { c := good; c.Exception = ""; return c }(),
		"plug": func() ledger.Fact {
			c := good
			c.To = ledger.End{Kind: ledger.KindShrinkage, Name: ledger.ShrinkageUnexplained}
			return c
		}(),
		"no pile":   func() ledger.Fact { c := good; c.Pile = ""; return c }(),
		"no reason": ledger.Settlement{Exception: "E-1", Rule: "near twin", Status: ledger.ExceptionWaived, Reason: " ", Decided: at("2026-11-02 09:00")},
		"no status": ledger.Settlement{Exception: "E-1", Rule: "near twin", Reason: "words", Decided: at("2026-11-02 09:00")},
	} {
		if _, err := ledger.NewRecord("Y", f); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
}

// explainedMonth derives a month of a pile that opens with 1000 t, dry.
func explainedMonth(t *testing.T, facts ...ledger.Fact) *ledger.Month {
	t.Helper()
	y := newYard(t, pile("P1"), dryAs("P1"), density("P1", "2"), ledger.Opening{Pile: "P1", At: at("2026-10-01 00:00"), Solids: tons(1000), IsSolids: true})
	y.add(facts...)
	m, _ := y.month("2026-10", ledger.NewState())
	return m
}

// What a correction explains leaves the book as shrinkage with its cause, the difference that a survey finds
// later is smaller by it, and the balance from survey to survey, which counts what was weighed, is not.
func TestExplainedShrinkage(t *testing.T) {
	found := survey("P1", "2026-10-20 12:00", "470") // of 2 t/m3, dry: 940 t
	before := explainedMonth(t, found)
	spilt := correction("pile:P1", "shrinkage:explained spillage", "P1", tons(25), "2026-10-10 09:00")
	after := explainedMonth(t, found, spilt)

	was, is := before.Final(ledger.PileID{Yard: "Y", Code: "P1"}), after.Final(ledger.PileID{Yard: "Y", Code: "P1"})
	if was.Difference() != tons(60) || is.Difference() != tons(35) {
		t.Errorf("difference %v, and %v once 25 t are explained; want 60 t and 35 t", was.Difference(), is.Difference())
	}
	r1, _ := was.Residual()
	if r2, _ := is.Residual(); r1 != r2 {
		t.Errorf("the residual moved from %v to %v", r1, r2)
	}
	if is.Base.Explained != tons(25) {
		t.Errorf("explained since the base: %v, want 25 t", is.Base.Explained)
	}
	if got := after.Flows[ledger.PileID{Yard: "Y", Code: "P1"}][ledger.ColumnExplained].Solids; got != -tons(25) {
		t.Errorf("column explained: %v, want -25 t", got)
	}
	if sum := after.Closing.Balances.Sum(); !sum.IsZero() {
		t.Errorf("all accounts together hold %v", sum)
	}
	back, err := ledger.ParseState(after.Closing.Lines())
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(after.Closing, back); diff != "" {
		t.Errorf("sealed and read again (-want +got):\n%s", diff)
	}
}

// What is explained after the survey is in the roll-forward to the month's end.
func TestExplainedAfterTheSurvey(t *testing.T) {
	m := explainedMonth(t, survey("P1", "2026-10-20 12:00", "470"),
		correction("pile:P1", "shrinkage:explained spillage", "P1", tons(25), "2026-10-25 09:00"))
	c := m.Final(ledger.PileID{Yard: "Y", Code: "P1"})
	if c.Rolled() != tons(915) {
		t.Errorf("rolled forward: %v, want 915 t", c.Rolled())
	}
}
