package workbook

import (
	"repose/internal/report"
	"repose/ledger"
)

// way is one way in which a product comes into stock or leaves it, in the order of the value's own columns.
type way struct{ head, note string }

func costWays() []way {
	return []way{
		{"Opened", "the first stock of piles, with what it cost"},
		{"Made", "by the plant, at its own costs of making and its share of common and fixed costs"},
		{"Bought", "and brought to the yard, at what was paid"},
		{"Made again", "cost alone: of stone that went back to the plant, on what was made"},
		{"Transfer in", "from other products, at their average"},
		{"Expected shrinkage", "normal loss: solids without cost, so that the rest is dearer"},
		{"Returned", "by customers, at the average"},
		{"Sold", "at the average"},
		{"Internal use", "in the yard itself, at the average"},
		{"Free issue", "without charge, at the average"},
		{"Transfer out", "to other products, at the average"},
		{"Fed", "back to the plant, at the average"},
		{"Explained shrinkage", "abnormal loss with a cause, at the average: an expense"},
		{"Unexplained shrinkage", "abnormal loss, at the average: an expense; negative where stone is missing"},
	}
}

// costLine is a product in money with what the sheet's formulas give for it: amounts in minor units.
type costLine struct {
	*report.ValueLine
	key    string
	cost   []int64       // by way
	solids []ledger.Mass // by way

	closing       int64       // opening and all ways
	closingSolids ledger.Mass // the same
	journal       int64       // what the journal moved on its inventory
}

// costSheet begins the sheet of a month that was put into money, and returns nil for one that was not.
func (d *closeBook) costSheet() *sheet {
	if d.money == nil {
		return nil
	}
	return d.book.sheet("Cost", "Stock in money, in "+d.money.currency)
}

// costLines returns the products with the ways that any of them went, in order.
func (d *closeBook) costLines(v *report.Value) (lines []costLine, used []int) {
	went := make([]bool, len(costWays()))
	journal := make(map[string]int64)
	for _, p := range v.Journal {
		journal[p.Debit] += minor(p.Amount)
		journal[p.Credit] -= minor(p.Amount)
	}
	for i := range v.Products {
		p := &v.Products[i]
		l := costLine{ValueLine: p, key: d.names.key(wordProduct, p.Product), cost: make([]int64, len(went)), solids: make([]ledger.Mass, len(went)),
			closing: minor(p.Opening), closingSolids: p.OpeningSolids.Mass(), journal: journal[inventoryAccount(p.Product)]}
		for _, m := range p.Moves {
			c := int(m.Column())
			went[c] = true
			l.cost[c], l.solids[c] = minor(m.Cost), m.Solids.Mass()
			l.closing, l.closingSolids = l.closing+minor(m.Cost), l.closingSolids+m.Solids.Mass()
		}
		lines = append(lines, l)
	}
	for c, is := range went {
		if is {
			used = append(used, c)
		}
	}
	return lines, used
}

// inventoryAccount is what the journal calls the stock of a product.
func inventoryAccount(product string) string { return "inventory " + product }

// declareCost declares the month in money.
func (d *closeBook) declareCost(s *sheet) {
	v := d.close.Value
	lines, used := d.costLines(v)
	s.note("Stock at the moving average of the month: tested under " + v.Standard + ", common costs shared by " + v.Sharing + ". Quantities are solids of the yard's own stone. " +
		"The test of cost against net realisable value is a test: nothing of it is posted.")
	for _, n := range v.Notes {
		s.note("Note: " + n + ".")
	}
	s.gap()
	c := &costBook{closeBook: d, value: v, lines: lines, used: used}
	c.declareMoney(s)
	c.declareSolids(s)
	c.declareAverages(s)
	c.declareTest(s)
	c.declareCosts(s)
	c.declareFixed(s)
	c.declareInProcess(s)
	c.declarePostings(s)
	c.checkJournal()
}

// costBook declares the tables of the sheet of a month in money.
type costBook struct {
	*closeBook
	value *report.Value
	lines []costLine
	used  []int // ways that any product went

	amounts  *table // roll-forward in money
	solids   *table
	costs    *table
	postings *table
}

func wayKey(c int) string { return "way" + string(rune('a'+c)) }

