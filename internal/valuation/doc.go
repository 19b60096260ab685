// Package valuation puts a month of a yard's book into money: which quantities of which product came and went, which costs
// lie on them, and what package value makes of both. It is pure.
//
// # Quantities
//
// Everything is valued by its solids, which no rain changes. A product's stock is that of all piles of the product that
// the yard owns; piles with an owner of their own are in no figure. Transfers between piles of one product move nothing
// here. Where a pile is built anew with another product, what lay in it becomes the other product at that moment.
// Stone moved to a pile that somebody else owns has left as if it were sold.
//
// # Costs
//
// A cost of making that names a product lies on what was made of it; one that names none is shared out among the products
// that were made, by tonnes or by sales value. Fixed costs are spread at normal production: in a month that makes less,
// the cost of idle capacity is an expense. Costs of a month that come after its close lie on the month in which they
// become known, and are listed.
//
// # Where it begins
//
// A yard is valued from the first month in which it gives a cost. What lay there then has the cost that rows of the kind
// opening say.
package valuation
