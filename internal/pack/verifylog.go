package pack

import (
	"cmp"
	"fmt"
	"hash/maphash"
	"io"
	"slices"

	"repose/internal/merkle"
	"repose/ledger"
)

// mark is what the seal and entries.csv are held to for one record: hashes of its ID and of the end of its rows. The
// hashes are of this process only and spare the memory of the texts.
type mark struct {
	seq        int64
	known      bool // whether the record was met
	id, origin uint64
}

// findMarks notes which records the seal points at.
func (c *checker) findMarks() {
	c.each(sealName, func(_ int, text []byte) bool {
		entry, ok := cutKind(text, entryKind)
		if !ok {
			return false // entries come first
		}
		if seq, ok := seqOf(entry); ok {
			c.marks = append(c.marks, mark{seq: seq})
		}
		return true
	})
	slices.SortFunc(c.marks, func(a, b mark) int { return cmp.Compare(a.seq, b.seq) })
	c.marks = slices.Compact(c.marks)
}

// markOf returns the mark of a record, or nil.
func (c *checker) markOf(seq int64) *mark {
	i, ok := slices.BinarySearchFunc(c.marks, seq, func(m mark, seq int64) int { return cmp.Compare(m.seq, seq) })
	if !ok {
		return nil
	}
	return &c.marks[i]
}

// logCheck goes through the records and their leaves.
type logCheck struct {
	*checker
	leaves *lines // nil where there are none, or no more
	tree   merkle.Frontier
	last   merkle.Hash // the leaf that is not in the tree yet
	met    int64       // records
	end    *ledger.Record
	buf    []byte

	differ []leafDifference // the first of them
	others int              // how many more there are
}

// leafDifference is a line whose leaf is not the one that was written down. Which of the two is wrong shows at the end.
type leafDifference struct {
	n            int
	leaf, stated string
}

func (c *checker) checkLog() {
	l := &logCheck{checker: c}
	if f := c.open(leavesName); f != nil {
		defer f.Close()
		l.leaves = newLines(f)
	}
	if !c.each(recordsName, l.record) {
		return
	}
	if l.leaves != nil {
		if _, err := l.leaves.next(); err != io.EOF {
			c.dispute([]place{at(leavesName, l.leaves.n), at(recordsName, 0)}, "there are more leaves than the %d records", l.met)
		}
	}
	c.found.Records = l.met
	l.checkHead()
	l.judgeLeaves()
}

// record checks the next record and its leaf.
func (l *logCheck) record(n int, text []byte) bool {
	if l.met > 0 {
		l.tree.Append(l.last)
	}
	l.met++
	l.last = merkle.LeafHash(text)
	l.checkLeaf(n)
	rec, err := parseRecord(text)
	if l.end = rec; err != nil {
		l.fault(at(recordsName, n), "record %d: %v", n-1, err)
		return true
	}
	if rec.Seq != int64(n-1) {
		l.fault(at(recordsName, n), "it is record %d: want %d", rec.Seq, n-1)
		return true
	}
	l.history.add(rec)
	if m := l.markOf(rec.Seq); m != nil {
		l.buf = appendOrigin(l.buf[:0], rec)
		m.known, m.id, m.origin = true, maphash.String(l.seed, rec.ID()), maphash.Bytes(l.seed, l.buf[:len(l.buf)-1])
		if sha := rec.Source.File; sha != "" {
			l.history.cited[sha] = true
		}
	}
	return true
}

// checkLeaf compares the leaf of line n with the one that was written down.
func (l *logCheck) checkLeaf(n int) {
	if l.leaves == nil {
		return
	}
	stated, err := l.leaves.next()
	switch {
	case err != nil && err != errOpenLine:
		l.dispute([]place{at(leavesName, n), at(recordsName, 0)}, "there is no leaf of record %d", n-1)
		l.leaves = nil
	case err == errOpenLine:
		l.fault(at(leavesName, n), "%v", err)
	case string(stated) != l.last.String():
		if len(l.differ) < maxFileFaults {
			l.differ = append(l.differ, leafDifference{n, l.last.String(), fmt.Sprintf("%.70q", stated)})
		} else {
			l.others++
		}
	}
}

// judgeLeaves blames the records for leaves that differ, unless the tree over them has the head that the close states.
func (l *logCheck) judgeLeaves() {
	places := []place{{path: recordsName}, {path: leavesName}}
	if l.end != nil && !l.changed[recordsName] {
		slices.Reverse(places)
	}
	for _, d := range l.differ {
		places[0].line, places[1].line = d.n, d.n
		l.dispute(places, "record %d has the leaf hash %s, and %s holds %s", d.n-1, d.leaf, leavesName, d.stated)
	}
	l.found.Found += int64(l.others)
}

// checkHead compares the tree with what the close states, which is the last record.
func (l *logCheck) checkHead() {
	n := int(l.met)
	l.found.LogRoot = l.tree.Root().String()
	if l.met > 0 {
		l.tree.Append(l.last)
	}
	l.head = l.tree.Root().String()
	if l.end == nil {
		return // reported, unless there is no record at all
	}
	end, ok := l.end.Fact.(ledger.Close)
	if !ok {
		l.fault(at(recordsName, n), "the last record is %.100q: want the close", l.end.ID())
		return
	}
	l.checker.end = l.end
	l.found.Yard, l.found.Period, l.found.Close = l.end.Yard, end.Period, l.end.Revision+1
	if end.LogSize != l.met-1 || end.LogRoot != l.found.LogRoot {
		l.fault(at(recordsName, 0), "the head over the %d records before the close is %s; the close states %.70q over %d",
			l.met-1, l.found.LogRoot, end.LogRoot, end.LogSize)
	}
}
