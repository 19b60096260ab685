package value

import "repose/ledger"

// AccountKind says what an account of the journal stands for. The zero value is no account. The names are plain words; a
// yard's own chart of accounts has its own.
type AccountKind uint8

// The kinds of account. Expected shrinkage has none: it moves no money, it makes the rest dearer.
const (
	AccountInventory      AccountKind = iota + 1 // one a product
	AccountOpening                               // what the stock cost with which a pile was opened
	AccountProductionCost                        // what was spent on making, before it lies on anything
	AccountPurchases
	AccountInProcess // stone that was fed and is not made again yet
	AccountCostOfSales
	AccountInternalUse
	AccountFreeIssue
	AccountShrinkageExplained
	AccountShrinkageUnexplained
	AccountIdleCapacity
)

var accountNames = [...]string{AccountInventory: "inventory", AccountOpening: "opening stock",
	AccountProductionCost: "production cost", AccountPurchases: "purchases", AccountInProcess: "stone in process",
	AccountCostOfSales: "cost of sales", AccountInternalUse: "internal use", AccountFreeIssue: "free issue",
	AccountShrinkageExplained: "shrinkage, explained", AccountShrinkageUnexplained: "shrinkage, unexplained",
	AccountIdleCapacity: "idle capacity"}

// String returns the account's plain name.
func (k AccountKind) String() string {
	if int(k) >= len(accountNames) {
		return ""
	}
	return accountNames[k]
}

// Account is an account of the journal. It is comparable.
type Account struct {
	Kind    AccountKind
	Product string // of inventory, else empty
}

// String returns the account's name, with the product where it has one.
func (a Account) String() string {
	if a.Product == "" {
		return a.Kind.String()
	}
	return a.Kind.String() + " " + a.Product
}

// JournalLine is an amount from one account to another. It names both, so debits are credits whatever the lines are.
type JournalLine struct {
	Debit, Credit Account
	Amount        Money       // positive
	Quantity      ledger.Mass // that the amount is of, with the amount from the credited account to the debited; may be zero
	Product       string      // whose line of the month it is; for a transfer, what it became
	Text          string
}

// counterparts are the accounts at the other end of inventory. Columns without one move no money, or move it within
// inventory.
var counterparts = [Columns]AccountKind{ColumnOpened: AccountOpening, ColumnMade: AccountProductionCost,
	ColumnBought: AccountPurchases, ColumnRemade: AccountInProcess, ColumnReturned: AccountCostOfSales,
	ColumnSold: AccountCostOfSales, ColumnInternal: AccountInternalUse, ColumnFree: AccountFreeIssue,
	ColumnFed: AccountInProcess, ColumnExplained: AccountShrinkageExplained, ColumnUnexplained: AccountShrinkageUnexplained}

// Journal returns the month's lines: by product and column, then the transfers, then the cost of idle capacity
// ([Absorption.Unallocated]; zero or less for none). What costs nothing has no line.
func (v Valued) Journal(idle Money) []JournalLine {
	var lines []JournalLine
	for _, l := range v.Lines {
		inventory := Account{AccountInventory, l.Product}
		for c, moved := range l.Moves {
			other := Account{Kind: counterparts[c]}
			if other.Kind == 0 {
				continue
			}
			line := JournalLine{Debit: inventory, Credit: other, Amount: moved.Cost, Quantity: moved.Quantity,
				Product: l.Product, Text: Column(c).String()}
			lines = line.appendTo(lines)
		}
	}
	for _, t := range v.Transfers {
		line := JournalLine{Debit: Account{AccountInventory, t.To}, Credit: Account{AccountInventory, t.From},
			Amount: t.Cost, Quantity: t.Quantity, Product: t.To, Text: "transfer from " + t.From}
		lines = line.appendTo(lines)
	}
	if idle > 0 {
		lines = append(lines, JournalLine{Debit: Account{Kind: AccountIdleCapacity}, Credit: Account{Kind: AccountProductionCost},
			Amount: idle, Text: "fixed overhead not absorbed"})
	}
	return lines
}

// appendTo appends the line, turned round if its amount is negative and left out if it is zero.
func (l JournalLine) appendTo(lines []JournalLine) []JournalLine {
	switch {
	case l.Amount == 0:
		return lines
	case l.Amount < 0:
		l.Debit, l.Credit, l.Amount, l.Quantity = l.Credit, l.Debit, -l.Amount, -l.Quantity
	}
	return append(lines, l)
}
