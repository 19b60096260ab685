package workbook

import (
	"strconv"

	"repose/internal/report"
	"repose/ledger"
)

// testLine is a product's test of cost against net realisable value with what the sheet's formulas give, in minor units.
type testLine struct {
	*costLine
	earlier, stays int64 // written down by earlier tests on what is still there; of it, what the standard lets stay
	lower, net     int64 // the lower of both; write-down less reversal
	priced         bool
}

// tested works the test of a product out from what the report states of it: what earlier tests wrote down is the cost less
// what the stock stood at before this test. It stays under ASC 330, and where no price is there to test by; under IAS 2 it
// is taken back as far as the value has risen (IAS 2.33).
func (c *costBook) tested(l *costLine) testLine {
	t := testLine{costLine: l, priced: l.Price != nil}
	t.earlier = minor(l.Closing) - minor(l.Carrying) - minor(l.WriteDown) + minor(l.Reversal)
	if !t.priced || c.value.Standard != ledger.StandardIAS2 {
		t.stays = t.earlier
	}
	t.lower = l.closing - t.stays
	if t.priced {
		t.lower = min(t.lower, minor(l.Worth))
	}
	t.net = l.closing - t.earlier - t.lower
	return t
}

func (t testLine) agrees() bool {
	return t.lower == minor(t.Carrying) && t.net == minor(t.WriteDown)-minor(t.Reversal)
}

// declareTest declares the test of cost against net realisable value.
func (c *costBook) declareTest(s *sheet) {
	m := c.money
	columns := c.testColumns()
	var rows [][]value
	totals := make(map[string]int64)
	broken := 0
	for i := range c.lines {
		t := c.tested(&c.lines[i])
		figures := map[string]int64{"earlier": t.earlier, "stays": t.stays, "lower": t.lower, "own": minor(t.Carrying), "net": t.net,
			"write_down": minor(t.WriteDown), "reversal": minor(t.Reversal), "cost": t.closing}
		row := cells{"product": text(t.key), "adjusted": mass(t.Adjusted.Mass()), "agrees": check(t.agrees())}
		if t.priced {
			row["price"], figures["worth"] = number(*t.Price), minor(t.Worth)
		}
		for key, n := range figures {
			row[key] = m.amount(n)
			totals[key] += n
		}
		row["cost"] = computed(c.amounts.cell("closing", i).local(), row["cost"])
		broken += int(bit(!t.agrees()))
		rows = append(rows, c.row(columns, row))
	}
	sum := cells{"product": text("All")}
	for key, n := range totals {
		sum[key] = m.amount(n)
	}
	t := s.table(tableSpec{name: "CostTest", title: "Lower of cost and net realisable value, a test", columns: columns, count: len(rows), rows: rowsOf(rows...), total: c.row(columns, sum), places: c.params.ref(paramMoneyPlaces)})
	c.check(checkRow{"Cost: products whose lower of cost and value, or write-down, is not the ledger's", inCounts, computed(notOK(t, "product", "agrees"), integer(int64(broken))), integer(0), 0, t.cell("agrees", 0)})
}