// productColumn is the first column of tables by product.
func productColumn() column {
	return column{key: "product", head: "Product", kind: kindText, isKey: true, width: 17, note: "product of the yard's own stone, as in Lead"}
}

// rollColumns returns the columns of a roll-forward: opening, the ways that were gone, closing and the ledger's own.
func (c *costBook) rollColumns(declare func(key, head, note string) column, places param) []column {
	columns := []column{productColumn(), declare("opening", "Opening", "closing of the month before")}
	last := "opening"
	for _, w := range c.used {
		last = wayKey(w)
		columns = append(columns, declare(last, costWays()[w].head, costWays()[w].note+"; out is negative"))
	}
	closing := declare("closing", "Closing", "opening and all columns between; a way that no product went has none")
	closing.formula = "ROUND(SUM({opening}:{" + last + "})," + c.params.ref(places) + ")"
	own := declare("own", "Ledger's own closing", "control: what the ledger states")
	own.role = roleControl
	return append(columns, closing, own)
}

// declareMoney declares the roll-forward in money, tied to the journal.
func (c *costBook) declareMoney(s *sheet) {
	m := c.money
	columns := c.rollColumns(m.column, paramMoneyPlaces)
	columns = append(columns, m.column("journal", "By the journal", "debits less credits of the product's inventory in the journal below: closing less opening"))
	columns = append(columns, auditorColumns()...)
	sum := cells{"product": text("All")}
	totals := make(map[string]int64)
	var filled []cells
	for _, l := range c.lines {
		row := cells{"product": text(l.key), "opening": m.of(l.Opening), "closing": m.amount(l.closing), "own": m.of(l.Closing)}
		totals["opening"] += minor(l.Opening)
		totals["closing"] += l.closing
		totals["own"] += minor(l.Closing)
		totals["journal"] += l.journal
		for _, w := range c.used {
			row[wayKey(w)] = m.amount(l.cost[w])
			totals[wayKey(w)] += l.cost[w]
		}
		filled = append(filled, row)
	}
	for key, n := range totals {
		sum[key] = m.amount(n)
	}
	c.amounts = s.table(tableSpec{name: "CostMoney", title: "Roll-forward in money", columns: columns, count: len(filled), main: true, frozen: 1, total: c.row(columns, sum), places: c.params.ref(paramMoneyPlaces),
		rows: func(yield func([]value, error) bool) {
			for i, row := range filled { // the journal stands below
				row["journal"] = computed("ROUND("+c.posted("debit")+"-("+c.posted("credit")+"),"+c.params.ref(paramMoneyPlaces)+")", m.amount(c.lines[i].journal))
				if !yield(c.row(columns, row), nil) {
					return
				}
			}
		}})
	t := c.amounts
	for i, l := range c.lines {
		c.check(checkRow{"Cost: closing cost of " + l.key, m.measure(), computed(t.cell("closing", i).String(), m.amount(l.closing)), m.of(l.Closing), 0, t.cell("closing", i)})
	}
}

// posted is the formula of one side of the journal for the inventory of a row's product.
func (c *costBook) posted(side string) string {
	p := c.postings
	if p == nil {
		return brokenRef // the journal is declared by the time that rows are written
	}
	return sumIfs(p.column(side), where(p.column("stock"), "{product}"))
}

