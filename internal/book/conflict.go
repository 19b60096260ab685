package book

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"time"

	"repose/internal/sqlite"
	"repose/ledger"
)

// OpenConflict is a row that came in under the key of a record that the book held with other content.
type OpenConflict struct {
	Record      *ledger.Record
	Fact        ledger.Conflict
	At          time.Time // of the incoming row
	Short       string    // names the conflict on the command line
	Differences []ledger.Difference
}

// OpenConflicts returns the conflicts that nobody has decided, in the order in which they were found.
func (r *Reader) OpenConflicts(ctx context.Context) ([]OpenConflict, error) {
	decided := map[string]bool{}
	for rec, err := range r.view.Records(ctx, ledger.KindDecisionRecord) {
		if err != nil {
			return nil, err
		}
		decided[rec.Fact.(ledger.Decision).Of] = true
	}
	var open []OpenConflict
	for rec, err := range r.view.Records(ctx, ledger.KindConflictRecord) {
		if err != nil {
			return nil, err
		}
		if decided[rec.ID()] {
			continue
		}
		c, err := r.conflict(ctx, rec)
		if err != nil {
			return nil, err
		}
		if r.at.IsZero() || !c.At.After(r.at) { // else it had not happened by then
			open = append(open, c)
		}
	}
	return open, nil
}

func (r *Reader) conflict(ctx context.Context, rec *ledger.Record) (OpenConflict, error) {
	f := rec.Fact.(ledger.Conflict)
	held, err := r.store.ByID(ctx, f.Held)
	if err != nil {
		return OpenConflict{}, err
	}
	incoming, err := f.Record(rec.Yard)
	if err != nil {
		return OpenConflict{}, err
	}
	return OpenConflict{Record: rec, Fact: f, At: incoming.At, Short: shortName(rec), Differences: ledger.Differences(held, &incoming)}, nil
}

// shortName names a record that a person has to type.
func shortName(rec *ledger.Record) string {
	sum := sha256.Sum256([]byte(rec.ID()))
	return hex.EncodeToString(sum[:4])
}

// ErrConflict says that no open conflict goes by a name.
var ErrConflict = errors.New("no open conflict of that name")

// Settling is a decision on a conflict.
type Settling struct {
	Conflict string // as OpenConflict.Short names it
	Take     bool   // the content that came in stands; else the held record does
	Reason   string
	By       string
	Now      time.Time
	DryRun   bool
}

// Settle decides an open conflict. Where what came in stands, it becomes a record that replaces the held
// one; nothing is edited.
func Settle(ctx context.Context, store *sqlite.Book, s Settling) (OpenConflict, error) {
	if strings.TrimSpace(s.Reason) == "" {
		return OpenConflict{}, errors.New("a decision needs a reason in words")
	}
	tx, err := store.Begin(ctx, s.By, s.Now)
	if err != nil {
		return OpenConflict{}, err
	}
	defer tx.Rollback()
	r, err := Read(ctx, store, time.Time{})
	if err != nil {
		return OpenConflict{}, err
	}
	open, err := r.OpenConflicts(ctx)
	if err != nil {
		return OpenConflict{}, err
	}
	for _, c := range open {
		if c.Short != s.Conflict {
			continue
		}
		if err := settle(tx, c, s); err != nil || s.DryRun {
			return c, err
		}
		return c, tx.Commit()
	}
	return OpenConflict{}, fmt.Errorf("%w: %q", ErrConflict, s.Conflict)
}

func settle(tx *sqlite.Tx, c OpenConflict, s Settling) error {
	decision, err := ledger.NewRecord(c.Record.Yard, ledger.Decision{Of: c.Record.ID(), Take: s.Take, Reason: s.Reason})
	if err != nil {
		return err
	}
	if _, _, err := tx.Append(&decision); err != nil || !s.Take {
		return err
	}
	incoming, err := c.Fact.Record(c.Record.Yard)
	if err != nil {
		return err
	}
	incoming.Source = c.Record.Source
	incoming.Replaces = incoming.Fact.Key()
	_, _, err = tx.Append(&incoming)
	return err
}
