// Package bench measures the program against what people would use instead, side by side in one run, on the
// records of an invented operator.
//
// [Size] says how large an operator is, and writes the tables that it would send: the same size gives the same
// bytes. [Bench] runs the program and its peers in turn on them, each run in a process of its own, and reports medians
// ([Report]). A ratio is the program's median over its peer's, so less than one means that the program took less. Ratios
// of one run can be compared; seconds of different days cannot.
//
// Nothing here fails because something was slow. What fails is a run whose result is wrong: rows that were not all
// taken in, or balances that differ from the peer's.
//
// The cases:
//
//	a  intake of a year of loads           the sqlite3 shell's plain .import of the file into one table with one index
//	b  balances of all piles at an instant the same sums in SQL over that table
//	c  one month of a long book            the same month of a short book
//	d  a month's workbook                  a bare stream writer with as many cells; a spreadsheet engine recalculating it
//	e  reading a sheet of loads            a bare row iterator
package bench
