package intake

import (
	"strings"
	"time"

	"repose/internal/table"
	"repose/ledger"
)

// row is the row being read. Its methods read the cells of a field as what the catalogue says they hold,
// note what is wrong with them, and return a zero value then; the row makes no record if anything is
// noted.
type row struct {
	*binding
	known *register
	names *interner

	cells table.Row
	yard  *yard // whose the row is; nil until it is found

	bad       []*table.Error
	refused   bool             // something is wrong, whether or not it is in bad
	told      [fieldCount]bool // constants that have been reported, which they are once for all rows
	suspense  bool             // a pile is blank or not in the register
	wet       int              // moistures converted from wet basis
	twice     *moment
	shownTime string // the cell behind twice
}

// start makes the row ready for the cells of another.
func (r *row) start(cells table.Row) {
	r.cells = cells
	r.yard = nil
	r.bad, r.refused = r.bad[:0], false
	r.suspense, r.wet, r.twice = false, 0, nil
}

// ok reports whether nothing wrong has been noted.
func (r *row) ok() bool { return !r.refused }

// fail notes what is wrong with the cell of a field, or with the constant that stands for it.
func (r *row) fail(f field, found, wanted string) {
	c := &r.columns[f]
	switch {
	case c.constant == "":
		r.reject(c.at+1, found, wanted)
	case !r.told[f]:
		r.told[f] = true
		r.bad = append(r.bad, r.mapped.errorAt(found, wanted, sectionConstants, c.key))
	}
	r.refused = true
}

// failRow notes what is wrong with the whole row.
func (r *row) failRow(found, wanted string) { r.reject(0, found, wanted) }

func (r *row) reject(column int, found, wanted string) {
	r.bad = append(r.bad, &table.Error{File: r.file, Row: r.cells.Number, Column: column, Found: found, Wanted: wanted})
	r.refused = true
}

// shown returns the cell of a field as it stands in the file.
func (r *row) shown(f field) string {
	c := &r.columns[f]
	switch {
	case c.at < 0:
		return c.constant
	case c.clockAt >= 0:
		return trim(r.cells.Cells[c.at]) + " " + trim(r.cells.Cells[c.clockAt])
	}
	return trim(r.cells.Cells[c.at])
}

// kind returns what the cell of a field held in a workbook.
func (r *row) kind(f field) table.CellKind {
	if at := r.columns[f].at; at >= 0 {
		return r.cells.Kind(at)
	}
	return table.Text
}

// has reports whether the cell of a field is filled.
func (r *row) has(f field) bool {
	c := &r.columns[f]
	if c.at < 0 {
		return c.constant != ""
	}
	return trim(r.cells.Cells[c.at]) != ""
}

// unit returns the unit of a field's column.
func (r *row) unit(f field) unit { return r.columns[f].unit }

// cell returns the text of a field in the table's own words: the cell, translated if the map says so, or
// the default of a blank one. ok is false where there is nothing to read: a blank cell without a default,
// or one that has been refused.
func (r *row) cell(f field) (s string, ok bool) {
	c := &r.columns[f]
	if c.at >= 0 {
		s = trim(r.cells.Cells[c.at])
	} else {
		s = c.constant
	}
	if s == "" {
		if c.spec.Need == Required {
			r.fail(f, "an empty cell", c.spec.Name+": "+c.spec.Note)
		}
		return c.spec.Default, c.spec.Default != ""
	}
	if r.kind(f) == table.Failed {
		r.fail(f, quote(s)+", the error of a formula", c.spec.Name+": "+c.spec.Note)
		return "", false
	}
	if c.words != nil {
		return r.translate(f, s)
	}
	return s, true
}

// translate returns our word for theirs. One that the map does not list passes if it is one of ours.
func (r *row) translate(f field, theirs string) (string, bool) {
	c := &r.columns[f]
	if ours, ok := c.words[theirs]; ok {
		return ours, true
	}
	isOurs := indexFolded(c.ours, theirs) >= 0 || c.spec.Holds == Word && indexFolded(c.spec.Words, theirs) >= 0
	switch f {
	case fPile, fFromPile, fToPile:
		isOurs = isOurs || r.yard != nil && r.known.hasPile(r.yard.code, theirs)
	case fProduct:
		isOurs = isOurs || r.known.hasProduct(theirs)
	}
	if !isOurs {
		r.fail(f, quote(theirs), "a word that [values."+c.spec.Name+"] of "+r.mapped.name+" lists, or one of ours")
	}
	return theirs, isOurs
}

// trim takes the white space off both ends of a cell. Most cells have none.
func trim(s string) string {
	if s == "" || plainByte(s[0]) && plainByte(s[len(s)-1]) {
		return s
	}
	return strings.TrimSpace(s)
}

// plainByte reports whether a byte is a whole character other than white space.
func plainByte(c byte) bool { return c > ' ' && c < 0x80 }

// text returns a text that many rows share.
func (r *row) text(f field) string {
	s, _ := r.cell(f)
	return r.names.shared(s)
}

// own returns a text that is the row's own, such as a ticket's number.
func (r *row) own(f field) string {
	s, _ := r.cell(f)
	return strings.Clone(s)
}

// code returns a code, which may be part of a record's ID.
func (r *row) code(f field) string {
	s, ok := r.cell(f)
	if !ok {
		return ""
	}
	s, ok = r.names.code(s)
	if !ok {
		r.fail(f, quote(s), "a code of at most 64 bytes without / : # and control characters")
		return ""
	}
	return s
}

