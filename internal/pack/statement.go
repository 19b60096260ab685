package pack

import (
	"encoding/json"

	"repose/ledger"
)

// schema is the number of the form of close.json and of the pack as a whole. A change of meaning is a new number.
const schema = 1

// statement is close.json: the record of the close in plain fields, and the head over the log with that record.
type statement struct {
	Schema  int           `json:"schema"`
	Program string        `json:"program,omitempty"`
	Record  string        `json:"record"`
	Yard    string        `json:"yard"`
	Period  string        `json:"period"`
	Close   int           `json:"close"` // 1 for the first of the month
	Closed  string        `json:"closed"`
	By      string        `json:"by"`
	LogSize int64         `json:"log_size"` // records before the close
	LogRoot string        `json:"log_root"` // head over them
	Head    string        `json:"head"`     // over them and the close
	Entries int           `json:"entries"`
	Seal    string        `json:"seal_sha256"`
	Before  *earlierClose `json:"before,omitempty"`
}

// earlierClose is the close from whose balances the month started.
type earlierClose struct {
	Record string `json:"record"`
	Seal   string `json:"seal_sha256"`
}

func newStatement(program string, end, before *ledger.Record, head string) statement {
	c := end.Fact.(ledger.Close)
	s := statement{Schema: schema, Program: program, Record: end.ID(), Yard: end.Yard, Period: c.Period.String(), Close: end.Revision + 1,
		Closed: c.At.UTC().Format("2006-01-02T15:04:05.999999999Z"), By: end.By, LogSize: c.LogSize, LogRoot: c.LogRoot, Head: head,
		Entries: c.Entries, Seal: c.SealSHA256}
	if before != nil {
		s.Before = &earlierClose{before.ID(), before.Fact.(ledger.Close).SealSHA256}
	}
	return s
}

// text returns the JSON, one field a line.
func (s statement) text() ([]byte, error) {
	b, err := json.MarshalIndent(s, "", "  ")
	return append(b, '\n'), err
}
