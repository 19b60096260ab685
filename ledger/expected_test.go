package ledger_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/ledger"
)

// Accrual and true-up over three months at 0.8 % of production: opening 35,000 t, production 20,000, 21,500 and 19,700 t,
// sales 18,200, 17,600 and 18,900 t, and a survey of 40,900 t. 160, 172 and 157.6 t are accrued, the book says 41,010.4 t,
// and the survey trues it up by 110.4 t (worked example of the close, recomputed by hand: V9).
func TestAccrualAndTrueUp(t *testing.T) {
	y := newYard(t, pile("P1"), dryAs("P1"), density("P1", "2"), policy(ledger.PolicyAdjust, "always"),
		policy(ledger.ExpectedShrinkage("S20"), "0.8 % of production"),
		ledger.Opening{Pile: "P1", At: at("2026-10-01 00:00"), Solids: tons(35000), IsSolids: true},
		made("2026-10-10 12:00", "P1", 20000), load("1", "2026-10-20 12:00", "P1", 18200),
		made("2026-11-10 12:00", "P1", 21500), load("2", "2026-11-20 12:00", "P1", 17600),
		made("2026-12-10 12:00", "P1", 19700), load("3", "2026-12-20 12:00", "P1", 18900),
		survey("P1", "2026-12-31 12:00", "20450"))
	state := ledger.NewState()
	expected := ledger.Account{Kind: ledger.KindShrinkage, Yard: "Y", Name: ledger.ShrinkageExpected}
	id := ledger.PileID{Yard: "Y", Code: "P1"}
	var m *ledger.Month
	for _, c := range []struct {
		month   string
		accrued float64
	}{{"2026-10", 160}, {"2026-11", 172}, {"2026-12", 157.6}} {
		m, _ = y.month(c.month, state)
		state = m.Closing
		if got := -m.Flows[id][ledger.ColumnExpected].Solids; got != tons(c.accrued) {
			t.Errorf("%s: %v accrued, want %v t", c.month, got, c.accrued)
		}
	}
	c := m.Final(id)
	residual, _ := c.Residual()
	for what, pair := range map[string][2]ledger.Mass{
		"book":      {c.Book.Solids, tons(41010.4)},
		"true-up":   {c.Difference(), tons(110.4)},
		"accrued":   {c.Base.Expected, tons(489.6)},
		"true loss": {residual, tons(600)},
		"expected":  {state.Balances[expected].Solids, tons(489.6)},
		"the rest":  {state.Balances[ledger.Account{Kind: ledger.KindShrinkage, Yard: "Y", Name: ledger.ShrinkageUnexplained}].Solids, tons(110.4)},
		"the pile":  {state.Balances[id.Account()].Solids, tons(40900)},
	} {
		if pair[0] != pair[1] {
			t.Errorf("%s: %v, want %v", what, pair[0], pair[1])
		}
	}
	if sum := state.Balances.Sum(); !sum.IsZero() {
		t.Errorf("all accounts together hold %v", sum)
	}
}

// A rate of what is loaded out goes with every load, void ones apart, from the day on that the yard has said.
func TestRateOfLoadOut(t *testing.T) {
	void := load("2", "2026-10-06 12:00", "P1", 100)
	void.Void = true
	rate := ledger.Policy{Name: ledger.ExpectedShrinkage("S20"), Value: "0.5 of load-out", From: at("2026-10-05 00:00")}
	y := newYard(t, pile("P1"), dryAs("P1"), rate, ledger.Opening{Pile: "P1", At: at("2026-10-01 00:00"), Solids: tons(1000), IsSolids: true},
		load("1", "2026-10-04 12:00", "P1", 100), void, load("3", "2026-10-07 12:00", "P1", 100), made("2026-10-08 12:00", "P1", 100))
	m, _ := y.month("2026-10", ledger.NewState())
	if got := m.Flows[ledger.PileID{Yard: "Y", Code: "P1"}][ledger.ColumnExpected].Solids; got != -tons(0.5) {
		t.Errorf("%v, want half a tonne of the one load after the fifth", got)
	}
}

func TestParseRate(t *testing.T) {
	got := map[string]string{}
	for _, s := range []string{"0.8 % of production", "0.8", "0.5 % of load-out", "0.5 of Load-out"} {
		r, err := ledger.ParseRate(s)
		if err != nil {
			t.Errorf("%q: %v", s, err)
		}
		got[s] = r.Percent.String() + " of " + r.Of.String()
	}
	want := map[string]string{"0.8 % of production": "0.8 of production", "0.8": "0.8 of production", "0.5 % of load-out": "0.5 of load-out", "0.5 of Load-out": "0.5 of load-out"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	for _, s := range []string{"", "of production", "-1", "21", "0.8 % of sales", "0,8", "1 of 2 of production"} {
		if r, err := ledger.ParseRate(s); err == nil {
			t.Errorf("%q was read as %v", s, r)
		}
	}
}
