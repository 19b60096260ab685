package pack

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash/maphash"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"slices"

	"repose/ledger"
)

// Verify checks a pack and lists everything that does not hold. It needs nothing but the folder, changes nothing in it,
// and follows no symbolic link out of it. An error means that it could not tell: there is no such folder, or ctx is
// done. progress may be nil.
func Verify(ctx context.Context, dir string, progress func(done, total int64)) (*Result, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	c := &checker{ctx: ctx, root: root, progress: progress, found: &Result{}, disk: map[string]listing{}, there: map[string]bool{},
		changed: map[string]bool{}, history: newHistory(), seed: maphash.MakeSeed()}
	if err := c.walk(); err != nil {
		return nil, err
	}
	for _, check := range []func(){c.hashFiles, c.checkLists, c.findMarks, c.checkLog, c.checkSeals, c.checkEntries, c.checkOriginals, c.checkStatement} {
		check()
		if err := ctx.Err(); err != nil {
			return nil, err
		}
	}
	c.found.sort()
	return c.found, nil
}

// checker goes through a pack.
type checker struct {
	ctx         context.Context
	root        *os.Root
	progress    func(done, total int64)
	done, total int64
	found       *Result

	disk    map[string]listing // files, as they are
	there   map[string]bool    // whatever stands in the folder, also what is no file or cannot be read
	changed map[string]bool    // files that were found to be wrong

	history *history
	marks   []mark         // of the records that the seal points at
	seed    maphash.Seed   // of the marks' hashes
	end     *ledger.Record // of the close; nil where it cannot be read
	head    string         // of the log with the close, as computed
	flows   *flows         // from the opening balances on; nil where those are unknown
}

// readAgain lists the files that are read once more after they were hashed.
var readAgain = [...]string{sumsName, contentsName, recordsName, leavesName, sealName, sealName, sealBeforeName, entriesName, balancesName,
	originalsName, closeName}

// walk finds what stands in the folder.
func (c *checker) walk() error {
	for _, folder := range []string{".", tablesFolder, originalsFolder} {
		if folder != "." && !c.isFolder(folder) {
			continue
		}
		held, err := fs.ReadDir(c.root.FS(), folder)
		switch {
		case err != nil && folder == ".":
			return err
		case err != nil:
			c.fault(at(folder, 0), "cannot be read: %v", err)
			continue
		}
		for _, entry := range held {
			c.meet(path.Join(folder, entry.Name()), entry)
		}
	}
	for _, name := range readAgain {
		c.total += c.disk[name].bytes
	}
	return nil
}

// isFolder reports whether a folder of the pack is one. walk has said so where it is something else.
func (c *checker) isFolder(name string) bool {
	info, err := c.root.Lstat(name)
	return err == nil && info.IsDir()
}

// meet notes a file, and reports what is none.
func (c *checker) meet(name string, entry fs.DirEntry) {
	c.there[name] = true
	isOurs := name == tablesFolder || name == originalsFolder
	switch mode := entry.Type(); {
	case mode.IsDir() && isOurs:
	case isOurs:
		c.fault(at(name, 0), "want a folder")
	case mode.IsDir():
		c.fault(at(name, 0), "a folder that does not belong here; nothing in it was looked at")
	case mode&fs.ModeSymlink != 0:
		c.fault(at(name, 0), "a symbolic link, which was not followed: want a file")
	case !mode.IsRegular():
		c.fault(at(name, 0), "neither a file nor a folder")
	default:
		info, err := entry.Info()
		if err != nil {
			c.fault(at(name, 0), "cannot be read: %v", err)
			return
		}
		c.disk[name] = listing{path: name, bytes: info.Size()}
		c.total += info.Size()
	}
}

// hashFiles takes the SHA-256 of every file.
func (c *checker) hashFiles() {
	for _, name := range slices.Sorted(maps.Keys(c.disk)) {
		f := c.open(name)
		if f == nil {
			continue
		}
		h := sha256.New()
		n, err := io.Copy(h, f)
		f.Close()
		if err != nil {
			c.unreadable(name, err)
			continue
		}
		c.disk[name] = listing{path: name, bytes: n, sum: hex.EncodeToString(h.Sum(nil))}
		c.found.Files++
		c.found.Bytes += n
	}
	c.found.SumsSHA256 = c.disk[sumsName].sum
}

// unreadable reports a file that could not be read, and leaves it out of all that follows.
func (c *checker) unreadable(name string, err error) {
	delete(c.disk, name)
	c.fault(at(name, 0), "cannot be read: %v", err)
}

// open opens a file of the pack; nil where there is none that can be read.
func (c *checker) open(name string) *input {
	if _, ok := c.disk[name]; !ok {
		return nil
	}
	f, err := c.root.Open(name)
	if err != nil {
		c.unreadable(name, err)
		return nil
	}
	return &input{File: f, checker: c}
}

// input is a file that is being read.
type input struct {
	*os.File
	checker *checker
}

// Read reads on, unless the work was called off.
func (f *input) Read(b []byte) (int, error) {
	c := f.checker
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := f.File.Read(b)
	if c.done += int64(n); c.progress != nil {
		c.progress(c.done, c.total)
	}
	return n, err
}

// WriteTo keeps io.Copy from going round Read.
func (f *input) WriteTo(w io.Writer) (int64, error) {
	return io.Copy(w, struct{ io.Reader }{f})
}

// each calls a function with every line of a file and its number, until it returns false. It reports what keeps it from
// reading on. ok is false where there is no such file.
func (c *checker) each(name string, line func(n int, text []byte) bool) (ok bool) {
	f := c.open(name)
	if f == nil {
		return false
	}
	defer f.Close()
	for l := newLines(f); ; {
		text, err := l.next()
		switch {
		case err == io.EOF:
			return true
		case err != nil:
			c.fault(at(name, l.n), "%v", err)
		}
		if err != nil && err != errOpenLine || !line(l.n, text) {
			return true
		}
	}
}

// compare holds a file to the text that it must have, and disputes the first line that differs with other places.
func (c *checker) compare(name string, want []byte, others ...place) {
	wanted := newLines(bytes.NewReader(want))
	stopped := false
	c.each(name, func(n int, text []byte) bool {
		w, err := wanted.next()
		if err != nil {
			c.dispute(append([]place{at(name, n)}, others...), "want no further line: %.100q", text)
		} else if string(w) != string(text) {
			c.dispute(append([]place{at(name, n)}, others...), "want %s, found %s", excerpt(w), excerpt(text))
		} else {
			return true
		}
		stopped = true
		return false
	})
	if w, err := wanted.next(); err == nil && !stopped && c.disk[name].sum != "" {
		c.dispute(append([]place{at(name, wanted.n)}, others...), "ends here: want %s", excerpt(w))
	}
}

func excerpt(b []byte) string { return fmt.Sprintf("%.100q", b) }