func (c *costBook) testColumns() []column {
	m := c.money
	places := c.params.ref(paramMoneyPlaces)
	columns := []column{productColumn(),
		{key: "price", head: "Price", unit: m.currency + "/unit", kind: kindNumber, places: m.places, role: roleInput, width: m.width, note: "of one unit of the price list at the product's reference moisture; blank where there is none"},
		c.controlColumn("adjusted", "Moisture-adjusted", "control: closing solids at the reference moisture, which prices are for"),
		m.column("cost", "Cost", "closing, from the roll-forward in money"),
		m.control("earlier", "Earlier write-down", "control: by earlier tests, on what is still there: what the ledger's own lower, write-down and reversal leave of the cost"),
		m.control("stays", "Of it stays", "control: what is not taken back: all of it under ASC 330 and where there is no price, nothing under IAS 2"),
		m.control("worth", "Net realisable value", "control: price less completion and selling cost x adjusted mass, rounded half-even; blank where there is no price; the formula takes it"),
		m.column("lower", "Lower of both", "of the value and the cost less what stays: what the stock may stand at"),
		m.control("own", "Ledger's own lower", "control: what the ledger states"),
		m.column("net", "Write-down", "cost, less the earlier write-down, less the lower of both; negative for a reversal"),
		m.control("write_down", "Ledger's own write-down", "control: an expense, if it is posted"),
		m.control("reversal", "Ledger's own reversal", "control: of earlier write-downs"),
		{key: "agrees", head: "Agrees", kind: kindCheck, width: 10, note: "OK where lower and write-down are the ledger's own"},
	}
	setFormulas(columns, map[string]string{
		"lower":  "ROUND(MIN({cost}-{stays},{worth})," + places + ")",
		"net":    "ROUND({cost}-{earlier}-{lower}," + places + ")",
		"agrees": "AND({lower}={own},{net}=ROUND({write_down}-{reversal}," + places + "))",
	})
	return append(columns, auditorColumns()...)
}

// declareCosts declares the costs on record.
func (c *costBook) declareCosts(s *sheet) {
	m := c.money
	columns := []column{
		{key: "product", head: "Product", kind: kindText, wrap: true, width: 17, note: "blank for a cost that the products made in the month have in common"},
		{key: "kind", head: "Kind", kind: kindText, isKey: true, width: 11, note: "making, fixed, purchase or opening"},
		{key: "centre", head: "Cost centre", kind: kindText, wrap: true, width: 13, note: "in the yard's own words"},
		{key: "period", head: "Period", kind: kindText, width: 11, note: "month that it is of"},
		{key: "late", head: "Late", kind: kindText, width: 11, note: "yes where it came after the close of its month"},
		m.column("amount", "Amount", "negative for a credit"),
	}
	columns = append(append(columns, auditorColumns()...), column{key: "record", head: "Record", kind: kindText, width: 11, note: "ID of the cost's record"})
	var rows [][]value
	var sum int64
	for i := range c.value.Costs {
		x := &c.value.Costs[i]
		sum += minor(x.Amount)
		rows = append(rows, c.row(columns, cells{"record": label(x.Record), "period": orBlank(x.Period), "product": orBlank(x.Product), "kind": orBlank(x.Kind), "centre": orBlank(x.Centre),
			"late": yesNo(x.Late), "amount": m.of(x.Amount)}))
	}
	c.costs = s.table(tableSpec{name: "Costs", title: "Costs on record", columns: columns, count: len(rows), rows: rowsOf(rows...), filter: true,
		total: c.row(columns, cells{"product": text("All"), "amount": m.amount(sum)}), places: c.params.ref(paramMoneyPlaces)})
	c.counted("Cost: number of costs on record", c.costs, "record", len(rows))
}

// declareFixed declares where fixed costs went.
func (c *costBook) declareFixed(s *sheet) {
	m := c.money
	columns := []column{
		{key: "kind", head: "Kind", kind: kindText, width: 17, note: "of the costs on record; no row where there are no fixed ones"},
		c.controlColumn("normal", "Normal production", "control: solids that they are spread at, by policy; what was made where none is set"),
		c.controlColumn("made", "Made", "control: solids made in the month"),
		m.control("absorbed", "On stone made", "control: what was made bears of them"),
		m.control("idle", "Idle capacity", "control: the rest, an expense"),
		m.column("both", "Both", "on stone made, and idle capacity"),
		m.column("recorded", "On record", "costs of the kind, from above"),
		{key: "agrees", head: "Agrees", kind: kindCheck, width: 11, note: "OK where both are what is on record"},
	}
	places := c.params.ref(paramMoneyPlaces)
	setFormulas(columns, map[string]string{"both": "ROUND({absorbed}+{idle}," + places + ")", "recorded": "ROUND(" + sumIfs(c.costs.column("amount"), where(c.costs.column("kind"), "{kind}")) + "," + places + ")",
		"agrees": "{both}={recorded}"})
	var rows [][]value
	broken := 0
	if f := c.value.Fixed; f != nil {
		kind := ledger.CostFixed.String()
		var recorded int64
		for _, x := range c.value.Costs {
			if x.Kind == kind {
				recorded += minor(x.Amount)
			}
		}
		both := minor(f.Absorbed) + minor(f.Unallocated)
		broken = int(bit(both != recorded))
		rows = append(rows, c.row(columns, cells{"kind": text(kind), "normal": mass(f.Normal.Mass()), "made": mass(f.Made.Mass()), "absorbed": m.of(f.Absorbed), "idle": m.of(f.Unallocated),
			"both": m.amount(both), "recorded": m.amount(recorded), "agrees": check(both == recorded)}))
	}
	t := s.table(tableSpec{name: "CostFixed", title: "Where fixed costs went", columns: columns, count: len(rows), rows: rowsOf(rows...)})
	c.check(checkRow{"Cost: fixed costs that are not those on record", inCounts, computed(notOK(t, "kind", "agrees"), integer(int64(broken))), integer(0), 0, t.cell("agrees", 0)})
}

