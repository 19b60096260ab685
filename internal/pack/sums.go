package pack

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// listing is what is known of a file: from the disk, from SHA256SUMS or from contents.csv.
type listing struct {
	path  string
	sum   string // SHA-256 in lower-case hex; empty where the line does not give one
	bytes int64  // not in SHA256SUMS
	line  int    // of the list
}

// writeSums writes SHA256SUMS: the hash in lower-case hex, two blanks and the path, as sha256sum reads it. The list
// must be sorted by path.
func writeSums(w io.Writer, list []listing) error {
	for _, f := range list {
		if _, err := fmt.Fprintf(w, "%s  %s\n", f.sum, f.path); err != nil {
			return err
		}
	}
	return nil
}

// parseSum reads a line of SHA256SUMS. A line whose path can be read and whose hash cannot is returned with an error.
func parseSum(line string) (listing, error) {
	sum, path, ok := strings.Cut(line, "  ")
	if !ok || !isPath(path) || path == sumsName {
		return listing{}, fmt.Errorf("%.100q: want a SHA-256, two blanks and the path of a file", line)
	}
	if !isSum(sum) {
		return listing{path: path}, fmt.Errorf("%.80q is not a SHA-256 in lower-case hex", sum)
	}
	return listing{path: path, sum: sum}, nil
}

func isSum(s string) bool {
	return len(s) == hex.EncodedLen(sha256.Size) && strings.Trim(s, "0123456789abcdef") == ""
}

// writeContents writes contents.csv. The list must be sorted by path.
func writeContents(w io.Writer, list []listing) error {
	csv := NewCSV(w)
	err := csv.Row(texts("path", "bytes", "sha256")...)
	for _, f := range list {
		if err != nil {
			return err
		}
		if f.path != contentsName && f.path != sumsName {
			err = csv.Row(Text(f.path), Int(f.bytes), Text(f.sum))
		}
	}
	return err
}

const contentsHeader = "path,bytes,sha256\r"

// parseContent reads a row of contents.csv with its carriage return. No path needs quotes.
func parseContent(line string) (listing, error) {
	bad := fmt.Errorf("%.100q: want a path, its bytes and its SHA-256", line)
	row, ok := strings.CutSuffix(line, "\r")
	cells := strings.Split(row, ",")
	if !ok || len(cells) != 3 || !isPath(cells[0]) || cells[0] == sumsName || cells[0] == contentsName {
		return listing{}, bad
	}
	n, err := strconv.ParseInt(cells[1], 10, 64)
	if err != nil || n < 0 || strconv.FormatInt(n, 10) != cells[1] || !isSum(cells[2]) {
		return listing{path: cells[0]}, bad
	}
	return listing{path: cells[0], bytes: n, sum: cells[2]}, nil
}
