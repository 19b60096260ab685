package pack

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"repose/ledger"
)

// maxLine is how long a line may be, in bytes, so that a file of one line does not fill the memory.
const maxLine = 16 << 20

var (
	errOpenLine = errors.New("the last line does not end with a line feed")
	errLongLine = fmt.Errorf("a line is longer than %d bytes", maxLine)
)

// lines reads a file line by line.
type lines struct {
	r    *bufio.Reader
	long []byte
	n    int // of the line that next returned, from 1
}

func newLines(r io.Reader) *lines { return &lines{r: bufio.NewReaderSize(r, 1<<16)} }

// next returns the next line without its line feed, good until the next call. After the last line the error is io.EOF.
// A last line without a line feed is returned with errOpenLine.
func (l *lines) next() ([]byte, error) {
	l.n++
	line, err := l.r.ReadSlice('\n')
	if err == bufio.ErrBufferFull {
		l.long = l.long[:0]
		for err == bufio.ErrBufferFull && len(l.long) < maxLine {
			l.long = append(l.long, line...)
			line, err = l.r.ReadSlice('\n')
		}
		if err == bufio.ErrBufferFull {
			return nil, errLongLine
		}
		l.long = append(l.long, line...)
		line = l.long
	}
	switch {
	case err == nil:
		return line[:len(line)-1], nil
	case err == io.EOF && len(line) > 0:
		return line, errOpenLine
	}
	return nil, err
}

// envelope is a line of the log around the body of its record.
type envelope struct {
	Seq      int64
	Kind     string
	Yard     string
	Revision int
	File     string
	Sheet    string
	Row      int
	Recorded string
	By       string
	Body     json.RawMessage
}

// parseRecord reads a line of the log, and refuses what Record.AppendLine would not have written to the byte.
func parseRecord(line []byte) (*ledger.Record, error) {
	var e envelope
	if err := json.Unmarshal(line, &e); err != nil {
		return nil, fmt.Errorf("not a record: %w", err)
	}
	kind, err := ledger.ParseKind(e.Kind)
	if err != nil {
		return nil, err
	}
	rec := &ledger.Record{Yard: e.Yard, Source: ledger.Source{File: e.File, Sheet: e.Sheet, Row: e.Row}, By: e.By, Seq: e.Seq, Revision: e.Revision}
	if e.Recorded != "" {
		if rec.Recorded, err = time.Parse(time.RFC3339Nano, e.Recorded); err != nil {
			return nil, err
		}
	}
	if err := rec.SetBody(kind, e.Body); err != nil {
		return nil, err
	}
	if !bytes.Equal(rec.AppendLine(nil), line) {
		return nil, errors.New("not in the form in which records are hashed")
	}
	return rec, nil
}
