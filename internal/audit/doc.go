// Package audit holds the tests that an external auditor runs on a yard's book: samples that anyone can draw again,
// cut-off, the screen of manual entries, piles that ran empty, sensitivity, and the way from a survey's instant to the end
// of a period or back to it. It is pure: it reads no files and no clock, and its only chance is the seed that it is given.
//
// Masses are solids in whole grams. An error of the book has the sign of shrinkage: positive means that the book holds
// more than there is. Floating point is used for Poisson factors alone.
//
//   - [Random], [Stratified] and [MassUnit] draw a [Sample]; [Sample.Project] says what the errors found in it mean for the
//     population, [Projection.Upper] what they may mean at most, [SampleSize] how many items to draw.
//   - [NewCutOff] lists the last and first movements of each instrument around a [Cut], [Straddling] the trucks that were
//     between the loader and the deck scale.
//   - [Journal.Screen] flags manual entries.
//   - [Depletions] compares the book with piles that were loaded to nothing.
//   - [Closing.Sensitivity] says what one per cent of volume, density, moisture or belt does to a closing figure.
//   - [NewRoll] carries a survey forward or back to another instant.
//
// # Standards
//
// The tests answer these, and claim no more. Paragraphs marked [M] are from memory; check them against the current
// text before quoting.
//
//   - ISA 501.4: attend the count and test that final records reflect it; 501.5: a count at another date wants a test of
//     what moved in between; 501.7: where nobody could attend, other procedures, such as the later sale of what was held.
//     Application text A4 (bulk quantities by estimate; movement around cut-off), A9 to A11 (controls over changes,
//     differences between count and records). AU-C 501 says nearly the same [M].
//   - ISA 530: paragraph 14 and A18 to A20 on projecting misstatements, appendix 1 on strata and value-weighted selection,
//     appendix 4 on methods of selection (by its list of contents; the paragraphs' text [M]).
//   - AS 2510.10: well-kept perpetual records may be observed during or after the period (its beginning [M]); .11:
//     statistical methods must be valid and properly applied; .12: tests of records alone do not suffice; .13: earlier
//     inventories that nobody observed.
//   - AS 2401.62 and AU-C 240.49: which journal entries to look at.
package audit
