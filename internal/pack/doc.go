// Package pack writes the folder that an auditor gets of one closed month, and checks such a folder without the book
// that it came from.
//
// # What is in it
//
//	README.txt             what the folder is, and how to check it without this program
//	SHA256SUMS             the SHA-256 of every other file, in the form that sha256sum reads
//	contents.csv           path, bytes and SHA-256 of every file but these two: a second witness
//	close.json             what was closed, the heads of the log, the hash of the seal
//	records.jsonl          the log from its first record up to the record of the close, one line each, as hashed
//	leaves.txt             the leaf hash of every line of records.jsonl
//	seal.txt               the text that the close sealed: entries, closing balances, rules
//	seal-before.txt        that of the month before, from whose balances this month started; none for a first month
//	workbook.xlsx          the workbook
//	tables/entries.csv     one row for every leg of every sealed entry, with the row of the file that it came from
//	tables/balances.csv    every account: opening, in, out, closing
//	tables/NAME.csv        whatever else the caller gives
//	originals.csv          every file that was taken in up to the close
//	originals/NNN-NAME     those of them that the month rests on, byte for byte
//
// Which original files the month rests on is not the caller's choice. It is settled by the log: those that a sealed
// entry points at, those from which records of the yard were taken in since the close before, and the column maps that
// they were read with.
//
// # What a check can tell
//
// [Verify] holds the files to their sums, the records to their leaves, the tree to the head that the close states, the
// seal to its hash, balances and tables to the seal, original files to the log. Whoever changes the workbook, the
// README or a further table and writes new sums and contents is not found out by that, nor is who rewrites the log with
// all that hangs on it. For both, the SHA-256 of SHA256SUMS, which [Write] and Verify return, must be kept outside.
package pack
