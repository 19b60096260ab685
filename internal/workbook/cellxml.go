package workbook

import (
	"encoding/xml"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// appendContent appends what follows the style in a cell's element, to its end (ECMA-376 Part 1, 18.3.1.4): the quote of the
// style's attribute comes first. It writes what the library's own writer does, or what reads the same.
func appendContent(b []byte, v *value, c *clock) ([]byte, error) {
	if v.kind == 0 {
		return append(b, `"/>`...), nil
	}
	if v.kind == kindText || v.kind == kindCheck {
		return appendText(b, v)
	}
	b = append(b, `"`...)
	if v.kind == kindBool {
		b = append(b, ` t="b"`...)
	}
	b = append(b, '>')
	b = appendFormula(b, v.formula)
	b = append(b, `<v>`...)
	b, err := appendFigure(b, v, c)
	return append(b, `</v></c>`...), err
}

// appendFigure appends the figure of a cell that is no text, as value.content has it.
func appendFigure(b []byte, v *value, c *clock) ([]byte, error) {
	switch {
	case v.kind == kindTonnes && v.f == 0 && v.n <= maxInteger && v.n >= -maxInteger:
		return appendDecimal(b, v.n, 6), nil
	case v.kind == kindInteger && v.n <= maxInteger && v.n >= -maxInteger, v.kind == kindBool:
		return strconv.AppendInt(b, v.n, 10), nil
	case v.kind == kindInstant:
		if s, err := c.serial(v.n); err != nil || s.parts <= maxInteger {
			return appendDecimal(b, s.parts, s.places), err
		}
	case (v.kind == kindNumber || v.kind == kindPercent) && !math.IsNaN(v.f) && !math.IsInf(v.f, 0):
		return appendFloat(b, v.f), nil
	}
	content, err := v.content(c.zone)
	switch x := content.(type) {
	case int64:
		return strconv.AppendInt(b, x, 10), err
	case float64:
		return appendFloat(b, x), err
	}
	return b, err
}

// appendDecimal appends n times 10 to the power of -places, without zeros at the end. Of fifteen digits at most, these are the
// digits that the nearest float64 is written with, since no two such numbers share one.
func appendDecimal(b []byte, n int64, places int) []byte {
	if n < 0 {
		b, n = append(b, '-'), -n
	}
	whole, part := n/powerOfTen[places], n%powerOfTen[places]
	b = strconv.AppendInt(b, whole, 10)
	if part == 0 {
		return b
	}
	for part%10 == 0 {
		part, places = part/10, places-1
	}
	end := len(b) + 1 + places
	b = append(b, ".0000000000"[:1+places]...)
	for i := end - 1; part > 0; i, part = i-1, part/10 {
		b[i] += byte(part % 10)
	}
	return b
}

// appendFloat appends the fifteen digits of a number that a workbook keeps, without zeros at the end.
func appendFloat(b []byte, f float64) []byte {
	start := len(b)
	b = strconv.AppendFloat(b, f, 'f', -1, 64)
	if digitsOf(b[start:]) <= 15 {
		return b
	}
	return strconv.AppendFloat(b[:start], fifteenDigits(f), 'f', -1, 64)
}

// digitsOf counts the digits of a number from the first that is no zero.
func digitsOf(number []byte) int {
	n := 0
	for _, c := range number {
		if c >= '1' && c <= '9' || c == '0' && n > 0 {
			n++
		}
	}
	return n
}

// appendFormula appends a formula, where there is one.
func appendFormula(b []byte, formula string) []byte {
	if formula == "" {
		return b
	}
	f := append(appender(b), `<f>`...)
	_ = xml.EscapeText(&f, []byte(formula)) // an appender does not fail
	return append(f, `</f>`...)
}

// appender is a writer that appends.
type appender []byte

func (a *appender) Write(b []byte) (int, error) {
	*a = append(*a, b...)
	return len(b), nil
}

// appendText appends a text, or the text that a formula comes to.
func appendText(b []byte, v *value) ([]byte, error) {
	s := v.text
	if len(s) > maxCellUnits || !sound(s) {
		var err error
		if s, err = cleanText(s); err != nil {
			return b, err
		}
	}
	if v.formula != "" {
		b = append(b, `" t="str">`...)
		b = appendFormula(b, v.formula)
		b = appendOpen(b, `<v`, s)
		b = appendEscaped(b, s, "&#xA;")
		return append(b, `</v></c>`...), nil
	}
	b = append(b, `" t="inlineStr"><is>`...)
	b = appendOpen(b, `<t`, s)
	b = appendEscaped(b, s, "\n")
	return append(b, `</t></is></c>`...), nil
}

// appendOpen appends the start of the element that holds a text. Blanks at either end are lost unless it says otherwise.
func appendOpen(b []byte, tag, s string) []byte {
	b = append(b, tag...)
	if s != "" && (blank(s[0]) || blank(s[len(s)-1])) {
		b = append(b, ` xml:space="preserve"`...)
	}
	return append(b, '>')
}

func blank(c byte) bool { return c == ' ' || c == '\t' || c == '\n' || c == '\r' }

// sound reports whether visible leaves a text as it is: surely, where it says so.
func sound(s string) bool {
	ascii := true
	for i := range len(s) {
		switch c := s[i]; {
		case c < 0x20 && c != '\n' && c != '\t', c == 0x7F, c == '_' && i+1 < len(s) && s[i+1] == 'x':
			return false
		case c >= utf8.RuneSelf:
			ascii = false
		}
	}
	return ascii || utf8.ValidString(s) && !strings.ContainsAny(s, "\uFFFE\uFFFF")
}

// appendEscaped appends a text without what XML has for itself, and so that nothing in it reads as an escape of the form
// _x0041_ (ECMA-376 Part 1, 22.9.2.19).
func appendEscaped(b []byte, s, lineFeed string) []byte {
	done := 0
	for i := range len(s) {
		var escape string
		switch c := s[i]; {
		case c > '>' && c != '_':
			continue
		case c == '&':
			escape = "&amp;"
		case c == '<':
			escape = "&lt;"
		case c == '>':
			escape = "&gt;"
		case c == '"':
			escape = "&#34;"
		case c == '\'':
			escape = "&#39;"
		case c == '\t':
			escape = "&#x9;"
		case c == '\n':
			escape = lineFeed
		case c == '_' && escapeBegins(s[i:]):
			escape = "_x005F_"
		default:
			continue
		}
		b = append(b, s[done:i]...)
		b = append(b, escape...)
		done = i + 1
	}
	return append(b, s[done:]...)
}

// escapeBegins reports whether a text begins like an escape.
func escapeBegins(s string) bool {
	if len(s) < 7 || s[1] != 'x' || s[6] != '_' {
		return false
	}
	for _, c := range []byte(s[2:6]) {
		if !(c >= '0' && c <= '9' || c >= 'a' && c <= 'f' || c >= 'A' && c <= 'F') {
			return false
		}
	}
	return true
}

// checkFormula refuses a formula that is too long to be read, or comes without its result.
func checkFormula(v *value) error {
	switch {
	case len(v.formula) > maxFormula:
		return fmt.Errorf("formula of %d characters: at most %d are read", len(v.formula), maxFormula)
	case v.formula != "" && v.kind == 0:
		return fmt.Errorf("formula %q comes without its result", v.formula)
	}
	return nil
}