// declareSolids declares the same in solids, tied to the inventory.
func (c *costBook) declareSolids(s *sheet) {
	columns := c.rollColumns(c.massColumn, paramPlaces)
	inventory := c.massColumn("inventory", "By the inventory", "solids of the yard's own piles of the product, from Inventory")
	inventory.formula = sumIfs(c.ownStock.column("solids"), where(c.ownStock.column("product"), "{product}"))
	columns = append(append(columns, inventory), auditorColumns()...)
	stock := make(map[string]ledger.Mass)
	for _, p := range c.piles {
		if p.owner == ownStone {
			stock[p.product] += p.closing.Solids
		}
	}
	totals := make(map[string]ledger.Mass)
	var rows [][]value
	for _, l := range c.lines {
		figures := map[string]ledger.Mass{"opening": l.OpeningSolids.Mass(), "closing": l.closingSolids, "own": l.Solids.Mass(), "inventory": stock[l.key]}
		for _, w := range c.used {
			figures[wayKey(w)] = l.solids[w]
		}
		row := cells{"product": text(l.key)}
		for key, m := range figures {
			row[key] = mass(m)
			totals[key] += m
		}
		rows = append(rows, c.row(columns, row))
	}
	sum := cells{"product": text("All")}
	for key, m := range totals {
		sum[key] = mass(m)
	}
	c.solids = s.table(tableSpec{name: "CostSolids", title: "Roll-forward in solids", columns: columns, count: len(rows), rows: rowsOf(rows...), total: c.row(columns, sum), places: c.params.ref(paramPlaces)})
	t := c.solids
	for i, l := range c.lines {
		c.check(checkRow{"Cost: closing solids of " + l.key, inTonnes, computed(t.cell("closing", i).String(), mass(l.closingSolids)), mass(l.Solids.Mass()), 0, t.cell("closing", i)})
		c.check(checkRow{"Cost: closing solids of " + l.key + ", against Inventory", inTonnes, computed(t.cell("closing", i).String(), mass(l.closingSolids)),
			computed(t.cell("inventory", i).String(), mass(stock[l.key])), 2 * c.sumTolerance(), t.cell("closing", i)})
	}
}

// checkJournal holds the roll-forward in money to the journal, and the two sides of that to each other.
func (c *costBook) checkJournal() {
	t, m := c.amounts, c.money
	for i, l := range c.lines {
		c.check(checkRow{"Cost: closing less opening of " + l.key + ", against the journal", m.measure(), computed(t.cell("closing", i).String()+"-"+t.cell("opening", i).String(), m.amount(l.closing-minor(l.Opening))),
			computed(t.cell("journal", i).String(), m.amount(l.journal)), 0, t.cell("journal", i)})
	}
	var sum int64
	for _, p := range c.value.Journal {
		sum += minor(p.Amount)
	}
	c.check(checkRow{"Cost: debits of the journal, against its credits", m.measure(), computed(c.postings.totalCell("debit").String(), m.amount(sum)),
		computed(c.postings.totalCell("credit").String(), m.amount(sum)), 0, c.postings.totalCell("debit")})
}

// declareAverages declares what a tonne costs.
func (c *costBook) declareAverages(s *sheet) {
	m := c.money
	places := m.places + 2
	number2 := func(key, head, note string) column {
		return column{key: key, head: head, unit: m.currency + "/t", kind: kindNumber, places: places, width: m.width, note: note}
	}
	columns := []column{productColumn(),
		m.column("cost", "Cost", "closing, from the roll-forward in money"),
		c.massColumn("solids", "Solids", "closing, from the roll-forward in solids"),
		number2("average", "Average cost", "cost / solids: of a tonne of solids; blank where there are none"),
		number2("own", "Ledger's own average", "control: what the ledger states, rounded; nothing is reckoned with it"),
		{key: "supply", head: "Months of supply", kind: kindNumber, places: 1, role: roleControl, width: 11, note: "control: closing solids over what went out in the month; blank where nothing did"},
	}
	columns[3].formula, columns[4].role = "{cost}/{solids}", roleControl
	var rows [][]value
	tolerance := stepsUp(0.5/float64(pow10(places)), inFractions) + 1
	for i, l := range c.lines {
		row := cells{"product": text(l.key), "cost": computed(c.amounts.cell("closing", i).local(), m.amount(l.closing)), "solids": computed(c.solids.cell("closing", i).local(), mass(l.closingSolids))}
		if l.Average != nil && l.closingSolids != 0 {
			row["average"], row["own"] = float(m.amount(l.closing).f/inTonnesFloat(l.closingSolids)), number(*l.Average)
		}
		if l.Supply != nil {
			row["supply"] = number(*l.Supply)
		}
		rows = append(rows, c.row(columns, row))
	}
	t := s.table(tableSpec{name: "CostAverages", title: "What a tonne costs", columns: columns, count: len(rows), rows: rowsOf(rows...)})
	for i := range rows {
		if average := rows[i][3]; average.kind != 0 {
			c.check(checkRow{"Cost: average cost of " + c.lines[i].key, inFractions, computed(t.cell("average", i).String(), average), rows[i][4], tolerance, t.cell("average", i)})
		}
	}
}

func pow10(n int) int64 {
	p := int64(1)
	for range n {
		p *= 10
	}
	return p
}
