package workbook

import (
	"fmt"
	"regexp"
	"strings"
)

// maxFormula is the longest formula that spreadsheets take, in characters.
const maxFormula = 8192

// A formula names columns of its own table in braces instead of letters, so that one text serves every
// row and a column that moves takes its formulas along:
//
//	{net}         the cell of column net in this row
//	{net@above}   the cell of column net in the data row above
//	{net@first}   the cell of column net in the first data row, which does not move: {net@first}:{net} runs down
//	              to this row
//	{net@total}   the cell of column net in the table's total row
//
// Braces within a text literal mean themselves. template is such a formula taken apart once.
type template []segment

// segment is literal text, or the column that follows it.
type segment struct {
	literal string
	col     int // index of the column, or -1 at the end of the formula
	at      position
}

type position uint8

const (
	thisRow position = iota
	rowAbove
	firstRow
	totalRow
)

var placeholder = regexp.MustCompile(`\{([a-z][a-z0-9_]*)(@above|@first|@total)?\}`)

// parseTemplate takes a formula apart. index maps the keys of the table's columns to their places.
func parseTemplate(formula string, index map[string]int) (template, error) {
	var t template
	literal := ""
	for i, piece := range strings.Split(formula, `"`) {
		if i > 0 {
			literal += `"`
		}
		if i%2 == 1 { // within a text literal, where a doubled quote opens another at once
			literal += piece
			continue
		}
		if strings.ContainsAny(placeholder.ReplaceAllString(piece, ""), "{}") {
			return nil, fmt.Errorf("formula %q: want {column}, {column@above}, {column@first} or {column@total} in braces", formula)
		}
		done := 0
		for _, m := range placeholder.FindAllStringSubmatchIndex(piece, -1) {
			col, ok := index[piece[m[2]:m[3]]]
			if !ok {
				return nil, fmt.Errorf("formula %q: no column %q", formula, piece[m[2]:m[3]])
			}
			s := segment{literal: literal + piece[done:m[0]], col: col}
			if m[4] >= 0 {
				s.at = map[string]position{"@above": rowAbove, "@first": firstRow, "@total": totalRow}[piece[m[4]:m[5]]]
			}
			t = append(t, s)
			literal, done = "", m[1]
		}
		literal += piece[done:]
	}
	return append(t, segment{literal: literal, col: -1}), nil
}

// span is a whole column of data: one area, or several where the table goes on in further sheets.
type span struct {
	table *table
	col   int // index in the table
	areas []areaRef
}

// sum returns the formula of the column's sum over all parts.
func (s span) sum() string { return s.call("SUM", ",") }

func (s span) call(function, separator string) string {
	areas := make([]string, len(s.areas))
	for i, a := range s.areas {
		areas[i] = a.String()
	}
	return function + "(" + strings.Join(areas, separator) + ")"
}

// condition keeps the rows whose cell in a column matches a criterion, which is a piece of a formula: a
// reference, {column}, a text literal or something like ">="&{from}.
type condition struct {
	column span
	is     string
}

func where(column span, is string) condition { return condition{column, is} }

// sumIfs returns the formula that adds up column over the rows that meet every condition, one SUMIFS
// for each part of the table.
func sumIfs(column span, conditions ...condition) string {
	return conditional("SUMIFS", &column, conditions)
}

// countIfs returns the formula that counts the rows that meet every condition.
func countIfs(conditions ...condition) string { return conditional("COUNTIFS", nil, conditions) }

// conditional builds SUMIFS or COUNTIFS. The text columns asked must be declared as keys, because a
// criterion is not plain text: "<4 mm" would compare, "0/4" become a date and "1*" match much.
func conditional(function string, values *span, conditions []condition) string {
	if len(conditions) == 0 {
		return brokenRef
	}
	owner := conditions[0].column.table
	var calls []string
	for i := range conditions[0].column.areas {
		var args []string
		if values != nil {
			if values.table != owner {
				return owner.refuse("%s: sums a column of another table", function)
			}
			args = append(args, values.areas[i].String())
		}
		for _, c := range conditions {
			col := c.column.table.spec.columns[c.column.col]
			if c.column.table != owner {
				return owner.refuse("%s: asks a column of another table", function)
			}
			if col.kind == kindText && !col.isKey {
				return owner.refuse("%s: column %q is not declared as a key", function, col.key)
			}
			args = append(args, c.column.areas[i].String(), c.is)
		}
		calls = append(calls, function+"("+strings.Join(args, ",")+")")
	}
	return strings.Join(calls, "+")
}

// keyText returns the text under which a name stands in a key column: a word that says what is named,
// then the name. The word keeps spreadsheets from reading "<4" as a comparison, "0/4" as a date or "010"
// as the number 10; the three wildcards become signs that look like them.
func keyText(word, name string) string {
	return word + " " + tameWildcards.Replace(cleanLine(name))
}

var tameWildcards = strings.NewReplacer("*", "∗", "?", "？", "~", "∼")

// maxKey is the longest criterion that SUMIFS takes.
const maxKey = 255

// checkKey refuses a text that SUMIFS would not match as it stands.
func checkKey(s string) error {
	switch {
	case s == "":
		return nil
	case units(s) > maxKey:
		return fmt.Errorf("key beginning %q: want at most %d characters", clip(s, 20), maxKey)
	case strings.ContainsAny(s, "*?~"):
		return fmt.Errorf("key %q: want no wildcard *, ? or ~", s)
	case !startsWithWord(s):
		return fmt.Errorf("key %q: want a word of letters, a space and the name", s)
	}
	return nil
}

// startsWithWord reports whether s is lower-case letters, alone or before a space: nothing that could be a
// comparison, a number or a date. A word alone must not be true or false.
func startsWithWord(s string) bool {
	word, _, named := strings.Cut(s, " ")
	for _, r := range word {
		if r < 'a' || r > 'z' {
			return false
		}
	}
	return word != "" && (named || word != "true" && word != "false")
}

// allOK returns the formula of a check over checks: every cell of the columns must say wordOK, so that an
// error value counts as broken.
func allOK(columns ...span) string {
	var good, all []string
	for _, c := range columns {
		for _, a := range c.areas {
			good = append(good, "COUNTIF("+a.String()+","+quoted(wordOK)+")")
			all = append(all, "ROWS("+a.String()+")")
		}
	}
	return strings.Join(good, "+") + "=" + strings.Join(all, "+")
}
