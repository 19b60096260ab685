-- Version 1 of a book. Nothing in it is ever changed or removed: every table refuses UPDATE and DELETE.

PRAGMA application_id = 1383101285; -- "Rpse"

-- Texts that recur in records: yards, kinds of record, people, accounts.
CREATE TABLE word (
  id   INTEGER PRIMARY KEY,
  text TEXT NOT NULL UNIQUE
) STRICT;

-- A file that was taken in, byte for byte, in parts of at most 1 MiB that are deflated one by one.
CREATE TABLE file (
  id     INTEGER PRIMARY KEY,
  sha256 BLOB NOT NULL UNIQUE CHECK (length(sha256) = 32),
  bytes  INTEGER NOT NULL CHECK (bytes >= 0)
) STRICT;

CREATE TABLE file_part (
  id       INTEGER PRIMARY KEY,
  file     INTEGER NOT NULL REFERENCES file DEFERRABLE INITIALLY DEFERRED,
  n        INTEGER NOT NULL CHECK (n >= 0),
  deflated BLOB NOT NULL,
  UNIQUE (file, n)
) STRICT;

-- Where a record was read: a file, or a sheet of it.
CREATE TABLE source (
  id    INTEGER PRIMARY KEY,
  file  INTEGER NOT NULL REFERENCES file,
  sheet TEXT NOT NULL,
  UNIQUE (file, sheet)
) STRICT;

-- The log. A block holds records of one kind and yard from one batch, in the order of the log, column by
-- column, with the leaf of each: SHA-256(0x00 || the record's canonical line). The other columns repeat what
-- the block says, so that those that hold what is asked for can be found. docs/book.md has the exact form.
CREATE TABLE block (
  id        INTEGER PRIMARY KEY,
  kind      INTEGER NOT NULL REFERENCES word,
  yard      INTEGER NOT NULL REFERENCES word,
  first_seq INTEGER NOT NULL CHECK (first_seq >= 0),
  last_seq  INTEGER NOT NULL CHECK (last_seq >= first_seq),
  records   INTEGER NOT NULL CHECK (records > 0),
  first_at  INTEGER,             -- the earliest instant, in nanoseconds since 1970-01-01 UTC; null where none of
  last_at   INTEGER,             -- them has one, and the latest
  replacing INTEGER NOT NULL CHECK (replacing >= 0), -- how many of them replace another
  packed    BLOB NOT NULL
) STRICT;

CREATE INDEX block_by_place ON block (yard, kind, first_seq, last_seq, first_at);
CREATE INDEX block_by_instant ON block (yard, last_at, first_at, last_seq) WHERE last_at IS NOT NULL;
CREATE INDEX block_of_kind ON block (kind, first_seq, last_seq, first_at);
CREATE INDEX block_of_replacing ON block (first_seq) WHERE replacing > 0;

-- Where the records are in the log, by what they are called: kind:yard:key.
CREATE TABLE name (
  text     TEXT NOT NULL,
  revision INTEGER NOT NULL CHECK (revision >= 0),
  seq      INTEGER NOT NULL CHECK (seq >= 0),
  PRIMARY KEY (text, revision)
) STRICT, WITHOUT ROWID;

-- One commit to the log: who, when, and the Merkle tree head over all records so far. The frontier holds
-- the roots of the tree's complete subtrees, so that appending goes on without reading the log.
CREATE TABLE batch (
  size        INTEGER PRIMARY KEY CHECK (size > 0),
  root        BLOB NOT NULL CHECK (length(root) = 32),
  frontier    BLOB NOT NULL,
  recorded_at INTEGER NOT NULL,          -- nanoseconds since 1970-01-01 UTC
  recorded_by INTEGER NOT NULL REFERENCES word
) STRICT;

-- What a batch took from a source: how many records of a kind, between which places of the log, and the
-- mass that they state.
CREATE TABLE tally (
  batch     INTEGER NOT NULL REFERENCES batch,
  source    INTEGER NOT NULL REFERENCES source,
  kind      INTEGER NOT NULL REFERENCES word,
  first_seq INTEGER NOT NULL,
  last_seq  INTEGER NOT NULL,
  first_key TEXT NOT NULL,
  last_key  TEXT NOT NULL,
  records   INTEGER NOT NULL CHECK (records > 0),
  net_g     INTEGER NOT NULL CHECK (net_g >= 0),
  PRIMARY KEY (batch, source, kind)
) STRICT, WITHOUT ROWID;

-- A sealed period. Yard, period and hash are in its close record.
CREATE TABLE seal (
  id     INTEGER PRIMARY KEY,
  record INTEGER NOT NULL UNIQUE         -- the place of the close in the log
) STRICT;

-- Entries of a sealed period in order, with their legs, column by column.
CREATE TABLE sealed_block (
  seal     INTEGER NOT NULL REFERENCES seal DEFERRABLE INITIALLY DEFERRED,
  n        INTEGER NOT NULL CHECK (n >= 0),       -- how many entries lie before it
  entries  INTEGER NOT NULL CHECK (entries > 0),
  first_at INTEGER NOT NULL,                      -- the earliest instant of their records, and the latest
  last_at  INTEGER NOT NULL,
  packed   BLOB NOT NULL,
  PRIMARY KEY (seal, n)
) STRICT;

CREATE TABLE sealed_line (
  seal INTEGER NOT NULL REFERENCES seal DEFERRABLE INITIALLY DEFERRED,
  n    INTEGER NOT NULL CHECK (n >= 0),
  kind TEXT NOT NULL,
  line TEXT NOT NULL,
  PRIMARY KEY (seal, n)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER word_no_update BEFORE UPDATE ON word BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER word_no_delete BEFORE DELETE ON word BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER file_no_update BEFORE UPDATE ON file BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER file_no_delete BEFORE DELETE ON file BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER file_part_no_update BEFORE UPDATE ON file_part BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER file_part_no_delete BEFORE DELETE ON file_part BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER source_no_update BEFORE UPDATE ON source BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER source_no_delete BEFORE DELETE ON source BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER block_no_update BEFORE UPDATE ON block BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER name_no_update BEFORE UPDATE ON name BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER block_no_delete BEFORE DELETE ON block BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER name_no_delete BEFORE DELETE ON name BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER batch_no_update BEFORE UPDATE ON batch BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER batch_no_delete BEFORE DELETE ON batch BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER tally_no_update BEFORE UPDATE ON tally BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER tally_no_delete BEFORE DELETE ON tally BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER seal_no_update BEFORE UPDATE ON seal BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER seal_no_delete BEFORE DELETE ON seal BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER sealed_block_no_update BEFORE UPDATE ON sealed_block BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER sealed_block_no_delete BEFORE DELETE ON sealed_block BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER sealed_line_no_update BEFORE UPDATE ON sealed_line BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER sealed_line_no_delete BEFORE DELETE ON sealed_line BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
