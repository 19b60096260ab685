// Package report builds each report once, as typed figures, for the screen, for JSON and for the workbook.
// It computes nothing that the ledger has computed, rounds nothing but percentages, and writes nothing
// anywhere but to the writer it is given.
package report
