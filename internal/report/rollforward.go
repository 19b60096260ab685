package report

import "repose/ledger"

// RollForwardLine is one pile over a month.
type RollForwardLine struct {
	Pile    ledger.PileID
	Product string
	Opening ledger.Amount
	Flows   ledger.Flows
	Closing ledger.Amount
}

// RollForward returns the piles of a month in order of code.
func RollForward(reg *ledger.Register, m *ledger.Month) []RollForwardLine {
	lines := make([]RollForwardLine, len(m.Piles))
	for i, id := range m.Piles {
		lines[i] = RollForwardLine{Pile: id, Product: reg.Pile(id, m.End().Add(-1)).Product,
			Opening: m.Opening.Balances[id.Account()], Flows: *m.Flows[id], Closing: m.Closing.Balances[id.Account()]}
	}
	return lines
}
