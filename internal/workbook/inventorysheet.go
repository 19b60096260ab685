package workbook

import (
	"maps"
	"slices"
)

// ownStone is the key of the yard itself among owners.
const ownStone = "own"

func (d *closeBook) declareInventory(s *sheet) {
	var own, others []pileLine
	for _, p := range d.piles {
		if p.owner == ownStone {
			own = append(own, p)
		} else {
			others = append(others, p)
		}
	}
	product := column{key: "product", head: "Product", kind: kindText, width: 17, note: "what lies in the piles at the month's end"}
	byProduct := func(p pileLine) string { return p.product }
	mine := d.declareStock(s, tableSpec{name: "Inventory", title: "The yard's own stone", main: true, frozen: 1}, own)
	d.ownStock = mine
	tables := []*table{mine}
	if len(others) > 0 {
		theirs := d.declareStock(s, tableSpec{name: "OthersStone", title: "Stone of others", about: "It lies in the yard's piles and is not the yard's inventory."}, others)
		tables = append(tables, theirs)
		d.declareSubtotals(s, subtotal{"OthersByProduct", "Stone of others by product", product, []*table{theirs}, others, byProduct})
	}
	d.declareSubtotals(s, subtotal{"ByProduct", "The yard's own stone by product", product, []*table{mine}, own, byProduct})

	owner := column{key: "owner", head: "Owner", kind: kindText, width: 17, note: "own where the stone is the yard's"}
	t := d.declareSubtotals(s, subtotal{"ByOwner", "All stock by owner", owner, tables, d.piles, func(p pileLine) string { return p.owner }})
	roll, solids := d.roll[solidsFacet], mass(d.allPiles().closing.Solids)
	d.check(checkRow{"Inventory: solids of all owners, against the roll-forward", inTonnes, computed(t.totalCell("solids").String(), solids),
		computed(roll.totalCell("closing").String(), solids), 2 * d.sumTolerance(), t.totalCell("solids")})
	d.checkWeights("Inventory: moisture-adjusted total of all owners", "Inventory: as-is total of all owners", t)
}

// declareStock declares a list of piles with what they hold and weigh.
func (d *closeBook) declareStock(s *sheet, spec tableSpec, piles []pileLine) *table {
	closing := func(f string) string {
		return sumIfs(d.roll[f].column("closing"), where(d.roll[f].column("pile"), "{pile}"))
	}
	weights := d.weightColumns(closing(solidsFacet), closing(waterFacet))
	columns := slices.Concat([]column{
		{key: "pile", head: "Pile", kind: kindText, isKey: true, width: 17, note: "the pile, by the name of its account in Entries"},
		{key: "product", head: "Product", kind: kindText, isKey: true, width: 15, note: "what lies in it at the month's end"},
		{key: "owner", head: "Owner", kind: kindText, isKey: true, width: 15, note: "own where the stone is the yard's"},
	}, weights[:len(weights)-2], []column{
		{key: "moisture", head: "Moisture in force", unit: "% dry", kind: kindPercent, width: 10, note: "at the month's end, of the test named beside it; what an as-weighed mass would be parted by"},
		{key: "moisture_from", head: "Moisture by", kind: kindText, width: 20, wrap: true, note: "how it was found: a test of the pile, of its product, a later one, or assumed"},
		{key: "test", head: "Moisture test", kind: kindText, width: 22, wrap: true, note: "of which pile or product, and when it was taken; see Policies"},
	}, weights[len(weights)-2:])

	last := d.month.End().Add(-1)
	var rows [][]value
	var sum productLine
	for _, p := range piles {
		m, flags := d.close.Register.Moisture(p.Pile, last)
		row := cells{"pile": text(p.key), "product": text(p.product), "owner": text(p.owner),
			"solids": mass(p.closing.Solids), "water": mass(p.closing.Water), "as_is": mass(p.closing.AsIs()),
			"reference_moisture": percent(p.reference.Percent()), "adjusted": tonnesOf(p.adjusted), "own": mass(p.ownAdjusted),
			"moisture": percent(m.Percent()), "moisture_from": text(foundBy(flags))}
		if test, ok := d.close.Register.MoistureTest(p.Pile, last); ok {
			row["test"] = label(d.testName(test.Pile, test.Product, test.Taken))
		}
		rows = append(rows, d.row(columns, row))
		sum.add(p)
	}
	spec.columns, spec.count, spec.rows = columns, len(rows), rowsOf(rows...)
	spec.total = d.row(columns, cells{"pile": text("All"), "solids": mass(sum.closing.Solids), "water": mass(sum.closing.Water), "as_is": mass(sum.closing.AsIs()),
		"adjusted": tonnesOf(sum.adjusted), "own": mass(sum.ownAdjusted)})
	t := s.table(spec)
	for i, p := range piles {
		d.check(checkRow{"Inventory: moisture-adjusted " + p.key, inTonnes,
			computed(t.cell("adjusted", i).String(), tonnesOf(p.adjusted)), mass(p.ownAdjusted), 1 + d.sumTolerance(), t.cell("adjusted", i)})
	}
	return t
}

// subtotal is what declareSubtotals adds up: the rows of tables of stock that agree in a column.
type subtotal struct {
	name, title string
	by          column // its key is that of the column in the tables, too
	tables      []*table
	piles       []pileLine // that the tables list
	keyOf       func(pileLine) string
}

func (d *closeBook) declareSubtotals(s *sheet, sub subtotal) *table {
	columns := []column{sub.by,
		d.massColumn("solids", "Solids", "sum of the piles listed above"),
		d.massColumn("water", "Water", "sum of the piles listed above"),
		d.massColumn("as_is", "As is", "sum of the piles listed above"),
		d.massColumn("adjusted", "Moisture-adjusted", "sum of the piles listed above, each at the reference moisture of its product")}
	for i := range columns[1:] {
		c := &columns[i+1]
		for j, t := range sub.tables {
			if j > 0 {
				c.formula += "+"
			}
			c.formula += sumIfs(t.column(c.key), where(t.column(sub.by.key), "{"+sub.by.key+"}"))
		}
	}
	sums := make(map[string]*productLine)
	var total productLine
	for _, p := range sub.piles {
		key := sub.keyOf(p)
		if sums[key] == nil {
			sums[key] = new(productLine)
		}
		sums[key].add(p)
		total.add(p)
	}
	line := func(word string, x *productLine) []value {
		return []value{text(word), mass(x.closing.Solids), mass(x.closing.Water), mass(x.closing.AsIs()), tonnesOf(x.adjusted)}
	}
	var rows [][]value
	for _, key := range slices.Sorted(maps.Keys(sums)) {
		rows = append(rows, line(key, sums[key]))
	}
	return s.table(tableSpec{name: sub.name, title: sub.title, columns: columns, count: len(rows), rows: rowsOf(rows...), total: line("All", &total)})
}
