package pack

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"maps"
	"slices"
)

// list is a list of files as it was read: SHA256SUMS or contents.csv.
type list struct {
	name  string
	held  bool // whether it is there at all
	files map[string]listing
}

// maxListed is how many files a list may name, so that a forged one does not fill the memory.
const maxListed = 1 << 20

// readList reads a list and reports lines that are malformed, doubled or out of order. skip is how many lines come before
// the first file.
func (c *checker) readList(name string, skip int, parse func(line string) (listing, error)) list {
	l := list{name: name, files: map[string]listing{}}
	last := ""
	l.held = c.each(name, func(n int, text []byte) bool {
		if n <= skip {
			if string(text) != contentsHeader {
				c.fault(at(name, n), "%.100q: want %.100q", text, contentsHeader)
			}
			return true
		}
		f, err := parse(string(text))
		f.line = n
		before, doubled := l.files[f.path]
		switch {
		case err != nil:
			c.fault(at(name, n), "%v", err)
		case doubled:
			c.fault(at(name, n), "%s is listed twice, also in line %d", f.path, before.line)
		case f.path < last:
			c.fault(at(name, n), "%s comes after %s: want the paths in order", f.path, last)
		case len(l.files) == maxListed:
			c.fault(at(name, n), "more than %d files are listed", maxListed)
			return false
		}
		if f.path != "" && !doubled {
			l.files[f.path], last = f, max(last, f.path)
		}
		return true
	})
	return l
}

// checkLists holds the files to both lists, and each list to the other. Where a file and one list agree, the other list
// is wrong.
func (c *checker) checkLists() {
	sums := c.readList(sumsName, 0, parseSum)
	contents := c.readList(contentsName, 1, parseContent)
	paths := map[string]bool{}
	for _, l := range []map[string]listing{c.disk, sums.files, contents.files} {
		for p := range l {
			paths[p] = true
		}
	}
	for _, p := range always {
		paths[p] = true
	}
	for _, p := range slices.Sorted(maps.Keys(paths)) {
		if _, ok := c.disk[p]; !ok {
			c.missing(p, sums, contents)
		} else if p != sumsName && p != contentsName {
			c.vote(c.disk[p], sums, contents)
		}
	}
	c.checkContents(sums)
}

// missing reports a path at which no file stands.
func (c *checker) missing(p string, sums, contents list) {
	if c.there[p] {
		return // and it was said what is wrong with it
	}
	s, inSums := sums.files[p]
	w, inContents := contents.files[p]
	switch {
	case inSums == inContents || !contents.held || slices.Contains(always[:], p):
		c.fault(at(p, 0), "it is missing")
		c.there[p] = true // said once
	case inSums:
		c.fault(at(sumsName, s.line), "%s is listed and is not there", p)
	default:
		c.fault(at(contentsName, w.line), "%s is listed and is not there", p)
	}
}

// verdict is what a list says of a file. The zero value is nothing: the list is not there, or its line cannot be read.
type verdict uint8

const (
	agrees verdict = iota + 1
	differs
	silent // the list does not have the file
)

func (l list) verdict(f listing) (verdict, listing) {
	w, ok := l.files[f.path]
	switch {
	case !l.held || ok && w.sum == "":
		return 0, w
	case !ok:
		return silent, w
	case w.sum != f.sum || l.name == contentsName && w.bytes != f.bytes:
		return differs, w
	}
	return agrees, w
}

// vote compares a file with what both lists say of it.
func (c *checker) vote(f listing, sums, contents list) {
	inSums, s := sums.verdict(f)
	inContents, w := contents.verdict(f)
	switch {
	case inSums != agrees && inContents != agrees && (inSums == differs || inContents == differs):
		c.fault(at(f.path, 0), "it has %d bytes with SHA-256 %s: %s%s", f.bytes, f.sum, says(sums, s), says(contents, w))
	case inSums == differs:
		c.fault(at(sumsName, s.line), "%s has SHA-256 %s, as %s says", f.path, f.sum, contentsName)
	case inContents == differs:
		c.fault(at(contentsName, w.line), "%s has %d bytes with SHA-256 %s", f.path, f.bytes, f.sum)
	case inSums == silent && inContents != agrees:
		c.fault(at(f.path, 0), "no list names it")
	case inSums == silent:
		c.fault(at(sumsName, 0), "%s is not listed", f.path)
	case inContents == silent:
		c.fault(at(contentsName, 0), "%s is not listed", f.path)
	}
}

// says puts into words what a list has for a file that it does not agree with.
func says(l list, f listing) string {
	if f.sum == "" {
		return l.name + " says nothing. "
	}
	return l.name + " says " + f.sum + ". "
}

// checkContents settles whether contents.csv or its line in SHA256SUMS is wrong, where they differ: it can be written
// again from the files.
func (c *checker) checkContents(sums list) {
	f, ok := c.disk[contentsName]
	if !ok {
		return
	}
	said, s := sums.verdict(f)
	switch said {
	case silent:
		c.fault(at(sumsName, 0), "%s is not listed", contentsName)
	case differs:
		var files []listing
		for _, p := range slices.Sorted(maps.Keys(c.disk)) {
			files = append(files, c.disk[p])
		}
		var b bytes.Buffer
		_ = writeContents(&b, files) // a buffer takes everything
		if again := sha256.Sum256(b.Bytes()); hex.EncodeToString(again[:]) == f.sum {
			c.fault(at(sumsName, s.line), "%s has SHA-256 %s", contentsName, f.sum)
			return
		}
		c.fault(at(contentsName, 0), "its SHA-256 is %s: %s", f.sum, says(sums, s))
	}
}
