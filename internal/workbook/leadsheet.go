package workbook

import (
	"repose/ledger"

	"github.com/shopspring/decimal"
)

// productLine is a product over the month: the sum of the piles in which it lies at the end.
type productLine struct {
	product
	flowLine
	adjusted ledger.Mass // the ledger's own closing at the reference moisture, rounded pile by pile
	piles    int64
}

func (d *closeBook) productLines() []productLine {
	var lines []productLine
	for _, product := range d.products() {
		l := productLine{product: product, flowLine: flowLine{keys: []value{text(product.key)}}}
		for _, p := range d.piles {
			if p.Product != product.code {
				continue
			}
			l.opening, l.closing, l.own = plus(l.opening, p.Opening), plus(l.closing, p.closing), plus(l.own, p.Closing)
			l.adjusted += d.ownAdjusted(p)
			l.piles++
			for c := range p.flows {
				l.flows[c] = plus(l.flows[c], p.flows[c])
			}
		}
		lines = append(lines, l)
	}
	return lines
}

// plus adds amounts of one yard's piles and accounts, whose sums lie far within bounds.
func plus(a, b ledger.Amount) ledger.Amount {
	return ledger.Amount{Solids: a.Solids + b.Solids, Water: a.Water + b.Water}
}

// ownAdjusted is the ledger's own figure of a pile's closing at the reference moisture of its product.
func (d *closeBook) ownAdjusted(p pileLine) ledger.Mass {
	ref, _ := d.close.Register.Product(p.Product)
	m, err := ref.Reference.Adjusted(p.Closing.Solids)
	if err != nil {
		d.book.fail(err)
	}
	return m
}

// ownClosing is the closing of all piles as the ledger states it.
func (d *closeBook) ownClosing() ledger.Amount {
	var sum ledger.Amount
	for _, p := range d.piles {
		sum = plus(sum, p.Closing)
	}
	return sum
}

// atMoisture is what a formula gives in grams for solids at a moisture: not rounded.
func atMoisture(solids ledger.Mass, m ledger.DryBasis) decimal.Decimal {
	s := decimal.NewFromInt(int64(solids))
	return s.Add(s.Mul(m.Percent()).Shift(-2))
}

func (d *closeBook) declareLead(s *sheet) {
	lines := d.productLines()
	flows := make([]flowLine, len(lines))
	for i, l := range lines {
		flows[i] = l.flowLine
	}
	f, roll := facets()[0], d.roll[solidsFacet]
	t, total := d.declareFlows(s, flowTable{facet: f, name: "Lead", in: "product_in", out: "product_out", lines: flows, main: true,
		title:   "Solids by product",
		about:   "Opening, what came in (positive), what went out (negative), closing: each column adds up the entries of its movement.",
		opening: sumIfs(roll.column("opening"), where(roll.column("product"), "{product}")),
		keys: []column{{key: "product", head: "Product", kind: kindText, isKey: true, width: 17,
			note: "what lies in the piles at the month's end; stone of others is in it, and shown apart in Inventory"}}})
	d.lead = t

	tolerance := d.sumTolerance()
	for i, l := range lines {
		d.check(checkRow{"Lead: closing solids of " + l.key, inTonnes,
			computed(t.cell("closing", i).String(), mass(l.closing.Solids)), mass(l.own.Solids), tolerance, t.cell("closing", i)})
	}
	keys := []string{"opening"}
	for _, c := range f.columns {
		keys = append(keys, flowKey(c))
	}
	for i, key := range append(keys, "closing") {
		head := roll.spec.columns[roll.index[key]].head
		d.check(checkRow{"Lead: total solids, " + head + ", against the roll-forward", inTonnes,
			computed(t.totalCell(key).String(), mass(total[i])), computed(roll.totalCell(key).String(), mass(total[i])), 2 * tolerance, t.totalCell(key)})
	}
	d.declareLeadClosing(s, lines)
}

// declareLeadClosing declares what the closing solids of each product weigh.
func (d *closeBook) declareLeadClosing(s *sheet, lines []productLine) {
	roll, e := d.roll[waterFacet], d.entries
	columns := d.weightColumns(
		sumIfs(d.lead.column("closing"), where(d.lead.column("product"), "{product}")),
		sumIfs(roll.column("opening"), where(roll.column("product"), "{product}"))+
			"+"+sumIfs(e.column("water"), where(e.column("product_in"), "{product}"))+
			"-("+sumIfs(e.column("water"), where(e.column("product_out"), "{product}"))+")")
	columns = append([]column{{key: "product", head: "Product", kind: kindText, isKey: true, width: 17, note: "what lies in the piles at the month's end"}}, columns...)

	var rows [][]value
	var sum productLine
	var exact decimal.Decimal
	for _, l := range lines {
		adjusted := atMoisture(l.closing.Solids, l.reference)
		rows = append(rows, []value{text(l.key), mass(l.closing.Solids), mass(l.closing.Water), mass(l.closing.AsIs()),
			percent(l.reference.Percent()), tonnesOf(adjusted), mass(l.adjusted), {}, {}})
		sum.closing, sum.adjusted, sum.piles = plus(sum.closing, l.closing), sum.adjusted+l.adjusted, sum.piles+l.piles
		exact = exact.Add(adjusted)
	}
	t := s.table(tableSpec{name: "LeadClosing", title: "What the closing stock weighs", columns: columns, about: "With its water as it lies, and at the reference moisture of its product.",
		count: len(rows), rows: rowsOf(rows...), total: []value{text("All"), mass(sum.closing.Solids), mass(sum.closing.Water), mass(sum.closing.AsIs()),
			{}, tonnesOf(exact), mass(sum.adjusted), {}, {}}})
	for i, l := range lines {
		d.check(checkRow{"Lead: closing water of " + l.key, inTonnes,
			computed(t.cell("water", i).String(), mass(l.closing.Water)), mass(l.own.Water), d.sumTolerance(), t.cell("water", i)})
	}
	d.check(checkRow{"Lead: moisture-adjusted total", inTonnes, computed(t.totalCell("adjusted").String(), tonnesOf(exact)), mass(sum.adjusted),
		sum.piles + 2*d.sumTolerance(), t.totalCell("adjusted")})
	d.check(checkRow{"Lead: as-is total", inTonnes, computed(t.totalCell("as_is").String(), mass(sum.closing.AsIs())), mass(d.ownClosing().AsIs()),
		2 * d.sumTolerance(), t.totalCell("as_is")})
}

// weightColumns returns the columns that say what solids weigh, given the formulas of solids and water.
func (d *closeBook) weightColumns(solids, water string) []column {
	columns := []column{
		d.massColumn("solids", "Solids", "closing of the roll-forward, oven-dry"),
		d.massColumn("water", "Water", "closing of the roll-forward; what the movements and the last moisture test left"),
		d.massColumn("as_is", "As is", "solids and water: what the stone weighs as it lies"),
		{key: "reference_moisture", head: "Reference moisture", unit: "% dry", kind: kindPercent, role: roleInput, width: d.massWidth,
			note: "of the product, in per cent of dry mass"},
		d.massColumn("adjusted", "Moisture-adjusted", "solids x (100 + reference moisture) / 100: what the stone would weigh at that moisture; the weather does not change it"),
		d.controlColumn("own", "Ledger's own adjusted", "control: what the ledger states, rounded half-even to the gram pile by pile"),
	}
	columns[0].formula, columns[1].formula = solids, water
	columns[2].formula = "{solids}+{water}"
	columns[4].formula = "{solids}+{solids}*{reference_moisture}"
	return append(columns, auditorColumns()...)
}
