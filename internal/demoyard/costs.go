package demoyard

import "strconv"

// currency is that of the yard's costs and prices.
const currency = "GBP"

// monthlyCost is a cost of each month, in whole pounds from the first month on. It is invented, as are all figures here.
type monthlyCost struct {
	product string // empty for one that all products have in common
	kind    string
	centre  string
	amounts [monthCount]int
}

var monthlyCosts = [...]monthlyCost{
	{kind: "making", centre: "drill and blast", amounts: [monthCount]int{41_200, 40_650, 43_900}},
	{kind: "making", centre: "load and haul", amounts: [monthCount]int{29_800, 30_100, 31_700}},
	{kind: "making", centre: "crushing and screening", amounts: [monthCount]int{52_400, 51_900, 55_350}},
	{product: "sand", kind: "making", centre: "washing", amounts: [monthCount]int{9_800, 9_650, 10_400}},
	{product: "20mm", kind: "making", centre: "washing", amounts: [monthCount]int{6_100, 6_050, 6_300}},
	{product: "10mm", kind: "making", centre: "washing", amounts: [monthCount]int{5_900, 5_700, 6_150}},
	{kind: "fixed", centre: "plant and site", amounts: [monthCount]int{48_000, 48_000, 48_000}},
}

// valued is what a product's opening stock cost in all, and what a tonne of it sells for, in pounds.
type valued struct{ product, cost, price string }

var valuedProducts = [...]valued{
	{"40mm", "58000", "11.90"}, {"20mm", "223000", "13.60"}, {"10mm", "87000", "14.20"}, {"sand", "98000", "10.80"}, {"base", "171000", "7.40"},
}

// costTable returns what the yard's stone cost.
func costTable() textTable {
	t := newTextTable("costs.csv", "costs", "period", "product", "kind", "cost centre", "amount", "currency")
	for _, v := range valuedProducts {
		t.add(period(0), v.product, "opening", "", v.cost, currency)
	}
	for month := range monthCount {
		for _, c := range monthlyCosts {
			t.add(period(month), c.product, c.kind, c.centre, strconv.Itoa(c.amounts[month]), currency)
		}
	}
	return t
}

// priceTable returns what the yard's products sell for.
func priceTable() textTable {
	t := newTextTable("prices.csv", "prices", "from", "product", "price", "selling cost", "per", "currency")
	for _, v := range valuedProducts {
		t.add(period(0), v.product, v.price, "0.85", "t", currency)
	}
	return t
}
