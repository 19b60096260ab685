package pack

import (
	"errors"
	"io"
	"iter"
	"strings"

	"repose/ledger"
)

// Contents is what the caller has to give of a closed month. The streams are read once and in the order of the fields.
type Contents struct {
	Program string         // name and version of the program that writes the pack; may be empty
	Close   *ledger.Record // of the close

	// Records is the log from its first record up to and with Close.
	Records iter.Seq2[*ledger.Record, error]

	// Seal writes the text that a close sealed. It is asked for Close and for the close before it.
	Seal func(of *ledger.Record, w io.Writer) error

	// Entries holds the sealed entries in order.
	Entries iter.Seq2[*ledger.Entry, error]

	// Original writes a file as it was taken in, by its SHA-256 in lower-case hex.
	Original func(sha string, w io.Writer) error

	Workbook func(w io.Writer) error
	Tables   []Table
}

// Table is a further table of the month: tables/NAME.csv.
type Table struct {
	Name  string // a-z, 0-9 and hyphens; neither entries nor balances
	Write func(*CSV) error
}

// ErrExists says that something stands where the folder was to be written.
var ErrExists = errors.New("want no folder of that name, or an empty one")

// ErrContents says that what was to be packed contradicts itself, so that the pack would not verify.
var ErrContents = errors.New("what is to be packed does not hold together")

// The files of a pack.
const (
	readmeName     = "README.txt"
	sumsName       = "SHA256SUMS"
	contentsName   = "contents.csv"
	closeName      = "close.json"
	recordsName    = "records.jsonl"
	leavesName     = "leaves.txt"
	sealName       = "seal.txt"
	sealBeforeName = "seal-before.txt"
	workbookName   = "workbook.xlsx"
	originalsName  = "originals.csv"
	entriesName    = tablesFolder + "/entries.csv"
	balancesName   = tablesFolder + "/balances.csv"

	tablesFolder    = "tables"
	originalsFolder = "originals"
)

// always lists the files that every pack has.
var always = [...]string{readmeName, sumsName, contentsName, closeName, recordsName, leavesName, sealName, workbookName,
	originalsName, entriesName, balancesName}

const lowerLettersAndDigits = "abcdefghijklmnopqrstuvwxyz0123456789"

// tablePath returns the place of a further table; ok is false where its name is not one.
func tablePath(name string) (path string, ok bool) {
	path = tablesFolder + "/" + name + ".csv"
	return path, name != "" && len(name) <= maxName && strings.Trim(name, lowerLettersAndDigits+"-") == "" &&
		path != entriesName && path != balancesName
}
