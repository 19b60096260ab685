// Package value says what the stock of a yard is worth, exactly: the moving weighted average cost of each product, a month
// in money, its journal, and the tests that standards ask for. It is pure, and knows nothing of books and files.
//
// # Method
//
// A [Stock] is a quantity with its cost. The average is their ratio and is never worked out to be carried on: a quantity
// that goes out takes its portion of the cost. Quantities are masses in grams, of solids or at a product's reference
// moisture: the caller says which, and keeps to it. Money is whole minor units of one [Currency].
//
//   - [Perpetual] goes movement by movement, each issue at the average of its moment.
//   - [Periodic] takes in all that came at its own cost, then lets all else go at that one average. [Month.Value] does so
//     for all products of a yard: the costs of a quarry come once a month, so there is no other average to be had.
//   - [ShareJoint] shares the cost of one crush among its products, by tonnes or by sales value where they part, with
//     by-products at net realisable value. [Overhead.Absorb] keeps the cost of idle capacity out of stock.
//   - [Standard.Test] is the lower of cost and net realisable value, [MonthsOfSupply] shows slow stock.
//
// Shrinkage is three columns. Expected shrinkage is a normal loss: it takes no cost, and what is left is dearer. Explained
// and unexplained shrinkage are abnormal: they are expensed at the average, and the average stays. A gain is the same with
// the sign turned. Which loss of a yard is normal is its policy; a loss given as expected is believed.
//
// What IAS 2.16 keeps out of cost (abnormal waste, storage, administration, selling) the caller keeps out: this package
// cannot tell what an amount was spent on. Loading for sale is a selling cost, haul to an outside yard is cost (common
// practice, no source).
//
// # Rounding
//
//   - The portion of an issue or a return is rounded half-even to the minor unit, from the exact product. The rest stays
//     in stock, and the last gram takes what is left, so cost in is cost out and stock, to the minor unit.
//   - [Allocate] rounds down and gives what is left to the largest remainders.
//   - A quantity times a [Price] is rounded once, half-even to the minor unit.
//   - What is read is not rounded: a figure finer than the minor unit is refused.
//   - A unit cost ([Lot.Per]) is rounded half-even, and only shown. A textbook that carries a rounded unit cost on comes to
//     other figures.
//
// # Where IAS 2 and ASC 330 differ
//
// Paragraphs are from memory throughout; have them checked before they are quoted.
//
//   - Write-downs: taken back when the value rises, up to cost (IAS 2.33); never taken back, the lower figure is the new cost
//     (ASC 330-10-35-14). [IAS2] and [ASC330] do so.
//   - The value to compare with: net realisable value under both (IAS 2.9; ASC 330-10-35-1B), but under ASC 330 stock at
//     LIFO or the retail method keeps the older rule of market with a ceiling and a floor (ASC 330-10-35-1C), which is
//     not here.
//   - Cost formulas: first-in first-out or weighted average (IAS 2.25); ASC 330-10-30-9 allows LIFO too. Only the weighted
//     average is here: a pile mixes.
//   - The same formula for stock of similar nature and use is wanted by IAS 2.25, and not by ASC 330.
//
// They agree on normal capacity (IAS 2.13; ASC 330-10-30-3 to 30-7) and on abnormal waste as an expense (IAS 2.16; ASC
// 330-10-30-7). IAS 2 alone names joint products and by-products (IAS 2.14).
package value