// declareInProcess declares the cost of stone that was fed and is not made again yet.
func (c *costBook) declareInProcess(s *sheet) {
	columns := []column{
		{key: "what", head: "What", kind: kindText, width: 17, note: "stone that went back to the plant"},
		c.money.control("cost", "At the end", "control: its cost, of what is not made again yet; in no product's stock"),
	}
	s.table(tableSpec{name: "CostInProcess", title: "Stone in process", columns: columns, count: 1, rows: rowsOf([]value{text("fed, not made yet"), c.money.of(c.value.InProcess)})})
}

// declarePostings declares the journal, two rows a line: the debit and the credit.
func (c *costBook) declarePostings(s *sheet) {
	m := c.money
	columns := []column{
		{key: "line", head: "Reference", kind: kindText, wrap: true, width: 17, note: "of the line, the same in every copy of the journal; its number alone while the month is open"},
		{key: "account", head: "Account", kind: kindText, wrap: true, width: 20, note: "plain words; what it is called in the general ledger is for who posts it"},
		m.column("debit", "Debit", "to the account"),
		m.column("credit", "Credit", "from the account"),
		{key: "stock", head: "Inventory of", kind: kindText, isKey: true, wrap: true, width: 13, note: "product, where the account is its inventory"},
		{key: "product", head: "Product", kind: kindText, wrap: true, width: 13, note: "whose line of the month it is; of a transfer what it became"},
		c.massColumn("solids", "Solids", "that the amount is of, in both rows of a line"),
		{key: "text", head: "In words", kind: kindText, wrap: true, width: 14, note: "what moved it"},
	}
	columns = append(columns, auditorColumns()...)
	stock := make(map[string]string)
	for _, l := range c.lines {
		stock[inventoryAccount(l.Product)] = l.key
	}
	journal := report.Journal{Value: c.value, Number: c.close.Number}
	var rows [][]value
	var sum int64
	for i, p := range c.value.Journal {
		sum += minor(p.Amount)
		reference := text(strconv.Itoa(i + 1))
		if c.close.Closed {
			reference = label(journal.Reference(i))
		}
		for _, end := range []struct{ side, account string }{{"debit", p.Debit}, {"credit", p.Credit}} {
			rows = append(rows, c.row(columns, cells{"line": reference, "account": label(end.account), end.side: m.of(p.Amount), "stock": orBlank(stock[end.account]), "product": orBlank(p.Product),
				"solids": mass(p.Solids.Mass()), "text": orBlank(p.Text)}))
		}
	}
	all := m.amount(sum)
	c.postings = s.table(tableSpec{name: "CostJournal", title: "Journal", columns: columns, count: len(rows), rows: rowsOf(rows...), filter: true,
		total: c.row(columns, cells{"line": text("All"), "debit": all, "credit": all}), places: c.params.ref(paramMoneyPlaces)})
	c.counted("Cost: number of rows of the journal", c.postings, "line", len(rows))
}
