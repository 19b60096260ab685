package pack

import (
	"bytes"
	"encoding/json"
	"io"
	"maps"
	"slices"
	"strings"
)

// checkOriginals holds originals.csv and the original files to the log.
func (c *checker) checkOriginals() {
	if c.end == nil {
		return
	}
	list := c.history.originals(c.end)
	var b bytes.Buffer
	_ = writeOriginals(&b, list) // a buffer takes everything
	c.compare(originalsName, b.Bytes(), at(recordsName, 0))
	known := map[string]bool{}
	for _, o := range packed(list) {
		known[o.path] = true
		f, ok := c.disk[o.path]
		switch {
		case !ok && !c.there[o.path]:
			c.dispute([]place{at(o.path, 0), at(recordsName, 0)}, "it is missing: the month rests on %.100q", o.file.Name)
		case ok && (f.sum != o.file.SHA256 || f.bytes != o.file.Bytes):
			c.dispute([]place{at(o.path, 0), at(recordsName, int(o.record.Seq)+1)},
				"it is not the file that was taken in: that had %d bytes with SHA-256 %.70q", o.file.Bytes, o.file.SHA256)
		}
	}
	for _, p := range slices.Sorted(maps.Keys(c.disk)) {
		if strings.HasPrefix(p, originalsFolder+"/") && !known[p] {
			c.dispute([]place{at(p, 0), at(recordsName, 0)}, "the log has no file on which the month rests that belongs here")
		}
	}
	for _, o := range list {
		delete(c.history.cited, o.file.SHA256)
	}
	for _, sha := range slices.Sorted(maps.Keys(c.history.cited)) {
		c.fault(at(recordsName, 0), "the month rests on a file that was never taken in, with SHA-256 %.70q", sha)
	}
}

// maxStatement is how long close.json may be, in bytes.
const maxStatement = 1 << 20

// checkStatement holds close.json to the record of the close. The name of the program is all that is its own.
func (c *checker) checkStatement() {
	f := c.open(closeName)
	if f == nil || c.end == nil {
		return
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxStatement))
	var said statement
	if err == nil {
		err = json.Unmarshal(text, &said)
	}
	if err != nil {
		c.fault(at(closeName, 0), "%v", err)
		return
	}
	want, err := newStatement(said.Program, c.end, c.history.before(c.end), c.head).text()
	if err != nil {
		c.fault(at(closeName, 0), "%v", err)
		return
	}
	c.compare(closeName, want, at(recordsName, 0))
}
