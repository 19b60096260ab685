// Package sqlite keeps a book in one SQLite file: the append-only hashed log of records, the files that
// they came from byte for byte, and the sealed periods. schema/1.sql describes the tables.
//
// # What is promised
//
// A [Tx] is committed whole or leaves no trace, also when the program is killed, the machine stops or the
// disk is full. What a write that was cut short left behind is undone by the next [Open], whatever its
// mode; where the folder cannot be written, that is an error and not a wrong figure. SQLite's journal mode
// is DELETE with full synchronisation, so a closed book is one file that can be copied.
//
// Nothing is changed or removed: the tables refuse it. A program that goes round them is found out by
// [Book.Verify], which writes every record's line again, hashes it and compares the Merkle tree heads. It
// cannot find out who has rewritten the whole log, hashes and all: for that, a head must be kept outside
// the book, and compared by [Book.RootAt].
//
// Every page of the file carries a checksum, which is tested whenever the page is read. Storage that
// returns other bytes than were written is ErrDamaged, not a wrong figure.
//
// # Who may do what at once
//
// Any number of programs may read a book, and one may write. A writer waits for another, and for readers
// in the middle of a page-changing moment; a reader waits for a writer that has begun to change pages.
// Whoever has waited ten seconds gets ErrBusy.
//
// # Time
//
// A record's instant, and when a batch was taken in, are stored to the nanosecond, and so must lie between
// the years 1678 and 2261. A [View] shows the book as it was known: the first records of the log, up to a
// size that [Book.SizeKnownAt] finds for an instant.
package sqlite
