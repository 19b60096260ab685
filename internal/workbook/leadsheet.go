package workbook

import (
	"slices"
	"strings"

	"repose/ledger"

	"github.com/shopspring/decimal"
)

// productLine is a product over the month: the sum of the piles in which it lies at the end.
type productLine struct {
	flowLine
	key         string
	reference   ledger.DryBasis
	adjusted    decimal.Decimal // by formula, in grams
	ownAdjusted ledger.Mass     // the ledger's own, rounded pile by pile
	piles       int64
}

// productLines returns the products that lie in piles, in order of code.
func (d *closeBook) productLines() []productLine {
	piles := slices.Clone(d.piles)
	slices.SortStableFunc(piles, func(p, q pileLine) int { return strings.Compare(p.Product, q.Product) })
	var lines []productLine
	for _, p := range piles {
		if n := len(lines); n == 0 || lines[n-1].key != p.product {
			lines = append(lines, productLine{flowLine: flowLine{keys: []value{text(p.product)}}, key: p.product, reference: p.reference})
		}
		lines[len(lines)-1].add(p)
	}
	return lines
}

func (l *productLine) add(p pileLine) {
	l.opening, l.closing, l.own = plus(l.opening, p.Opening), plus(l.closing, p.closing), plus(l.own, p.Closing)
	for c := range p.flows {
		l.flows[c] = plus(l.flows[c], p.flows[c])
	}
	l.adjusted, l.ownAdjusted = l.adjusted.Add(p.adjusted), l.ownAdjusted+p.ownAdjusted
	l.piles++
}

// plus adds amounts of one yard's piles and accounts, whose sums lie far within bounds.
func plus(a, b ledger.Amount) ledger.Amount {
	return ledger.Amount{Solids: a.Solids + b.Solids, Water: a.Water + b.Water}
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
	for _, l := range lines {
		rows = append(rows, []value{text(l.key), mass(l.closing.Solids), mass(l.closing.Water), mass(l.closing.AsIs()),
			percent(l.reference.Percent()), tonnesOf(l.adjusted), mass(l.ownAdjusted), {}, {}})
	}
	all := d.allPiles()
	t := s.table(tableSpec{name: "LeadClosing", title: "What the closing stock weighs", columns: columns, about: "With its water as it lies, and at the reference moisture of its product.",
		count: len(rows), rows: rowsOf(rows...), total: []value{text("All"), mass(all.closing.Solids), mass(all.closing.Water), mass(all.closing.AsIs()),
			{}, tonnesOf(all.adjusted), mass(all.ownAdjusted), {}, {}}})
	for i, l := range lines {
		d.check(checkRow{"Lead: closing water of " + l.key, inTonnes,
			computed(t.cell("water", i).String(), mass(l.closing.Water)), mass(l.own.Water), d.sumTolerance(), t.cell("water", i)})
	}
	d.checkWeights("Lead: moisture-adjusted total", "Lead: as-is total", t)
}

// allPiles is the sum of all piles.
func (d *closeBook) allPiles() productLine {
	var all productLine
	for _, p := range d.piles {
		all.add(p)
	}
	return all
}

// checkWeights holds the totals of a table of all stock to the ledger's.
func (d *closeBook) checkWeights(adjusted, asIs string, t *table) {
	all := d.allPiles()
	d.check(checkRow{adjusted, inTonnes, computed(t.totalCell("adjusted").String(), tonnesOf(all.adjusted)), mass(all.ownAdjusted),
		all.piles + 2*d.sumTolerance(), t.totalCell("adjusted")})
	d.check(checkRow{asIs, inTonnes, computed(t.totalCell("as_is").String(), mass(all.closing.AsIs())), mass(all.own.AsIs()),
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
	setFormulas(columns, map[string]string{"solids": solids, "water": water,
		"as_is": "{solids}+{water}", "adjusted": "{solids}+{solids}*{reference_moisture}"})
	return append(columns, auditorColumns()...)
}