// movedPile returns the pile of a movement. Where it is blank or not in the register, the record goes to
// suspense.
func (r *row) movedPile(f field) string {
	code := r.code(f)
	if r.yard != nil && !r.known.hasPile(r.yard.code, code) {
		r.suspense = true
	}
	return code
}

// knownPile returns a pile that must be in the register, or "" where the cell is blank.
func (r *row) knownPile(f field) string {
	code := r.code(f)
	if code != "" && r.yard != nil && !r.known.hasPile(r.yard.code, code) {
		names := r.known.pileCodes(r.yard.code)
		r.fail(f, quote(code), "a pile of yard "+r.yard.code+" that is in the book or in a table piles of this call"+didYouMean(code, names))
	}
	return code
}

// knownProduct returns a product that must be in the register, or "" where the cell is blank.
func (r *row) knownProduct(f field) string {
	code := r.code(f)
	if code != "" && !r.known.hasProduct(code) {
		names := r.known.productCodes()
		r.fail(f, quote(code), "a product that is in the book or in a table products of this call"+didYouMean(code, names))
	}
	return code
}

// word returns the index of a word in the column's list, or -1.
func (r *row) word(f field) int {
	s, ok := r.cell(f)
	if !ok {
		return -1
	}
	words := r.columns[f].spec.Words
	for i, w := range words {
		if w == s {
			return i
		}
	}
	i := indexFolded(words, s)
	if i < 0 {
		r.fail(f, quote(s), "one of "+quoteAll(words)+didYouMean(s, words))
	}
	return i
}

// words returns a word of the column's list, or "".
func (r *row) words(f field) string {
	if i := r.word(f); i >= 0 {
		return r.columns[f].spec.Words[i]
	}
	return ""
}

// oneOf returns which one of the fields is filled. None, or more than one, is an error of the row.
func (r *row) oneOf(fields ...field) field {
	filled := field(0)
	for _, f := range fields {
		if !r.has(f) {
			continue
		}
		if filled != 0 {
			r.fail(f, quote(r.shown(f))+" beside "+filled.String()+" "+quote(r.shown(filled)), "one of the two")
			return filled
		}
		filled = f
	}
	if filled == 0 {
		names := make([]string, len(fields))
		for i, f := range fields {
			names[i] = f.String()
		}
		r.failRow("no "+strings.Join(names, " and no "), "one of them filled")
		return fields[0]
	}
	return filled
}

// zoneName returns the name of a time zone.
func (r *row) zoneName(f field) string {
	s, ok := r.cell(f)
	if !ok {
		return ""
	}
	if _, err := newClock(s); err != nil {
		r.fail(f, quote(s), "an IANA name such as Europe/London")
	}
	return strings.Clone(s)
}

// correctedTime returns the instant of the record that the row replaces, for tables whose key ends in one.
func (r *row) correctedTime(value string) time.Time {
	return r.instant(fReplaces, value, startOfDay)
}

// record makes the record of the row's fact, or notes why there is none.
func (r *row) record() (rec ledger.Record, ok bool) {
	var code string
	if r.table.ofYard() {
		if r.yard = r.findYard(); r.yard == nil {
			return rec, false
		}
		code = r.yard.code
	}
	fact := r.table.build.fact(r)
	if !r.ok() {
		return rec, false
	}
	if y, ok := fact.(ledger.Yard); ok {
		code = y.Code
	}
	rec, err := ledger.NewRecord(code, fact)
	if err != nil {
		r.failRow(err.Error(), "a row that agrees with itself") // cells have been checked one by one
		return rec, false
	}
	rec.Replaces = r.replaces(fact)
	rec.Tags = r.tagsOf()
	return rec, r.ok()
}

// findYard returns the yard of the row, or nil where it is not known, which is an error unless the table
// of yards is itself at fault.
func (r *row) findYard() *yard {
	if !r.has(fYard) {
		if r.known.only != nil {
			return r.known.only
		}
		if !r.known.faulty[ledger.KindYardRecord] {
			r.fail(fYard, "no yard", r.known.wantedYard())
		}
		return nil
	}
	code := r.code(fYard)
	y := r.known.yards[code]
	if y == nil && code != "" && !r.known.faulty[ledger.KindYardRecord] {
		r.fail(fYard, quote(code), r.known.wantedYard()+didYouMean(code, r.known.yardCodes()))
	}
	return y
}

// replaces returns the key of the record that the row corrects, or "".
func (r *row) replaces(f ledger.Fact) string {
	c := &r.columns[fReplaces]
	if !c.bound() {
		return ""
	}
	value, ok := r.cell(fReplaces)
	switch {
	case !ok:
		return ""
	case strings.Contains(value, "/"):
		return strings.Clone(value)
	}
	return r.table.build.corrected(r, f, strings.Clone(value))
}

// tagsOf returns the row's labels under the yard's own names.
func (r *row) tagsOf() []ledger.Tag {
	var tags []ledger.Tag
	for _, t := range r.tags {
		value := t.constant
		if t.at >= 0 {
			if value = trim(r.cells.Cells[t.at]); r.cells.Kind(t.at) == table.Failed {
				r.reject(t.at+1, quote(value)+", the error of a formula", "a label, or nothing")
			}
		}
		if value != "" {
			tags = append(tags, ledger.Tag{Name: t.name, Value: r.names.shared(value)})
		}
	}
	return tags
}
