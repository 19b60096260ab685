package workbook

import (
	"slices"

	"repose/ledger"

	"github.com/shopspring/decimal"
)

// ownStone is the key of the yard itself among owners.
const ownStone = "own"

// stockSums are the totals of a table of inventory.
type stockSums struct {
	closing  ledger.Amount
	adjusted decimal.Decimal // by formula, in grams
	own      ledger.Mass     // adjusted, as the ledger states it
	piles    int64
}

func (s *stockSums) add(p pileLine, adjusted decimal.Decimal, own ledger.Mass) {
	s.closing = plus(s.closing, p.closing)
	s.adjusted = s.adjusted.Add(adjusted)
	s.own += own
	s.piles++
}

func (d *closeBook) declareInventory(s *sheet) {
	var own, others []pileLine
	for _, p := range d.piles {
		if p.phase.Owner == "" {
			own = append(own, p)
		} else {
			others = append(others, p)
		}
	}
	tables := []*table{d.declareStock(s, "Inventory", "The yard's own stone", own, true)}
	if len(others) > 0 {
		tables = append(tables, d.declareStock(s, "OthersStone", "Stone of others", others, false))
	}
	d.declareByProduct(s, tables)
	d.declareByOwner(s, tables)
}

// declareStock declares a list of piles with what they hold and weigh.
func (d *closeBook) declareStock(s *sheet, name, title string, piles []pileLine, main bool) *table {
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
	var sum stockSums
	for _, p := range piles {
		ref, _ := d.close.Register.Product(p.Product)
		m, flags := d.close.Register.Moisture(p.Pile, last)
		adjusted, own := atMoisture(p.closing.Solids, ref.Reference), d.ownAdjusted(p)
		row := []value{text(p.key), text(p.product), text(d.ownerKey(p)), mass(p.closing.Solids), mass(p.closing.Water), mass(p.closing.AsIs()),
			percent(ref.Reference.Percent()), tonnesOf(adjusted), mass(own), percent(m.Percent()), text(foundBy(flags)), {}, {}, {}}
		if test, ok := d.close.Register.MoistureTest(p.Pile, last); ok {
			row[11] = label(d.testName(test.Pile, test.Product, test.Taken))
		}
		rows = append(rows, row)
		sum.add(p, adjusted, own)
	}
	total := make([]value, len(columns))
	total[0], total[3], total[4], total[5] = text("All"), mass(sum.closing.Solids), mass(sum.closing.Water), mass(sum.closing.AsIs())
	total[7], total[8] = tonnesOf(sum.adjusted), mass(sum.own)
	t := s.table(tableSpec{name: name, title: title, columns: columns, count: len(rows), rows: rowsOf(rows...), total: total, main: main, frozen: 1})
	for i, p := range piles {
		ref, _ := d.close.Register.Product(p.Product)
		d.check(checkRow{"Inventory: moisture-adjusted " + p.key, inTonnes,
			computed(t.cell("adjusted", i).String(), tonnesOf(atMoisture(p.closing.Solids, ref.Reference))), mass(d.ownAdjusted(p)), 1 + d.sumTolerance(), t.cell("adjusted", i)})
	}
	return t
}

func (d *closeBook) ownerKey(p pileLine) string {
	if p.phase.Owner == "" {
		return ownStone
	}
	return d.names.key(wordOwner, p.phase.Owner)
}

// declareByProduct declares subtotals of each table of stock by product.
func (d *closeBook) declareByProduct(s *sheet, tables []*table) {
	titles := []string{"The yard's own stone by product", "Stone of others by product"}
	for i, t := range tables {
		var keys []string
		sums := make(map[string]*stockSums)
		for _, product := range d.products() {
			for _, p := range d.piles {
				if p.product == product.key && (p.phase.Owner == "") == (i == 0) {
					if sums[product.key] == nil {
						keys, sums[product.key] = append(keys, product.key), new(stockSums)
					}
					sums[product.key].add(p, atMoisture(p.closing.Solids, product.reference), 0)
				}
			}
		}
		by := column{key: "product", head: "Product", kind: kindText, width: 17, note: "what lies in the piles at the month's end"}
		d.declareSubtotals(s, subtotal{t.spec.name + "ByProduct", titles[i], by, []*table{t}, keys, sums})
	}
}

// declareByOwner declares the split of all stock by owner.
func (d *closeBook) declareByOwner(s *sheet, tables []*table) {
	var keys []string
	sums := make(map[string]*stockSums)
	var all stockSums
	for _, p := range d.piles {
		ref, _ := d.close.Register.Product(p.Product)
		key := d.ownerKey(p)
		if sums[key] == nil {
			keys, sums[key] = append(keys, key), new(stockSums)
		}
		sums[key].add(p, atMoisture(p.closing.Solids, ref.Reference), 0)
		all.add(p, atMoisture(p.closing.Solids, ref.Reference), d.ownAdjusted(p))
	}
	slices.Sort(keys)
	by := column{key: "owner", head: "Owner", kind: kindText, width: 17, note: "own where the stone is the yard's"}
	t := d.declareSubtotals(s, subtotal{"ByOwner", "All stock by owner", by, tables, keys, sums})
	roll := d.roll[solidsFacet]
	d.check(checkRow{"Inventory: solids of all owners, against the roll-forward", inTonnes, computed(t.totalCell("solids").String(), mass(all.closing.Solids)),
		computed(roll.totalCell("closing").String(), mass(all.closing.Solids)), 2 * d.sumTolerance(), t.totalCell("solids")})
	d.check(checkRow{"Inventory: moisture-adjusted total of all owners", inTonnes, computed(t.totalCell("adjusted").String(), tonnesOf(all.adjusted)),
		mass(all.own), all.piles + 2*d.sumTolerance(), t.totalCell("adjusted")})
	d.check(checkRow{"Inventory: as-is total of all owners", inTonnes, computed(t.totalCell("as_is").String(), mass(all.closing.AsIs())),
		mass(d.ownClosing().AsIs()), 2 * d.sumTolerance(), t.totalCell("as_is")})
}

// subtotal is what declareSubtotals adds up: the rows of tables of stock that agree in a column.
type subtotal struct {
	name, title string
	by          column
	tables      []*table
	keys        []string
	sums        map[string]*stockSums
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
	var rows [][]value
	var total stockSums
	line := func(word string, x stockSums) []value {
		return []value{text(word), mass(x.closing.Solids), mass(x.closing.Water), mass(x.closing.AsIs()), tonnesOf(x.adjusted)}
	}
	for _, key := range sub.keys {
		x := sub.sums[key]
		rows = append(rows, line(key, *x))
		total.closing, total.adjusted = plus(total.closing, x.closing), total.adjusted.Add(x.adjusted)
	}
	return s.table(tableSpec{name: sub.name, title: sub.title, columns: columns, count: len(rows), rows: rowsOf(rows...), total: line("All", total)})
}
