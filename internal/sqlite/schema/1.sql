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

-- The log. The leaf is SHA-256(0x00 || the record's canonical line); all other columns repeat what the
-- line says, so that it can be written again and compared.
CREATE TABLE record (
  seq      INTEGER PRIMARY KEY CHECK (seq >= 0),
  kind     INTEGER NOT NULL REFERENCES word,
  yard     INTEGER NOT NULL REFERENCES word,
  key      TEXT NOT NULL,
  revision INTEGER NOT NULL CHECK (revision >= 0),
  at       INTEGER,                      -- nanoseconds since 1970-01-01 UTC; null for what has no instant
  replaces TEXT CHECK (replaces <> ''),  -- the key of the record that this one corrects
  source   INTEGER REFERENCES source,
  row      INTEGER CHECK (row > 0),
  leaf     BLOB NOT NULL CHECK (length(leaf) = 32),
  body     TEXT NOT NULL,
  UNIQUE (kind, yard, key, revision)
) STRICT;

CREATE INDEX record_by_instant ON record (yard, at) WHERE at IS NOT NULL;
CREATE INDEX record_by_replaced ON record (kind, yard, replaces) WHERE replaces IS NOT NULL;

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
  first_seq INTEGER NOT NULL REFERENCES record,
  last_seq  INTEGER NOT NULL REFERENCES record,
  records   INTEGER NOT NULL CHECK (records > 0),
  net_g     INTEGER NOT NULL CHECK (net_g >= 0),
  PRIMARY KEY (batch, source, kind)
) STRICT, WITHOUT ROWID;

-- A sealed period. Yard, period and hash are in its close record.
CREATE TABLE seal (
  id     INTEGER PRIMARY KEY,
  record INTEGER NOT NULL UNIQUE REFERENCES record
) STRICT;

CREATE TABLE sealed_entry (
  seal         INTEGER NOT NULL REFERENCES seal DEFERRABLE INITIALLY DEFERRED,
  n            INTEGER NOT NULL CHECK (n >= 0),
  record       INTEGER NOT NULL REFERENCES record,
  flags        INTEGER NOT NULL CHECK (flags >= 0),
  moisture_pct TEXT,                     -- of dry mass; null where none was needed
  PRIMARY KEY (seal, n),
  UNIQUE (record, seal)
) STRICT, WITHOUT ROWID;

CREATE TABLE sealed_leg (
  seal         INTEGER NOT NULL,
  entry        INTEGER NOT NULL,
  n            INTEGER NOT NULL CHECK (n >= 0),
  from_account INTEGER NOT NULL REFERENCES word,
  to_account   INTEGER NOT NULL REFERENCES word,
  solids_g     INTEGER NOT NULL CHECK (solids_g >= 0),
  water_g      INTEGER NOT NULL CHECK (water_g >= 0),
  PRIMARY KEY (seal, entry, n),
  FOREIGN KEY (seal, entry) REFERENCES sealed_entry,
  CHECK (from_account <> to_account)
) STRICT, WITHOUT ROWID;

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
CREATE TRIGGER record_no_update BEFORE UPDATE ON record BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER record_no_delete BEFORE DELETE ON record BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER batch_no_update BEFORE UPDATE ON batch BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER batch_no_delete BEFORE DELETE ON batch BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER tally_no_update BEFORE UPDATE ON tally BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER tally_no_delete BEFORE DELETE ON tally BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER seal_no_update BEFORE UPDATE ON seal BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER seal_no_delete BEFORE DELETE ON seal BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER sealed_entry_no_update BEFORE UPDATE ON sealed_entry BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER sealed_entry_no_delete BEFORE DELETE ON sealed_entry BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER sealed_leg_no_update BEFORE UPDATE ON sealed_leg BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER sealed_leg_no_delete BEFORE DELETE ON sealed_leg BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER sealed_line_no_update BEFORE UPDATE ON sealed_line BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER sealed_line_no_delete BEFORE DELETE ON sealed_line BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
