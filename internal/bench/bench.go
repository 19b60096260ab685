package bench

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// Bench is a run of cases.
type Bench struct {
	Dir     string           // folder for books and files; what is in it is left there
	Sizes   Sizes            // see [Full]
	Reps    int              // how often each side of a comparison runs, at least once
	Cases   []string         // letters of the cases to run; none for all
	Program Command          // repose
	Peers   Command          // a program that calls [Peer] with the arguments it is given
	SQLite  Command          // the sqlite3 shell
	Office  Command          // LibreOffice
	Limit   time.Duration    // how long the spreadsheet engine may take
	Now     func() time.Time // the clock
	Log     io.Writer        // what is being done
}

// Run runs the cases and returns what they took. Beside an error it returns what had been measured before.
func (b *Bench) Run(ctx context.Context) (*Report, error) {
	if b.Reps < 1 {
		return &Report{}, fmt.Errorf("%d repetitions: want at least one", b.Reps)
	}
	rep := &Report{Schema: 1, Versions: b.versions(ctx), Sizes: b.Sizes, Load: loadAverage()}
	cases := []struct {
		letters string
		run     func(context.Context, *Report) error
	}{{"abe", b.year}, {"c", b.history}, {"d", b.month}}
	for _, c := range cases {
		if !slices.ContainsFunc([]rune(c.letters), func(r rune) bool { return b.wants(string(r)) }) {
			continue
		}
		if err := c.run(ctx, rep); err != nil {
			return rep, fmt.Errorf("cases %s: %w", c.letters, err)
		}
	}
	return rep, nil
}

func (b *Bench) wants(letter string) bool {
	return len(b.Cases) == 0 || slices.Contains(b.Cases, letter)
}

// path returns the place of a file of the run.
func (b *Bench) path(elem ...string) string {
	return filepath.Join(append([]string{b.Dir}, elem...)...)
}

func (b *Bench) say(format string, args ...any) { fmt.Fprintf(b.Log, format+"\n", args...) }

// write writes the tables of an operator into a folder of the run.
func (b *Bench) write(s Size, folder string) error {
	b.say("writing %d loads, %d deck tickets and %d readings of %d yards in %d months", s.Loads, s.Deck, s.Readings, s.Yards, s.Months)
	if err := os.MkdirAll(b.path(folder), 0o755); err != nil {
		return err
	}
	return s.Write(b.path(folder))
}

// copyBook copies a book that no program has open.
func (b *Bench) copyBook(from, to string) error {
	if err := b.remove(to); err != nil {
		return err
	}
	in, err := os.Open(b.path(from))
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.Create(b.path(to))
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	if err == nil {
		err = out.Sync() // so that what is measured next does not wait for these bytes
	}
	return errors.Join(err, out.Close())
}

// remove removes files of the run, if they are there.
func (b *Bench) remove(names ...string) error {
	for _, name := range names {
		if err := os.RemoveAll(b.path(name)); err != nil {
			return err
		}
	}
	return nil
}
