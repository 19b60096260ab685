// Package stat is the statistics of reconciliation: is a difference between book and survey more than measurement
// error, since when, and what could explain it. It knows nothing of records and names: piles, periods and instruments
// are numbers, masses are float64 tonnes of solids.
//
// The sign is that of shrinkage throughout. A residual is opening + in - out - closing; positive means that the survey
// found less than the book.
//
// In the order in which they are used:
//
//   - [Observations] are what a yard measured, with the standard uncertainties that its records state. Irregular
//     yards are the rule: surveys missed, piles opened and closed, tests that change in mid-month.
//   - [Model] is the residuals of the balances with their covariance V = B B', one column of B for each
//     independent error source. It gives sigma and z of a balance, of sums over time and piles, innovations, chi2,
//     and the fit of any one signature.
//   - [CUSUM] with [PageLimit] watches the innovations of each pile. [EstimateScale] compares them with what was
//     stated, over a history without faults.
//   - [Hypotheses] is what could explain the residuals: losses, swaps, scales, densities and surveys, each from
//     each period. [Scan] has the likelihood ratio of each at the close of each period; [Scan.Thresholds] how
//     large it may be without a fault; [Scan.Alarms] when it was too large; [Scan.Rank] which cause is
//     likeliest, with those that the balances cannot tell apart; [Scan.SecondFault] whether there are two.
//   - [Attribution] says which error sources the residuals come from if there is no fault, and
//     [Observations.Reconcile] the masses that then fit best. [Network] is the same for a plain A x = 0.
//
// Beside that stand the calibration of one scale against another ([Pairs], [Deming], [Weighted], [FitPolynomial]),
// checks of records ([Grubbs], [GeneralizedESD], [ModifiedZScores], [BinomialTail], [LoadsIn]) and the rules of the
// GUM for standard uncertainties ([Rectangular], [Combine], [Propagate]).
//
// The method, its sources and its check values are set out in docs/method.md.
package stat
