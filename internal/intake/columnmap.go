package intake

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"

	"repose/internal/table"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// Map is a column map: how a file of other headers, words and notations becomes one of the tables. It is
// read from TOML by [ReadMap] and does not change:
//
//	table = "deck"                     # which table it makes
//	match = "Tickets*.csv"             # base names that it claims, whatever their case; see [Assign]
//	encoding = "windows-1252"          # utf-8, utf-16, utf-16le, utf-16be; else by the byte-order mark, or utf-8
//	delimiter = ";"                    # one character, or "tab"; else a comma
//	decimal = ","                      # else a point
//	thousands = "."                    # else none; " " stands for no-break blanks too
//	"header row" = 3                   # else 1
//	"date layout" = "DD.MM.YYYY HH:MM" # else ISO; tokens YYYY YY MM DD HH hh mm SS AM, and MM after an hour is minutes
//	"repeated hour" = "first"          # or "second": the hour that a clock shows twice, else by the order of tickets
//	sheet = "Table1"                   # of a workbook; needed where it has several
//
//	[columns]                          # ours = theirs
//	time = "Date/time"                 # or { date = "Date", time = "Time" }, joined with a blank
//	net = { from = "Net", unit = "kg" }
//	"tag job" = "Project"              # kept under the yard's own name
//
//	[constants]                        # ours = what every row holds; a unit stands as in a header: "volume u [%]"
//	deck = "D1"
//
//	[values.status]                    # theirs = ours; a word that is not listed passes if it is one of ours
//	"cancelled" = "void"
//
// Where their header itself ends in a unit in square brackets, that unit holds without being repeated.
// In a workbook the notation of numbers and dates is that of texts: cells that hold real ones are taken
// as they are.
type Map struct {
	name   string
	raw    []byte
	sha256 string

	text     mapText
	table    *Table
	layout   table.Layout
	numbers  numberFormat
	dates    *dateLayout
	repeated pass
	columns  []mappedColumn
	where    map[string]position // of keys, joined by keySeparator
}

// Decode returns the text of a CSV file that was taken in with the map, or with none where m is nil, as UTF-8.
func (m *Map) Decode(name string, r io.Reader) (io.Reader, error) {
	if m == nil {
		return table.Decode(name, r, table.Layout{})
	}
	return table.Decode(name, r, m.layout)
}

// mapCheck notes what is wrong at a key of a map.
type mapCheck func(found, wanted string, key ...string)

// mapText is a column map as it is written.
type mapText struct {
	Table     string                       `toml:"table"`
	Match     string                       `toml:"match"`
	Encoding  string                       `toml:"encoding"`
	Delimiter string                       `toml:"delimiter"`
	Decimal   string                       `toml:"decimal"`
	Thousands string                       `toml:"thousands"`
	HeaderRow int                          `toml:"header row"`
	DateForm  string                       `toml:"date layout"`
	Repeated  string                       `toml:"repeated hour"`
	Sheet     string                       `toml:"sheet"`
	Columns   map[string]mapColumn         `toml:"columns"`
	Constants map[string]string            `toml:"constants"`
	Values    map[string]map[string]string `toml:"values"`
}

// The keys of a map, and those of a column in it.
var (
	mapKeys = []string{"table", "match", "encoding", "delimiter", "decimal", "thousands", "header row", "date layout",
		"repeated hour", "sheet", "columns", "constants", "values"}
	columnKeys = []string{"from", "unit", "date", "time"}
)

// mapColumn says where a column comes from: a header, one with a unit, or two that hold date and time.
type mapColumn struct {
	From string `toml:"from"`
	Unit string `toml:"unit"`
	Date string `toml:"date"`
	Time string `toml:"time"`
}

// UnmarshalText takes a plain header.
func (c *mapColumn) UnmarshalText(b []byte) error {
	c.From = string(b)
	return nil
}

type position struct{ row, column int }

// keySeparator joins the parts of a TOML key; no key can hold it.
const keySeparator = "\x00"

// pass says which of the two times a clock shows in a repeated hour is meant.
type pass uint8

const (
	firstPass pass = iota + 1
	secondPass
)

// ReadMap reads a column map. name stands in positions. What is wrong with it comes as *RowErrors.
func ReadMap(name string, data []byte) (*Map, error) {
	sum := sha256.Sum256(data)
	m := &Map{name: name, raw: slices.Clone(data), sha256: hex.EncodeToString(sum[:])}
	dec := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields()
	if err := dec.Decode(&m.text); err != nil {
		return nil, m.decodeErrors(err)
	}
	m.where = keyPositions(m.raw)
	var errs RowErrors
	check := func(found, wanted string, key ...string) {
		errs.add(m.errorAt(found, wanted, key...))
	}
	m.setTable(check)
	m.setNotation(check)
	if m.table != nil {
		m.setColumns(check)
		m.setConstants(check)
		m.setValues(check)
	}
	if errs.Total == 0 {
		m.checkNeeds(check)
	}
	if errs.Total > 0 {
		errs.sort(0)
		return nil, &errs
	}
	return m, nil
}

// Name returns the name that positions in the map begin with.
func (m *Map) Name() string { return m.name }

// SHA256 returns the hash of the map's bytes in lower-case hex.
func (m *Map) SHA256() string { return m.sha256 }

// Table returns the name of the table that the map makes.
func (m *Map) Table() string { return m.table.Name }

// matches reports whether the map claims a file by its base name; false for a map without a glob.
func (m *Map) matches(base string) bool {
	ok, err := path.Match(strings.ToLower(m.text.Match), strings.ToLower(base))
	return ok && err == nil && m.text.Match != ""
}

