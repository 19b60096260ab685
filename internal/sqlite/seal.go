package sqlite

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"strconv"
	"strings"
	"time"

	"github.com/ncruces/go-sqlite3"

	"repose/ledger"
)

// Kinds of line in the text of a seal.
const (
	entryKind = "entry"
	stateKind = "state"
)

// Sealer writes a sealed period: every entry in order, then the closing state and what other lines belong
// to the close, then Finish.
//
// The SHA-256 of a seal is taken over its text: one line for every entry, then one for every further line.
// Each is a kind, a blank and a JSON object without blanks, and ends with a line feed:
//
//	entry {"seq":12,"record":"load:NORTH:L1/123","flags":2,"moisture_pct_dry":"4.2","legs":[{"from":"pile:NORTH:P1","to":"out:NORTH:sale","solids_g":"23032630","water_g":"967370"}]}
//	state {"balance":"pile:NORTH:P1","solids_g":"1500000000","water_g":"63000000"}
//
// Strings are quoted as in the records' own lines: quote, backslash and control characters are escaped,
// everything else stands as it is. flags is the number of ledger.Flags and is left out where it is zero, as
// is the moisture where none was needed. [Book.WriteSeal] writes the text out, so that anyone can hash it.
type Sealer struct {
	tx      *Tx
	yard    string
	period  ledger.Period
	id      int64
	hash    hash.Hash
	entries int
	sealed  int // of them, those in blocks that are written
	lines   int
	state   bool // whether the closing state has been written
	text    []byte

	insert *sqlite3.Stmt
	block  entryWriter
	taken  []uint64 // a bit for each place in the log whose record has been sealed
	packed []byte
}

// Seal begins to seal a period of a yard. It is ErrSealed where a close of it stands. Commit is refused until Finish.
// A period that was reopened is sealed a second time: both seals stay, and the later close replaces the earlier.
func (tx *Tx) Seal(yard string, period ledger.Period) (*Sealer, error) {
	if err := tx.usable(); err != nil {
		return nil, err
	}
	s := &Sealer{tx: tx, yard: yard, period: period, hash: sha256.New()}
	if err := s.start(); err != nil {
		return nil, tx.fail(fmt.Errorf("close of %s, yard %s: %w", period, yard, err))
	}
	return s, nil
}

func (s *Sealer) start() (err error) {
	tx := s.tx
	if tx.sealer != nil {
		return errors.New("another close is under way")
	}
	standing, err := tx.book.At(tx.tree.Size()).Seals(tx.ctx, s.yard)
	if err != nil {
		return err
	}
	for _, seal := range standing {
		if seal.Close.Period == s.period {
			return ErrSealed
		}
	}
	if s.id, err = tx.number("SELECT coalesce(max(id), 0) + 1 FROM seal"); err != nil {
		return err
	}
	tx.sealer = s
	s.insert, _, err = tx.book.conn.Prepare(`INSERT INTO sealed_block (seal, n, entries, first_at, last_at, packed) VALUES (?, ?, ?, ?, ?, ?)`)
	return err
}

// usable returns why nothing can be sealed any more.
func (s *Sealer) usable() error {
	if err := s.tx.usable(); err != nil {
		return err
	}
	if s.tx.sealer != s {
		return fmt.Errorf("close of %s, yard %s: it is finished", s.period, s.yard)
	}
	return nil
}

// release frees what the sealer holds of the connection.
func (s *Sealer) release() {
	s.insert.Close()
	s.tx.sealer = nil
}

// Entry seals the next entry. Its record must be in the log.
func (s *Sealer) Entry(e *ledger.Entry) error {
	if err := s.usable(); err != nil {
		return err
	}
	if err := s.entry(e); err != nil {
		return s.tx.fail(fmt.Errorf("sealed entry of %s: %w", e.Record.ID(), err))
	}
	return nil
}

func (s *Sealer) entry(e *ledger.Entry) error {
	if s.lines > 0 {
		return errors.New("want all entries before any line")
	}
	if err := s.inLog(e.Record); err != nil {
		return err
	}
	if err := s.take(e.Record.Seq); err != nil {
		return err
	}
	s.block.add(e)
	if s.block.len() >= s.tx.book.blockRows {
		if err := s.writeBlock(); err != nil {
			return err
		}
	}
	s.entries++
	s.text = appendEntry(s.text[:0], e)
	s.hash.Write(s.text)
	return nil
}

// inLog returns an error unless the log has a record of that kind and yard at its place.
func (s *Sealer) inLog(rec *ledger.Record) error {
	key, err := s.tx.book.blockKey(s.tx.ctx, rec.Fact.Kind().String(), rec.Yard)
	if err != nil {
		return err
	}
	_, i, err := s.tx.book.blockWith(s.tx.ctx, key, rec.Seq)
	if err == nil && i < 0 {
		err = fmt.Errorf("record %d is not in the log", rec.Seq)
	}
	return err
}

