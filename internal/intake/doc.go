// Package intake reads a yard's tables, CSV files and sheets of .xlsx workbooks, into records of the
// ledger.
//
// [Tables] is the catalogue: every table, its columns, what they hold and in which units. [Plan] finds
// out which table each file is, by its name or by a column map ([ReadMap]). [Run] reads the files and
// gives every row to a [Sink] as a [ledger.Record] that knows the row it came from.
//
// Intake is all or nothing. Run checks every row, whatever it has found wrong before, and returns all bad
// rows in one [*RowErrors]; the caller then undoes what the sink has taken in.
//
// The order of the paths plays no part: tables are read in the order of the catalogue, so that a yard is
// known before its piles and a pile before its loads, and files of one table in the order of their names.
// Nor does the order of rows, with two exceptions: of two rows in one call with the same natural key and
// different content the first stands and the second is the conflict; and in the hour that a clock shows
// twice, rows without a ticket are taken in the order of the file.
package intake
