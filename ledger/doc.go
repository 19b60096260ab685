// Package ledger is the model of a stockpile yard's book: exact masses, records, double entry of solids
// and water, surveys, and the comparison of the two.
//
// The pipeline, in order:
//
//   - A [Record] is one immutable [Fact] with its origin: a load, a belt reading, a survey, a test, a rule
//     of the yard. Records are kept in an append-only log, each as one canonical line.
//   - A [Register] answers what was in force when: which product lay in a pile, which moisture and density
//     tests counted, which policies ruled, which record has replaced which.
//   - [Derive] enters a month: it turns the yard's records, in the order in which things happened, into
//     entries of legs from one account to another, and sets every survey against the book at its end.
//   - The [Month] that results holds the flows of every pile, the comparisons, the problems that stand in
//     the way of a close, and the [State] that the next month starts from.
//
// Masses are whole grams ([Mass]); solids and water are conserved separately, so the sum over all accounts
// is zero, always. Moisture is in per cent of dry mass ([DryBasis]). Volumes, densities and moistures are
// exact decimals. Every rounding is half-even and stated where it happens.
//
// The package reads no files and no clock. It asks the time package for time zones, and for nothing else
// outside itself.
package ledger
