package table

import (
	"fmt"
	"strings"
)

// numberFormat is what a cell's number format makes of its number.
type numberFormat uint8

const (
	plainNumber numberFormat = iota + 1
	percentage
	dateFormat     // shows a date only
	timeFormat     // shows a time only
	dateTimeFormat // shows both
	localFormat    // shows a date or a time, as the user's language has it
	elapsedFormat  // shows a duration: hours may pass 23
)

// readFormats reads the number format of each cell style (cellXfs, ECMA-376
// part 1, 18.8.10), the list that a cell's style indexes.
func (w *Workbook) readFormats(part string) ([]numberFormat, error) {
	x, err := w.archive.open(part, w.name)
	if err != nil {
		return nil, err
	}
	if err := x.root("styleSheet"); err != nil {
		return nil, err
	}
	custom := make(map[int]numberFormat)
	var ids []int // the styles may come before the formats
	limit := w.archive.limits.Formats
	err = x.each(func(name string) error {
		if name != "numFmts" && name != "cellXfs" {
			return x.skip()
		}
		return x.each(func(name string) error {
			if len(ids) >= limit || len(custom) >= limit {
				return x.fail("too many cell formats", fmt.Sprintf("at most %d", limit), nil)
			}
			id, err := x.number("numFmtId", 0)
			if err != nil {
				return err
			}
			switch name {
			case "xf":
				ids = append(ids, id)
			case "numFmt":
				code, err := x.attr("formatCode")
				if err != nil {
					return err
				}
				custom[id] = parseFormat(code)
			}
			return x.skip()
		})
	})
	if err != nil {
		return nil, err
	}
	formats := make([]numberFormat, len(ids))
	for i, id := range ids {
		f, ok := custom[id]
		if !ok {
			f = builtinFormat(id)
		}
		formats[i] = f
	}
	return formats, x.rest()
}

// builtinFormat returns the number format with an identifier that needs no
// code (ECMA-376 part 1, 18.8.30). Those from 27 to 36 and from 50 to 58
// belong to East Asian languages, which use some of them differently (which of
// them: from memory).
func builtinFormat(id int) numberFormat {
	switch {
	case id == 9 || id == 10:
		return percentage
	case id >= 14 && id <= 17:
		return dateFormat
	case id >= 18 && id <= 21, id == 32, id == 33, id == 45, id == 47:
		return timeFormat
	case id == 22:
		return dateTimeFormat
	case id == 46:
		return elapsedFormat
	case id == 34, id == 35, id == 52, id == 53, id == 55, id == 56:
		return localFormat
	case id >= 27 && id <= 36, id >= 50 && id <= 58:
		return dateFormat
	default:
		return plainNumber
	}
}

// parseFormat returns what a format code shows (ECMA-376 part 1, 18.8.31). It
// looks at the first section, which is the one for positive numbers. There an
// m between an h before it and an s after it shows minutes with either, and
// else the month.
func parseFormat(code string) numberFormat {
	letters, percent := dateLetters(code)
	var date, time, elapsed bool
	for i, c := range letters {
		switch c {
		case 'y', 'd':
			date = true
		case 'h', 's':
			time = true
		case 'H', 'M', 'S':
			elapsed = true
		case 'm':
			minutes := i > 0 && letters[i-1]|0x20 == 'h' || i+1 < len(letters) && letters[i+1]|0x20 == 's'
			time, date = time || minutes, date || !minutes
		}
	}
	switch {
	case date && (time || elapsed):
		return dateTimeFormat
	case date:
		return dateFormat
	case elapsed:
		return elapsedFormat
	case time:
		return timeFormat
	case percent:
		return percentage
	default:
		return plainNumber
	}
}

// dateLetters returns the letters y, m, d, h and s in the first section of a
// format code that are neither quoted nor escaped, each run of one as a single
// letter: "ymdhm" for "yyyy-mm-dd hh:mm". A duration such as [mm] gives a
// capital. percent says whether there is a percent sign.
func dateLetters(code string) (letters []byte, percent bool) {
	add := func(c byte) {
		if n := len(letters); n == 0 || letters[n-1] != c {
			letters = append(letters, c)
		}
	}
	for code != "" {
		c := code[0]
		code = code[1:]
		switch c {
		case ';':
			return letters, percent
		case '"':
			_, code, _ = strings.Cut(code, `"`)
		case '\\', '_', '*': // a literal, a space as wide as, a filler
			code = code[min(1, len(code)):]
		case '[': // a duration, or a colour, condition or language
			var inside string
			inside, code, _ = strings.Cut(code, "]")
			if isDuration(inside) {
				add(inside[0] &^ 0x20)
			}
		case 'a', 'A': // AM/PM, whose M is no month
			if len(code) >= 4 && strings.EqualFold(code[:4], "m/pm") {
				code = code[4:]
			}
		case '%':
			percent = true
		case 'y', 'm', 'd', 'h', 's', 'Y', 'M', 'D', 'H', 'S':
			add(c | 0x20)
		}
	}
	return letters, percent
}

// isDuration reports whether the code in brackets is h, m or s, repeated.
func isDuration(inside string) bool {
	return inside != "" && strings.ContainsAny(inside[:1], "hmsHMS") && strings.Trim(inside, inside[:1]) == ""
}
