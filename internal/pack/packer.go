package pack

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"repose/internal/merkle"
	"repose/ledger"
)

// packer writes the files of a pack one after another.
type packer struct {
	shelf
	contents *Contents
	end      ledger.Close
	history  *history
	head     string // of the log with the close
	before   *ledger.Record
	flows    *flows
	files    []original
}

// writeLog writes the records and their leaves.
func (p *packer) writeLog() error {
	records, err := p.create(recordsName)
	if err != nil {
		return err
	}
	defer records.file.Close() // an output that has ended is closed already
	leaves, err := p.create(leavesName)
	if err != nil {
		return err
	}
	defer leaves.file.Close()
	var tree merkle.Frontier
	var line []byte
	for rec, err := range p.contents.Records {
		if err != nil {
			return err
		}
		if rec.Seq != tree.Size() || rec.Seq > p.contents.Close.Seq {
			return fmt.Errorf("record %d: %w: want %d, and none after the close, %d", rec.Seq, ErrContents, tree.Size(), p.contents.Close.Seq)
		}
		line = rec.AppendLine(line[:0])
		leaf := merkle.LeafHash(line)
		tree.Append(leaf)
		p.history.add(rec)
		if _, err := records.Write(append(line, '\n')); err != nil {
			return err
		}
		if _, err := fmt.Fprintln(leaves, leaf); err != nil {
			return err
		}
	}
	p.head, p.before = tree.Root().String(), p.history.before(p.contents.Close)
	if err := records.end(); err != nil {
		return err
	}
	return leaves.end()
}

// writeSeals writes the seal and that of the month before, and takes the opening balances from the latter.
func (p *packer) writeSeals() error {
	err := p.file(sealName, func(w io.Writer) error { return p.contents.Seal(p.contents.Close, w) })
	if err != nil {
		return err
	}
	opening := ledger.Balances{}
	if p.before != nil {
		if err := p.file(sealBeforeName, func(w io.Writer) error { return p.contents.Seal(p.before, w) }); err != nil {
			return err
		}
		if err := p.read(sealBeforeName, func(r io.Reader) error {
			state, err := sealedState(newLines(r))
			opening = state.Balances
			return err
		}); err != nil {
			return err
		}
	}
	p.flows = newFlows(opening)
	return nil
}

// writeEntries writes entries.csv and balances.csv.
func (p *packer) writeEntries() error {
	err := p.file(entriesName, func(w io.Writer) error {
		b := appendEntriesHeader(nil)
		n := 0
		for e, err := range p.contents.Entries {
			if err != nil {
				return err
			}
			n++
			row := postingOf(n, e)
			if err := p.flows.post(&row); err != nil {
				return err
			}
			if sha := e.Record.Source.File; sha != "" {
				p.history.cited[sha] = true
			}
			for i := range row.rows() {
				b = appendOrigin(row.appendRow(b, i), e.Record)
			}
			if _, err := w.Write(b); err != nil {
				return err
			}
			b = b[:0]
		}
		_, err := w.Write(b) // the header, where there is no entry
		return err
	})
	if err != nil {
		return err
	}
	return p.file(balancesName, p.flows.write)
}

// writeOriginals writes the list of the files that were taken in, and those on which the month rests.
func (p *packer) writeOriginals() error {
	p.files = p.history.originals(p.contents.Close)
	for _, o := range packed(p.files) {
		if err := p.file(o.path, func(w io.Writer) error { return p.contents.Original(o.file.SHA256, w) }); err != nil {
			return fmt.Errorf("original file %q: %w", o.file.Name, err)
		}
	}
	return p.file(originalsName, func(w io.Writer) error { return writeOriginals(w, p.files) })
}

// writeTables writes what the caller makes of the month.
func (p *packer) writeTables() error {
	if err := p.file(workbookName, p.contents.Workbook); err != nil {
		return err
	}
	for _, t := range p.contents.Tables {
		path, ok := tablePath(t.Name)
		if !ok {
			return fmt.Errorf("table %q: want a name of a-z, 0-9 and hyphens that is not one of the pack's own", t.Name)
		}
		if err := p.file(path, func(w io.Writer) error { return t.Write(NewCSV(w)) }); err != nil {
			return fmt.Errorf("table %s: %w", t.Name, err)
		}
	}
	return nil
}

// writePages writes the statement and the page that explains the folder.
func (p *packer) writePages() error {
	s := newStatement(p.contents.Program, p.contents.Close, p.before, p.head)
	text, err := s.text()
	if err != nil {
		return err
	}
	if err := p.file(closeName, func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	}); err != nil {
		return err
	}
	return p.file(readmeName, func(w io.Writer) error { return writeReadme(w, p.page(s)) })
}

// writeLists writes contents.csv and, last of all, SHA256SUMS.
func (p *packer) writeLists() error {
	byPath := func(a, b listing) int { return strings.Compare(a.path, b.path) }
	slices.SortFunc(p.list, byPath)
	if err := p.file(contentsName, func(w io.Writer) error { return writeContents(w, p.list) }); err != nil {
		return err
	}
	slices.SortFunc(p.list, byPath)
	return p.file(sumsName, func(w io.Writer) error { return writeSums(w, p.list) })
}
