package table

import (
	"bytes"
	"fmt"
	"hash/maphash"
	"io"
	"unicode"
)

// token is what xmlReader.next has read.
type token uint8

const (
	startTag  token = iota + 1 // name and attrs are set
	endTag                     // nothing is set
	charData                   // data is set
	endOfPart                  // the root element is closed
)

// attr is an attribute of a start tag; the value still holds its references.
type attr struct{ name, value []byte }

// xmlReader is a pull parser for the XML in workbooks. It takes a fraction of
// the time of encoding/xml and holds no more than one tag or run of text. It
// checks that tags nest, but neither resolves namespaces nor validates.
// Document type declarations are refused, as ECMA-376 part 2 wants, and with
// them all entities but XML's own five.
//
// Slices it returns are valid until the next call.
type xmlReader struct {
	src    io.Reader
	srcErr error // what ended src: io.EOF or an *Error
	at     Error // where errors are: File and Row
	part   string

	buf      []byte
	pos, end int // the unread bytes are buf[pos:end]
	max      int // the longest tag or run of text

	open       []uint64 // hashes of the names of the open elements
	seed       maphash.Seed
	selfClosed bool // the last start tag was an empty element

	tag   []byte // name in the last start tag, with its prefix
	name  []byte // the same without it
	attrs []attr // of the last start tag
	data  []byte // the last run of text
	cdata bool   // data was a CDATA section, so it holds no references
}

const (
	// xmlBufferBytes is the size of the buffer that an xmlReader begins with.
	xmlBufferBytes = 128 << 10

	// xmlDepth is how deep elements may nest, many times what workbooks need.
	xmlDepth = 256
)

// fail returns an error at the reader's place.
func (x *xmlReader) fail(found, wanted string, cause error) error {
	bad := x.at
	bad.Found = fmt.Sprintf("%s in %s", found, x.part)
	bad.Wanted = wanted
	bad.Err = cause
	return &bad
}

// malformed returns an error for XML that cannot be read on.
func (x *xmlReader) malformed(found string) error {
	return x.fail(found, "well-formed XML", nil)
}

// more reads more bytes behind the unread ones, which may move. It returns
// io.EOF if there are none.
func (x *xmlReader) more() error {
	if x.srcErr != nil {
		return x.srcErr
	}
	if x.pos > 0 {
		x.end = copy(x.buf, x.buf[x.pos:x.end])
		x.pos = 0
	}
	if x.end == len(x.buf) {
		if x.end >= x.max {
			return x.fail("a tag or text without end", "at most "+byteSize(uint64(x.max))+" of it", nil)
		}
		larger := xmlBufferBytes
		if len(x.buf) > 0 {
			larger = 2 * len(x.buf)
		}
		x.buf = append(make([]byte, 0, larger), x.buf...)[:larger]
	}
	held := x.end
	for x.end < len(x.buf) && x.srcErr == nil {
		var n int
		n, x.srcErr = x.src.Read(x.buf[x.end:])
		x.end += n
	}
	if err := x.srcErr; err != nil && err != io.EOF {
		x.srcErr = x.fail("damaged data ("+err.Error()+")", "a workbook whose parts agree with their checksums", err)
	}
	if x.end > held {
		return nil
	}
	return x.srcErr
}

// moreOf is more within a construct that must not end here.
func (x *xmlReader) moreOf(construct string) error {
	err := x.more()
	if err == io.EOF {
		return x.malformed("the end of the XML within " + construct)
	}
	return err
}

// next reads the next tag or run of text, passing over comments and processing
// instructions. An empty element gives a startTag and an endTag.
func (x *xmlReader) next() (token, error) {
	if x.selfClosed {
		x.selfClosed = false
		x.open = x.open[:len(x.open)-1]
		return endTag, nil
	}
	for {
		if x.end-x.pos < 2 {
			if tok, err := x.moreTokens(); tok != 0 || err != nil {
				return tok, err
			}
		}
		if x.buf[x.pos] != '<' {
			return x.text()
		}
		switch x.buf[x.pos+1] {
		case '/':
			return x.closeTag()
		case '?':
			if _, err := x.until("<?", "?>"); err != nil {
				return 0, err
			}
		case '!':
			tok, err := x.declaration()
			if tok != 0 || err != nil {
				return tok, err
			}
		default:
			return x.openTag()
		}
	}
}

// moreTokens reads on where fewer than two bytes are unread. It returns
// endOfPart if the part is over.
func (x *xmlReader) moreTokens() (token, error) {
	for x.end-x.pos < 2 {
		if err := x.more(); err != nil {
			return x.over(err)
		}
	}
	return 0, nil
}

// over returns what next returns where more has returned err and no tag
// follows: endOfPart if the root element is closed.
func (x *xmlReader) over(err error) (token, error) {
	switch {
	case err != io.EOF:
		return 0, err
	case len(x.open) > 0:
		return 0, x.malformed("the end of the XML within an element")
	case x.pos < x.end && x.buf[x.pos] == '<':
		return 0, x.malformed("the end of the XML within a tag")
	default:
		x.pos = x.end
		return endOfPart, nil
	}
}

// text reads the text up to the next tag, or to the end outside the root.
func (x *xmlReader) text() (token, error) {
	for {
		if i := bytes.IndexByte(x.buf[x.pos:x.end], '<'); i >= 0 {
			x.data, x.cdata = x.buf[x.pos:x.pos+i], false
			x.pos += i
			return charData, nil
		}
		if err := x.more(); err != nil {
			return x.over(err)
		}
	}
}

