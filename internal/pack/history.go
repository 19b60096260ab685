package pack

import (
	"io"
	"slices"

	"repose/ledger"
)

// history is what the rest of a pack needs of the log, gathered record by record.
type history struct {
	files    []*ledger.Record  // of files that were taken in
	closings []*ledger.Record  // closes, reopenings and approvals, by which a close stands or not
	lastUse  map[use]int64     // the last record of a yard that came from a file
	cited    map[string]bool   // SHA-256 of the files that sealed entries point at
	maps     map[string]string // SHA-256 of a file's column map, by that of the file
}

// use is a file as a yard uses it; records of no yard, such as products, serve all.
type use struct{ yard, sha string }

func newHistory() *history {
	return &history{lastUse: map[use]int64{}, cited: map[string]bool{}, maps: map[string]string{}}
}

// add takes in the next record.
func (h *history) add(rec *ledger.Record) {
	switch f := rec.Fact.(type) {
	case ledger.SourceFile:
		h.files = append(h.files, rec)
		h.maps[f.SHA256] = f.Map
	case ledger.Close, ledger.Reopening, ledger.Approval:
		h.closings = append(h.closings, rec)
	}
	if rec.Source.File != "" {
		h.lastUse[use{rec.Yard, rec.Source.File}] = rec.Seq
	}
}

// before returns the close from whose balances a close started: that of the last month before it that stood then. It
// is nil for a yard's first.
func (h *history) before(end *ledger.Record) *ledger.Record {
	var ofYard []*ledger.Record
	for _, rec := range h.closings {
		if rec.Yard == end.Yard && rec.Seq < end.Seq {
			ofYard = append(ofYard, rec)
		}
	}
	var last *ledger.Record
	for _, rec := range ledger.Standing(ofYard) {
		if rec.Fact.(ledger.Close).Period.Before(end.Fact.(ledger.Close).Period) {
			last = rec
		}
	}
	return last
}

// original is a row of originals.csv.
type original struct {
	record *ledger.Record
	file   ledger.SourceFile
	path   string // in the pack; empty for a file that the month does not rest on
}

// originals lists the files of the log, with the places of those that a close rests on.
func (h *history) originals(end *ledger.Record) []original {
	var since int64 = -1
	if before := h.before(end); before != nil {
		since = before.Seq
	}
	needed := map[string]bool{}
	need := func(sha string) { needed[sha], needed[h.maps[sha]] = true, true }
	for sha := range h.cited {
		need(sha)
	}
	for u, seq := range h.lastUse {
		if (u.yard == "" || u.yard == end.Yard) && seq > since {
			need(u.sha)
		}
	}
	list := make([]original, len(h.files))
	for i, rec := range h.files {
		f := rec.Fact.(ledger.SourceFile)
		list[i] = original{record: rec, file: f}
		if needed[f.SHA256] {
			list[i].path = originalPath(i+1, f.Name)
		}
	}
	return list
}

// packed returns those that are in the pack.
func packed(list []original) []original {
	return slices.DeleteFunc(slices.Clone(list), func(o original) bool { return o.path == "" })
}

// writeOriginals writes originals.csv.
func writeOriginals(w io.Writer, list []original) error {
	csv := NewCSV(w)
	err := csv.Row(texts("number", "record", "name", "sha256", "bytes", "map_sha256", "file")...)
	for i, o := range list {
		if err != nil {
			return err
		}
		err = csv.Row(Int(int64(i+1)), Int(o.record.Seq), Text(o.file.Name), Text(o.file.SHA256), Int(o.file.Bytes),
			Text(o.file.Map), Text(o.path))
	}
	return err
}
