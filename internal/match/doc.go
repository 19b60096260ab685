// Package match finds which loader record and which deck ticket are of the same truckload, one to one: the record
// linkage problem (Fellegi and Sunter, Journal of the American Statistical Association 64 (1969) 1183, from memory),
// solved for all records together as an assignment problem.
//
// # What a pair is worth
//
// A pair's weight is the natural logarithm of a likelihood ratio: that of one truckload which both scales recorded,
// against two truckloads of which each record shows one. With g for the densities among true pairs, f for those
// among all records, and lambda for the tickets a second at the time, it is the sum of
//
//   - the rates: ln (1-a)(1-b)/(a b), with a and b the parts of the loads and of the tickets without partner;
//   - the lag, deck time less load time: ln g(lag)/lambda. g is Student's t with 3 degrees of freedom about the median,
//     with a scale of its own to each side: trucks queue and tasks are paused, but none is weighed before it is full;
//   - the weights: ln g(x)/f(deck), with x = ln(loader/deck) beyond the loader's bias. g is Student's t with 4 degrees of
//     freedom, mixed with 3 % of a wide double exponential for weights that differ for a reason. f is a histogram of the
//     deck's own masses, so that a mass that many trucks have proves less than a rare one;
//   - the truck: ln (1-e)/p where both labels are the same, with p the truck's share of the tickets three hours around;
//     ln e where they differ; nothing where one is missing. e is the part of the true pairs with labels that differ;
//   - the product, likewise, with its share of all tickets;
//   - less ln 3: a pair is claimed only where it is three times likelier than not.
//
// A weighing of zero has no part in it. So a pair with one thing wrong, be it weight, truck or product, still is a pair
// where the others agree: the difference is what a reader looks for. Pairs worth nothing or less are dropped, and of the
// others the set with the largest sum is taken ([repose/internal/assign]; Kuhn 1955, Jonker and Volgenant 1987, from
// memory). Whether records are in the same order on both sides plays no part.
//
// # What is learned
//
// Lags and ratios of all neighbours in time are counted in cells of a minute and 2 %. Those of the same truck heap up in
// one cell, within an hour and a half, whatever the clocks and the loader's bias are. About the highest heap of each
// loader and deck scale a first matching is made, of 6,000 loads at most; then a second one with what the first
// showed. Only pairs that are twenty times likelier than any other of their records teach: medians, and 1.4826 times the
// median absolute deviation (from memory), the parts without partner, and how often labels differ. Labels that never
// agree, because the systems name trucks differently, so lose their say. A loader and a deck scale with fewer than
// twenty such pairs take the figures of all together; with fewer than that in all, a lag of five minutes and weights
// within 3 % are assumed (common practice, no source). The lag holds the offset of the clocks, and cannot be told from
// the way and the queue. One lag is learned for all records given: a clock that jumps in mid-month makes two lags, of
// which the rarer is a tail.
//
// # What is left
//
// A load without ticket, or with one that weighs less, may hold two to six trucks (Merged); a ticket likewise may be
// the sum of two or three loads (Split). All sets of the fourteen nearest free records whose masses add up within the
// tolerance are weighed by the same reckoning: each part against being alone, by its place in time (for a merged record
// mostly the span in which the loader wrote no other record), its product and its truck. Hosts that want the same parts
// are settled together for the largest sum. At last void records are matched with each other and with the kept ones
// that are left.
//
// # How often it is right
//
// Measured on 1,200 weeks of an invented yard, other ones than truth_test.go holds it to: two loaders and a deck scale with
// 30 to 60 trucks an hour at the peak, 2 % of the loads and of the tickets missing, 1 % of the loader records with 2 to 4
// trucks, clocks three minutes apart, loads paused, weights within 0.8 %, and 0.3 % each of the trucks, products and weights
// wrong.
//
//	                                  with truck labels   without   without products too
//	true pairs found                            99.97 %    98.1 %                 92.2 %
//	pairs that are false                        0.006 %     1.3 %                  6.0 %
//	the same, from SureMargin on                0.001 %     0.1 %                  0.5 %
//	pairs below SureMargin                        0.1 %      13 %                   36 %
//	claims of any kind that are false            0.09 %     1.5 %                  6.3 %
//	lumped records found as they are             94.7 %    82.8 %                 56.4 %
//	merged, from SureMargin on, false             1.9 %     8.9 %                   22 %
//
// A claim is false too if a merged record has one wrong ticket, or if only one ticket of a lumped record was found. Most of
// these come of tickets that are alone because their own load is missing: if such a truck was filled at the time and
// weighs about the same, nothing tells it from one on the lumped record. What is missed without labels is trucks that were
// loaded within minutes of each other and weigh nearly the same. The busier a yard, the more there are: at 350 trucks an
// hour and without labels a fifth of the pairs is false; a third reaches SureMargin, of which 2 % are false.
package match