// leaf returns the text of the element just opened and reads it to its end, if
// it holds only text and all of it is in the buffer; else it reads nothing and
// returns false. Most elements in a sheet are such.
func (x *xmlReader) leaf() ([]byte, bool) {
	b := x.buf[x.pos:x.end]
	i := bytes.IndexByte(b, '<')
	if x.selfClosed || i < 0 || i+1 == len(b) || b[i+1] != '/' {
		return nil, false
	}
	rest, ok := bytes.CutPrefix(b[i+2:], x.tag)
	if !ok || len(rest) == 0 || rest[0] != '>' {
		return nil, false
	}
	x.pos = x.end - len(rest) + 1
	x.open = x.open[:len(x.open)-1]
	return b[:i], true
}

// until reads a construct that opens and closes with the given marks and
// returns what stands between them.
func (x *xmlReader) until(open, closing string) ([]byte, error) {
	for {
		if x.end-x.pos >= len(open) {
			body := x.buf[x.pos+len(open) : x.end]
			if i := bytes.Index(body, []byte(closing)); i >= 0 {
				x.pos += len(open) + i + len(closing)
				return body[:i], nil
			}
		}
		if err := x.moreOf(open + "..."); err != nil {
			return nil, err
		}
	}
}

// declaration reads what begins with "<!". It returns charData for a CDATA
// section and 0 for a comment.
func (x *xmlReader) declaration() (token, error) {
	const comment, cdata = "<!--", "<![CDATA["
	for x.end-x.pos < len(cdata) {
		if err := x.more(); err == io.EOF {
			break // a comment may be shorter, at the very end
		} else if err != nil {
			return 0, err
		}
	}
	switch rest := x.buf[x.pos:x.end]; {
	case bytes.HasPrefix(rest, []byte(comment)):
		_, err := x.until(comment, "-->")
		return 0, err
	case bytes.HasPrefix(rest, []byte(cdata)):
		body, err := x.until(cdata, "]]>")
		x.data, x.cdata = body, true
		return charData, err
	default:
		return 0, x.malformed("a document type declaration")
	}
}

// closeTag reads an end tag.
func (x *xmlReader) closeTag() (token, error) {
	for {
		b := x.buf[x.pos+len("</") : x.end]
		if i := bytes.IndexByte(b, '>'); i >= 0 {
			x.pos = x.end - len(b) + i + 1
			tag := bytes.TrimRightFunc(b[:i], unicode.IsSpace)
			last := len(x.open) - 1
			if last < 0 || x.open[last] != maphash.Bytes(x.seed, tag) {
				return 0, x.malformed("the misplaced end tag " + quote(string(tag)))
			}
			x.open = x.open[:last]
			return endTag, nil
		}
		if err := x.moreOf("a tag"); err != nil {
			return 0, err
		}
	}
}

// openTag reads a start tag.
func (x *xmlReader) openTag() (token, error) {
	for {
		n := x.scanTag(x.buf[x.pos+1 : x.end])
		switch {
		case n > 0:
			x.pos += 1 + n
			if len(x.open) == xmlDepth {
				return 0, x.fail(fmt.Sprintf("elements nested more than %d deep", xmlDepth), "less", nil)
			}
			x.open = append(x.open, maphash.Bytes(x.seed, x.tag))
			return startTag, nil
		case n < 0:
			return 0, x.malformed("a broken tag")
		}
		if err := x.moreOf("a tag"); err != nil {
			return 0, err
		}
	}
}

// scanTag sets name, attrs and selfClosed from the start tag whose name b
// begins with. It returns the tag's length with its ">", 0 if b ends within
// it, or -1 if it is no tag.
func (x *xmlReader) scanTag(b []byte) int {
	i, start := 0, 0
	for i < len(b) && !endsName[b[i]] {
		if b[i] == ':' {
			start = i + 1
		}
		i++
	}
	if i == start && i < len(b) {
		return -1
	}
	x.tag, x.name, x.attrs = b[:i], b[start:i], x.attrs[:0]
	for {
		for i < len(b) && isSpace(b[i]) {
			i++
		}
		if i == len(b) {
			return 0
		}
		switch b[i] {
		case '>':
			x.selfClosed = false
			return i + 1
		case '/':
			if i+1 == len(b) {
				return 0
			}
			if b[i+1] != '>' {
				return -1
			}
			x.selfClosed = true
			return i + 2
		}
		n := x.scanAttr(b[i:])
		if n <= 0 {
			return n
		}
		i += n
	}
}

// scanAttr adds the attribute that b begins with to attrs. It returns its
// length, 0 if b ends within it, or -1 if it is none.
func (x *xmlReader) scanAttr(b []byte) int {
	i := 0
	for i < len(b) && !endsName[b[i]] {
		i++
	}
	name := b[:i]
	for i < len(b) && isSpace(b[i]) {
		i++
	}
	if i == len(b) {
		return 0
	}
	if b[i] != '=' || len(name) == 0 {
		return -1
	}
	i++
	for i < len(b) && isSpace(b[i]) {
		i++
	}
	if i == len(b) {
		return 0
	}
	mark := b[i]
	if mark != '"' && mark != '\'' {
		return -1
	}
	value := b[i+1:]
	for j, c := range value {
		if c == mark {
			x.attrs = append(x.attrs, attr{name: name, value: value[:j]})
			return i + 1 + j + 1
		}
	}
	return 0
}

// endsName holds the bytes that end the name of an element or attribute.
var endsName = [256]bool{' ': true, '\t': true, '\r': true, '\n': true, '/': true, '>': true, '=': true}

// isSpace reports whether XML takes c as white space.
func isSpace(c byte) bool { return c == ' ' || c == '\t' || c == '\r' || c == '\n' }