// decodeErrors turns errors of the TOML decoder into ones with this package's positions.
func (m *Map) decodeErrors(err error) error {
	var errs RowErrors
	var strict *toml.StrictMissingError
	var bad *toml.DecodeError
	switch {
	case errors.As(err, &strict):
		for i := range strict.Errors {
			e := &strict.Errors[i]
			row, column := e.Position()
			key, known := e.Key()[len(e.Key())-1], mapKeys
			if len(e.Key()) > 1 {
				known = columnKeys
			}
			errs.add(&table.Error{File: m.name, Row: row, Column: column, Found: "the key " + quote(key), Wanted: wantedKey(key, known), Err: err})
		}
	case errors.As(err, &bad):
		row, column := bad.Position()
		e := &table.Error{File: m.name, Row: row, Column: column, Err: err}
		if key := bad.Key(); len(key) > 0 {
			e.Found = "a value of another kind for " + quote(strings.Join(key, "."))
			e.Wanted = `text in quotes (but "header row" = 3), or a column as "header", { from = "header", unit = "kg" } or { date = "header", time = "header" }`
		} else {
			e.Found = "no TOML: " + strings.TrimPrefix(bad.Error(), "toml: ")
			e.Wanted = `key = value on every line, and a key with a blank in quotes, as in "header row" = 3`
		}
		errs.add(e)
	default:
		errs.add(&table.Error{File: m.name, Found: "no TOML: " + err.Error(), Wanted: "a column map", Err: err})
	}
	return errs.err()
}

// wantedKey says which key stands for one that is not known.
func wantedKey(key string, known []string) string {
	n := nearest(strings.NewReplacer("_", " ", "-", " ").Replace(key), known)
	switch {
	case n == "":
		return "one of " + quoteAll(known)
	case strings.Contains(n, " "):
		return strconv.Quote(n) + " in quotes, as TOML has keys with a blank"
	}
	return n
}

// errorAt returns an error at the place of a key of the map.
func (m *Map) errorAt(found, wanted string, key ...string) *table.Error {
	at := m.where[strings.Join(key, keySeparator)]
	return &table.Error{File: m.name, Row: at.row, Column: at.column, Found: found, Wanted: wanted}
}

// keyPositions finds where the keys of a valid TOML document stand.
func keyPositions(data []byte) map[string]position {
	where := map[string]position{}
	var p unstable.Parser
	p.Reset(data)
	var prefix []string
	for p.NextExpression() {
		e := p.Expression()
		var path []string
		var at position
		for it := e.Key(); it.Next(); {
			n := it.Node()
			start := p.Shape(n.Raw).Start
			at = position{start.Line, start.Column}
			path = append(path, string(n.Data))
		}
		if e.Kind == unstable.Table {
			prefix = path
		} else {
			path = append(slices.Clone(prefix), path...)
		}
		where[strings.Join(path, keySeparator)] = at
	}
	return where
}

// setTable resolves the table and the glob.
func (m *Map) setTable(check mapCheck) {
	tables := catalogue(Tables())
	m.table = tables.find(fold(m.text.Table))
	if m.table == nil {
		check("the table "+quote(m.text.Table), "one of "+tables.names(), "table")
	}
	if _, err := path.Match(m.text.Match, ""); err != nil {
		check(quote(m.text.Match), "a pattern such as \"tickets*.csv\"", "match")
	}
	if len(m.text.Columns) == 0 && m.table != nil {
		check("no columns", "[columns] with a line for each: ours = \"theirs\"", "columns")
	}
}

// setNotation resolves how the file is written.
func (m *Map) setNotation(check mapCheck) {
	t := &m.text
	m.layout.Encoding = strings.ToLower(t.Encoding)
	if encodings := []string{"", "utf-8", "utf-16", "utf-16le", "utf-16be", "windows-1252"}; !slices.Contains(encodings, m.layout.Encoding) {
		check(quote(t.Encoding), "one of "+strings.Join(encodings[1:], ", "), "encoding")
	}
	switch r := []rune(t.Delimiter); {
	case t.Delimiter == "tab":
		m.layout.Delimiter = '\t'
	case len(r) == 1 && r[0] != '"' && r[0] != '\n' && r[0] != '\r':
		m.layout.Delimiter = r[0]
	case t.Delimiter != "":
		check(quote(t.Delimiter), `one character, or "tab"`, "delimiter")
	}
	if m.layout.HeaderRow = t.HeaderRow; t.HeaderRow < 0 || t.HeaderRow == 0 && m.where["header row"] != (position{}) {
		check(strconv.Itoa(t.HeaderRow), "1 or more", "header row")
	}
	switch t.Decimal {
	case "", ".", ",":
		m.numbers.decimal = (t.Decimal + ".")[0]
	default:
		check(quote(t.Decimal), `"." or ","`, "decimal")
	}
	switch r := []rune(t.Thousands); {
	case t.Thousands == "":
	case len(r) == 1 && strings.ContainsRune(".,' ’", r[0]) && t.Thousands != string(m.numbers.decimal):
		m.numbers.thousands = r[0]
	default:
		check(quote(t.Thousands), `".", ",", "'" or " ", and not the decimal mark`, "thousands")
	}
	if t.DateForm != "" {
		var ok bool
		if m.dates, ok = newDateLayout(t.DateForm); !ok {
			check(quote(t.DateForm), layoutTokens, "date layout")
		}
	}
	switch t.Repeated {
	case "":
	case "first":
		m.repeated = firstPass
	case "second":
		m.repeated = secondPass
	default:
		check(quote(t.Repeated), `"first" or "second"`, "repeated hour")
	}
}