// take notes that a record has been sealed, and returns an error where it has been already.
func (s *Sealer) take(seq int64) error {
	if s.taken == nil {
		s.taken = make([]uint64, s.tx.tree.Size()/64+1)
	}
	bit := uint64(1) << (seq % 64)
	if s.taken[seq/64]&bit != 0 {
		return errors.New("its entry has been sealed before")
	}
	s.taken[seq/64] |= bit
	return nil
}

func (s *Sealer) writeBlock() error {
	w := &s.block
	if w.len() == 0 {
		return nil
	}
	s.packed = w.appendTo(s.packed[:0])
	err := run(s.insert, s.id, s.sealed, w.len(), w.firstAt, w.lastAt, s.packed)
	s.sealed += w.len()
	w.reset()
	return err
}

// State seals the closing state, from which the next period starts.
func (s *Sealer) State(state ledger.State) error {
	for _, line := range state.Lines() {
		if err := s.Line(stateKind, line); err != nil {
			return err
		}
	}
	s.state = true
	return nil
}

// Line seals a further line: one JSON object in canonical form, under a kind of the caller's own, which is
// one word.
func (s *Sealer) Line(kind, line string) error {
	if err := s.usable(); err != nil {
		return err
	}
	if kind == "" || kind == entryKind || strings.ContainsAny(kind+line, "\n") || strings.Contains(kind, " ") {
		return s.tx.fail(fmt.Errorf("sealed line of kind %q: want one word and one line: %.60q", kind, line))
	}
	if err := s.tx.exec("INSERT INTO sealed_line (seal, n, kind, line) VALUES (?, ?, ?, ?)", s.id, s.lines, kind, line); err != nil {
		return s.tx.fail(err)
	}
	s.lines++
	s.text = appendLine(s.text[:0], kind, line)
	s.hash.Write(s.text)
	return nil
}

// Finish appends the record of the close, which holds the hash of the seal and the head of the log before
// that record, and returns it.
func (s *Sealer) Finish(at time.Time) (*ledger.Record, error) {
	if err := s.usable(); err != nil {
		return nil, err
	}
	rec, err := s.finish(at)
	if err != nil {
		return nil, s.tx.fail(fmt.Errorf("close of %s, yard %s: %w", s.period, s.yard, err))
	}
	return rec, nil
}

func (s *Sealer) finish(at time.Time) (*ledger.Record, error) {
	if !s.state {
		return nil, errors.New("want the closing state before the end")
	}
	if err := s.writeBlock(); err != nil {
		return nil, err
	}
	head := s.tx.Head()
	rec, err := ledger.NewRecord(s.yard, ledger.Close{Period: s.period, LogSize: head.Size, LogRoot: head.Root,
		Entries: s.entries, SealSHA256: hex.EncodeToString(s.hash.Sum(nil)), At: at.UTC()})
	if err != nil {
		return nil, err
	}
	rec.Replaces = rec.Fact.Key()
	if _, _, err := s.tx.append(&rec); err != nil { // always new: no two closes have the same log before them
		return nil, err
	}
	if err := s.tx.exec("INSERT INTO seal (id, record) VALUES (?, ?)", s.id, rec.Seq); err != nil {
		return nil, err
	}
	s.release()
	return &rec, nil
}

// appendEntry appends the line of an entry, with its line feed.
func appendEntry(b []byte, e *ledger.Entry) []byte {
	b = append(b, entryKind+` {"seq":`...)
	b = strconv.AppendInt(b, e.Record.Seq, 10)
	b = append(b, `,"record":`...)
	b = ledger.AppendJSONString(b, e.Record.ID())
	if e.Flags != 0 {
		b = append(b, `,"flags":`...)
		b = strconv.AppendInt(b, int64(e.Flags), 10)
	}
	if m := e.Moisture.Percent(); !m.IsZero() {
		b = append(b, `,"moisture_pct_dry":`...)
		b = ledger.AppendJSONString(b, m.String())
	}
	b = append(b, `,"legs":[`...)
	for i, l := range e.Legs {
		if i > 0 {
			b = append(b, ',')
		}
		b = append(b, `{"from":`...)
		b = ledger.AppendJSONString(b, l.From.String())
		b = append(b, `,"to":`...)
		b = ledger.AppendJSONString(b, l.To.String())
		b = append(b, `,"solids_g":"`...)
		b = strconv.AppendInt(b, int64(l.Solids), 10)
		b = append(b, `","water_g":"`...)
		b = strconv.AppendInt(b, int64(l.Water), 10)
		b = append(b, `"}`...)
	}
	return append(b, "]}\n"...)
}

// appendLine appends a further line, with its line feed.
func appendLine(b []byte, kind, line string) []byte {
	b = append(append(b, kind...), ' ')
	return append(append(b, line...), '\n')
}
