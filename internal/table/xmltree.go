package table

import (
	"bytes"
	"strconv"
	"unicode/utf16"
	"unicode/utf8"
)

// root reads up to the root element, which must have the given name.
func (x *xmlReader) root(name string) error {
	for {
		tok, err := x.next()
		switch {
		case err != nil:
			return err
		case tok == endOfPart:
			return x.fail("no XML", "a "+name+" element", nil)
		case tok == startTag && string(x.name) == name:
			return nil
		case tok == startTag:
			return x.fail("the element "+quote(string(x.name)), "a "+name+" element", nil)
		}
	}
}

// each calls f at every child element of the element just opened, and returns
// after its end tag. f must read the child to its end: by each, skip or
// appendText.
func (x *xmlReader) each(f func(name string) error) error {
	for {
		tok, err := x.next()
		switch {
		case err != nil:
			return err
		case tok == endTag:
			return nil
		case tok == startTag:
			if err := f(string(x.name)); err != nil {
				return err
			}
		}
	}
}

// skip reads the element just opened to its end.
func (x *xmlReader) skip() error {
	for depth := len(x.open); len(x.open) >= depth; {
		if _, err := x.next(); err != nil {
			return err
		}
	}
	return nil
}

// rest reads to the end of the part, so that its checksum is compared.
func (x *xmlReader) rest() error {
	for {
		if tok, err := x.next(); err != nil || tok == endOfPart {
			return err
		}
	}
}

// attr returns the value of the attribute with this whole name, references
// resolved, or "".
func (x *xmlReader) attr(name string) (string, error) {
	for _, a := range x.attrs {
		if string(a.name) == name {
			return x.value(a)
		}
	}
	return "", nil
}

// value returns the value of an attribute with references resolved.
func (x *xmlReader) value(a attr) (string, error) {
	v, ok := appendResolved(nil, a.value)
	if !ok || !utf8.Valid(v) {
		return "", x.malformed("a broken value of the attribute " + quote(string(a.name)))
	}
	return string(v), nil
}

// number returns the value of an attribute that is a whole number, or
// otherwise if it is missing.
func (x *xmlReader) number(name string, otherwise int) (int, error) {
	s, err := x.attr(name)
	if err != nil || s == "" {
		return otherwise, err
	}
	n, err := strconv.ParseUint(s, 10, 31)
	if err != nil {
		return 0, x.fail(name+"="+quote(s), "a whole number", nil)
	}
	return int(n), nil
}

// appendText appends the text of the element just opened and reads it to its
// end, leaving out child elements.
func (x *xmlReader) appendText(dst []byte) ([]byte, error) {
	if data, ok := x.leaf(); ok {
		return x.appendData(dst, data)
	}
	for {
		tok, err := x.next()
		switch {
		case err != nil:
			return dst, err
		case tok == endTag:
			return dst, nil
		case tok == startTag:
			if err := x.skip(); err != nil {
				return dst, err
			}
		case x.cdata:
			dst = appendLines(dst, x.data)
		default:
			if dst, err = x.appendData(dst, x.data); err != nil {
				return dst, err
			}
		}
	}
}

// appendData appends a run of text with its references resolved.
func (x *xmlReader) appendData(dst, data []byte) ([]byte, error) {
	dst, ok := appendResolved(dst, data)
	if !ok {
		return dst, x.malformed("a broken reference such as &amp; in text")
	}
	return dst, nil
}

// appendRich appends a string item (CT_Rst, ECMA-376 part 1, 18.4.8): its own
// text or that of its runs, without phonetic hints. Escapes stay.
func (x *xmlReader) appendRich(dst []byte) ([]byte, error) {
	appendT := func() (err error) {
		dst, err = x.appendText(dst)
		return err
	}
	err := x.each(func(name string) error {
		switch name {
		case "t":
			return appendT()
		case "r":
			return x.each(func(name string) error {
				if name == "t" {
					return appendT()
				}
				return x.skip()
			})
		default: // rPh and phoneticPr hold the reading of the text
			return x.skip()
		}
	})
	return dst, err
}

// appendResolved appends text with its references resolved and its line ends
// made LF (XML 1.0, 2.11 and 4.1). It returns false at a reference that XML
// does not define.
func appendResolved(dst, text []byte) ([]byte, bool) {
	for {
		i := bytes.IndexByte(text, '&')
		if i < 0 {
			return appendLines(dst, text), true
		}
		dst = appendLines(dst, text[:i])
		text = text[i+1:]
		end := bytes.IndexByte(text, ';')
		if end < 0 {
			return dst, false
		}
		r, ok := reference(text[:end])
		if !ok {
			return dst, false
		}
		dst = utf8.AppendRune(dst, r)
		text = text[end+1:]
	}
}

// reference returns the character that "&name;" stands for.
func reference(name []byte) (rune, bool) {
	switch string(name) {
	case "amp":
		return '&', true
	case "lt":
		return '<', true
	case "gt":
		return '>', true
	case "quot":
		return '"', true
	case "apos":
		return '\'', true
	}
	digits, ok := bytes.CutPrefix(name, []byte("#"))
	base := 10
	if hex, isHex := bytes.CutPrefix(digits, []byte("x")); isHex {
		digits, base = hex, 16
	}
	n, err := strconv.ParseUint(string(digits), base, 31)
	if !ok || err != nil || !utf8.ValidRune(rune(n)) || n < ' ' && n != '\t' && n != '\n' && n != '\r' {
		return 0, false
	}
	return rune(n), true
}

// appendLines appends text with CR LF, and CR alone, made LF.
func appendLines(dst, text []byte) []byte {
	for {
		i := bytes.IndexByte(text, '\r')
		if i < 0 {
			return append(dst, text...)
		}
		dst = append(append(dst, text[:i]...), '\n')
		text = bytes.TrimPrefix(text[i+1:], []byte("\n"))
	}
}

// escapeLen is the length of an escape such as "_x000D_".
const escapeLen = len("_xHHHH_")

// unescape undoes, in place from start on, the escapes _xHHHH_ of UTF-16 code
// units that XML cannot hold (ST_Xstring, ECMA-376 part 1, 22.9.2.19). Those
// that would give a NUL or half a surrogate pair stay as they are written.
func unescape(b []byte, start int) []byte {
	i := bytes.Index(b[start:], []byte("_x"))
	if i < 0 {
		return b
	}
	out, rest := b[:start+i], b[start+i:]
	for len(rest) > 0 {
		if r, n := escaped(rest); n > 0 {
			out, rest = utf8.AppendRune(out, r), rest[n:]
		} else {
			out, rest = append(out, rest[0]), rest[1:]
		}
	}
	return out
}

// escaped returns the character of the escape, or the pair of escapes, that b
// begins with, and its length, which is 0 if there is none.
func escaped(b []byte) (rune, int) {
	r, ok := escapedUnit(b)
	n := escapeLen
	if ok && utf16.IsSurrogate(r) {
		low, _ := escapedUnit(b[n:])
		r, n = utf16.DecodeRune(r, low), 2*n
	}
	if !ok || r == 0 || r == utf8.RuneError {
		return 0, 0
	}
	return r, n
}

// escapedUnit returns the code unit of the escape that b begins with.
func escapedUnit(b []byte) (rune, bool) {
	if len(b) < escapeLen || b[0] != '_' || b[1] != 'x' || b[escapeLen-1] != '_' {
		return 0, false
	}
	n, err := strconv.ParseUint(string(b[2:escapeLen-1]), 16, 16)
	return rune(n), err == nil
}
