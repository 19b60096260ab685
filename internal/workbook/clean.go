package workbook

import (
	"fmt"
	"regexp"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// maxCellUnits is the longest text of a cell, in UTF-16 units: a limit of the applications that read
// the file.
const maxCellUnits = 32767

// cleanText returns s as a cell can hold it. What XML cannot carry is made visible instead of being
// dropped or blurred into one mark, so that two different texts stay different: a control character
// becomes its picture (U+2400 and on). Only bytes that are not UTF-8 all become U+FFFD. Line feeds and
// tabs stay.
func cleanText(s string) (string, error) {
	s = visible(s)
	if len(s) > maxCellUnits && units(s) > maxCellUnits {
		return "", fmt.Errorf("text of %d characters beginning %q: a cell holds at most %d", units(s), clip(s, 20), maxCellUnits)
	}
	return s, nil
}

// cleanLine is cleanText for headings, titles and page headers: one line, and nothing in it that is read
// as an escape of the form _x0041_. Excel compares the heads of a table with the names in the table's
// own part, which the library writes without that escape.
func cleanLine(s string) string {
	s = strings.Join(strings.Fields(visible(s)), " ")
	if strings.Contains(s, "_x") {
		s = escapeLike.ReplaceAllString(s, "\uFF3F$1") // the wide low line looks the same
	}
	return s
}

var (
	escapeLike = regexp.MustCompile(`_(x[0-9A-Fa-f]{4}_)`)
	// The library escapes _xHHHH_ so that it is shown as written, but not where HHHH is half a
	// surrogate pair: that would be read as a broken character.
	surrogateLike = regexp.MustCompile(`_(x[dD][89A-Fa-f][0-9A-Fa-f]{2}_)`)
)

func visible(s string) string {
	if plain(s) {
		return s
	}
	s = strings.ToValidUTF8(strings.ReplaceAll(s, "\r\n", "\n"), "\uFFFD")
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t':
			return r
		case r < 0x20:
			return 0x2400 + r
		case r == 0x7F:
			return 0x2421
		case r == 0xFFFE || r == 0xFFFF: // no characters, and none in XML
			return 0xFFFD
		}
		return r
	}, s)
	if strings.Contains(s, "_x") {
		s = surrogateLike.ReplaceAllString(s, "\uFF3F$1")
	}
	return s
}

// plain reports whether s is printable ASCII without anything like an escape: nearly every text is.
func plain(s string) bool {
	for i := range len(s) {
		if s[i] < 0x20 || s[i] > 0x7E || s[i] == '_' {
			return false
		}
	}
	return true
}

// units counts UTF-16 units, in which the file format states its limits.
func units(s string) int {
	n := 0
	for _, r := range s {
		n += max(utf16.RuneLen(r), 1)
	}
	return n
}

// clip returns s, or its beginning and an ellipsis, n characters in all.
func clip(s string, n int) string {
	if utf8.RuneCountInString(s) <= n {
		return s
	}
	return string([]rune(s)[:n-1]) + "…"
}

// wrap breaks a paragraph into lines of at most width characters, at spaces where there are any.
func wrap(s string, width int) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(s) {
		if line != "" && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > width {
			lines = append(lines, line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(lines, line)
}
