package intake

import (
	"strings"
	"unicode/utf8"
)

// numberFormat is how a file writes numbers. The zero numberFormat is a decimal point and no thousands
// separator.
type numberFormat struct {
	decimal   byte // '.' or ','; 0 means '.'
	thousands rune // 0 for none; a blank stands for no-break blanks too
}

// plain returns a number as ledger.ParseDecimal reads it. It reports false for text that the format does
// not allow, such as thousands that do not come in threes; whether the rest are digits is left to the
// reader of the number.
func (f numberFormat) plain(s string) (string, bool) {
	if f.thousands == 0 && f.decimal != ',' {
		return s, true
	}
	point := byte('.')
	if f.decimal != 0 {
		point = f.decimal
	}
	whole, fraction, hasFraction := strings.Cut(s, string(point))
	if f.decimal == ',' && f.thousands != '.' && strings.Contains(s, ".") {
		return "", false
	}
	whole, ok := f.ungroup(whole)
	if !ok || strings.ContainsRune(fraction, '.') {
		return "", false
	}
	if !hasFraction {
		return whole, true
	}
	return whole + "." + fraction, true
}

// ungroup takes the thousands separators out of a whole number. There may be none; where there is one,
// it stands before every three digits, counted from the right.
func (f numberFormat) ungroup(s string) (string, bool) {
	if f.thousands == 0 {
		return s, true
	}
	digits := strings.TrimLeft(s, "+-")
	if !strings.ContainsFunc(digits, f.separates) {
		return s, true
	}
	plain := []byte(s[:len(s)-len(digits)])
	run, groups := 0, 0
	for _, r := range digits {
		if !f.separates(r) {
			plain = utf8.AppendRune(plain, r)
			run++
			continue
		}
		if run == 0 || run > 3 || groups > 0 && run < 3 {
			return "", false
		}
		groups++
		run = 0
	}
	return string(plain), run == 3
}

// noBreakSpace and narrowNoBreakSpace group digits in typeset numbers.
const (
	noBreakSpace       = '\u00a0'
	narrowNoBreakSpace = '\u202f'
)

func (f numberFormat) separates(r rune) bool {
	return r == f.thousands || f.thousands == ' ' && (r == noBreakSpace || r == narrowNoBreakSpace)
}

// example returns a number as the format writes it, for messages.
func (f numberFormat) example() string {
	if f.decimal == ',' {
		return "24,31"
	}
	return "24.31"
}

// pointName names the format's decimal mark.
func (f numberFormat) pointName() string {
	if f.decimal == ',' {
		return "a decimal comma"
	}
	return "a decimal point"
}
