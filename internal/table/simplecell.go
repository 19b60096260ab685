package table

import "bytes"

// simpleCell reads the next element if it is a cell of one of the shapes that
// nearly all cells have:
//
//	<c r="A1" s="1" t="s"><v>12</v></c>
//	<c r="A1" s="1" t="inlineStr"><is><t>text</t></is></c>
//
// Any of the attributes may be missing. It returns false, having read nothing,
// for whatever differs: a namespace prefix, another attribute, a formula, a
// reference in the text, a cell that goes on beyond the buffer. Those cells
// are read tag by tag, with the same result in twice the time.
func (x *xmlReader) simpleCell() (attrs cellAttrs, value []byte, ok bool) {
	const (
		begin                   = "<c"
		openValue, closeValue   = "<v>", "</v></c>"
		openInline, closeInline = "<is><t>", "</t></is></c>"
	)
	b := x.buf[x.pos:x.end]
	if x.selfClosed || !bytes.HasPrefix(b, []byte(begin)) {
		return attrs, nil, false
	}
	i := len(begin)
	for i+4 < len(b) && b[i] == ' ' && b[i+2] == '=' && b[i+3] == '"' {
		text := b[i+4:]
		n := bytes.IndexByte(text, '"')
		if n < 0 {
			return attrs, nil, false
		}
		switch b[i+1] {
		case 'r':
			attrs.ref = text[:n]
		case 's':
			attrs.style = text[:n]
		case 't':
			attrs.kind = text[:n]
		default:
			return attrs, nil, false
		}
		i += 4 + n + 1
	}
	if i == len(b) || b[i] != '>' {
		return attrs, nil, false
	}
	b = b[i+1:]
	closing := closeValue
	var found bool
	if value, found = bytes.CutPrefix(b, []byte(openValue)); !found {
		closing = closeInline
		if value, found = bytes.CutPrefix(b, []byte(openInline)); !found || string(attrs.kind) != "inlineStr" {
			return attrs, nil, false
		}
	}
	n := bytes.IndexByte(value, '<')
	if n < 0 || !bytes.HasPrefix(value[n:], []byte(closing)) {
		return attrs, nil, false
	}
	rest := len(value) - n - len(closing)
	value = value[:n]
	if bytes.IndexByte(value, '&') >= 0 || bytes.IndexByte(value, '\r') >= 0 {
		return attrs, nil, false
	}
	x.pos = x.end - rest
	return attrs, value, true
}
