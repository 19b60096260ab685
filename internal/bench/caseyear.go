package bench

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
)

// Files and folders of the year of a large operator.
const (
	yearFolder = "year"
	baseBook   = "base.book" // registers, openings, tests and surveys: no movements
	yearBook   = "year.book"
)

// year runs cases a, b and e.
func (b *Bench) year(ctx context.Context, rep *Report) error {
	s := b.Sizes.Year
	if err := b.write(s, yearFolder); err != nil {
		return err
	}
	if err := b.base(ctx); err != nil {
		return err
	}
	if b.wants("e") {
		if err := b.sheets(ctx, rep); err != nil {
			return err
		}
	}
	if !b.wants("a") && !b.wants("b") {
		return nil
	}
	if err := b.intake(ctx, rep); err != nil {
		return err
	}
	if !b.wants("b") {
		return nil
	}
	return b.stock(ctx, rep)
}

// base makes the book that loads are taken into: all tables that do not grow with them.
func (b *Bench) base(ctx context.Context) error {
	if err := b.remove(baseBook); err != nil {
		return err
	}
	args := []string{"intake"}
	for name := range headers {
		if !slices.Contains(movementTables, name) {
			args = append(args, filepath.Join(yearFolder, name))
		}
	}
	_, _, err := b.repose(ctx, baseBook, args...)
	return err
}

// intake runs case a.
func (b *Bench) intake(ctx context.Context, rep *Report) error {
	loads := b.Sizes.Year.Loads
	ours := func() (Figures, error) {
		if err := b.copyBook(baseBook, yearBook); err != nil {
			return Figures{}, err
		}
		return b.takeIn(ctx, yearBook, loads, filepath.Join(yearFolder, "loads.csv"))
	}
	err := rep.add(b.compare(Line{Case: "a", What: fmt.Sprintf("intake of %d loads from CSV", loads), Peer: "sqlite3 .import, one index", Target: 1.5,
		Note: note(b.SQLite, "then below 1.0")}, ours, b.ifInstalled(b.SQLite, func() (Figures, error) { return b.importLoads(ctx) })))
	if err != nil {
		return err
	}
	// What follows needs the book of everything; the table of loads goes into it once, so this is one run.
	rest := b.Sizes.Year.Deck + b.Sizes.Year.Readings
	once := *b
	once.Reps = 1
	return rep.add(once.compare(Line{Case: "a", What: fmt.Sprintf("intake of %d deck tickets and %d readings", b.Sizes.Year.Deck, b.Sizes.Year.Readings),
		Note: "into the book of loads; no peer"},
		func() (Figures, error) {
			return b.takeIn(ctx, yearBook, rest, filepath.Join(yearFolder, "deck.csv"), filepath.Join(yearFolder, "production.csv"))
		}, nil))
}

// takeIn takes files in and holds the report to the number of rows that they have.
func (b *Bench) takeIn(ctx context.Context, book string, rows int, args ...string) (Figures, error) {
	out, f, err := b.repose(ctx, book, append([]string{"intake", "--json"}, args...)...)
	if err != nil {
		return f, err
	}
	var said struct {
		Files []struct {
			New int `json:"new"`
		} `json:"files"`
	}
	if err := json.Unmarshal(out, &said); err != nil {
		return f, fmt.Errorf("what intake said: %w", err)
	}
	taken := 0
	for _, file := range said.Files {
		taken += file.New
	}
	if taken != rows {
		return f, fmt.Errorf("intake took in %d rows, want %d", taken, rows)
	}
	return f, nil
}

// ifInstalled returns a side, or none where its program is not there.
func (b *Bench) ifInstalled(c Command, s side) side {
	if c.Path == "" {
		return nil
	}
	return s
}

// note is what is said beside a ratio, or that there is none.
func note(c Command, text string) string {
	if c.Path == "" {
		return "peer not installed"
	}
	return text
}
