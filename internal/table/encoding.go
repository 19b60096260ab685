package table

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/transform"
)

// encoding is the way a CSV file writes characters as bytes.
type encoding uint8

const (
	utf8Text encoding = iota + 1
	utf16LE
	utf16BE
	windows1252
)

// String returns the name that [Layout.Encoding] gives the encoding.
func (e encoding) String() string {
	switch e {
	case utf8Text:
		return "utf-8"
	case utf16LE:
		return "utf-16le"
	case utf16BE:
		return "utf-16be"
	case windows1252:
		return "windows-1252"
	default:
		return fmt.Sprintf("encoding(%d)", uint8(e))
	}
}

// byteOrderMark returns U+FEFF in the encoding, or "" if it has none.
func (e encoding) byteOrderMark() string {
	switch e {
	case utf8Text:
		return "\xEF\xBB\xBF"
	case utf16LE:
		return "\xFF\xFE"
	case utf16BE:
		return "\xFE\xFF"
	default:
		return ""
	}
}

// markBytes returns the length of the byte-order mark that head begins with.
func (e encoding) markBytes(head []byte) int {
	if mark := e.byteOrderMark(); bytes.HasPrefix(head, []byte(mark)) {
		return len(mark)
	}
	return 0
}

// chooseEncoding returns the encoding of a file that begins with head, where
// asked is what the layout says. A byte-order mark that contradicts the layout
// is an error.
func chooseEncoding(name, asked string, head []byte) (encoding, error) {
	var marked encoding
	for _, e := range []encoding{utf8Text, utf16LE, utf16BE} {
		if e.markBytes(head) > 0 {
			marked = e
		}
	}
	var enc encoding
	switch strings.ToLower(asked) {
	case "":
		enc = utf8Text
		if marked != 0 {
			enc = marked
		}
	case "utf-16":
		if marked != utf16LE && marked != utf16BE {
			return 0, &Error{
				File: name, Found: "no UTF-16 byte-order mark",
				Wanted: `one, or an encoding that says the order of bytes: "utf-16le" or "utf-16be"`,
			}
		}
		enc = marked
	case "utf-8":
		enc = utf8Text
	case "utf-16le":
		enc = utf16LE
	case "utf-16be":
		enc = utf16BE
	case "windows-1252":
		enc = windows1252
	default:
		return 0, fmt.Errorf("%s: encoding %q: want utf-8, utf-16, utf-16le, utf-16be or windows-1252", name, asked)
	}
	if marked != 0 && marked != enc {
		return 0, &Error{
			File: name, Found: fmt.Sprintf("the byte-order mark of %s", marked),
			Wanted: fmt.Sprintf("%s, as the layout says", enc),
		}
	}
	return enc, nil
}

// toUTF8 returns r's text as UTF-8. What r's encoding does not allow comes out
// as bytes that are not UTF-8, so that [encoding.badText] finds them in the
// cell where they stand.
func (e encoding) toUTF8(r io.Reader) io.Reader {
	switch e {
	case utf16LE:
		return transform.NewReader(r, utf16Decoder{order: binary.LittleEndian})
	case utf16BE:
		return transform.NewReader(r, utf16Decoder{order: binary.BigEndian})
	case windows1252:
		return transform.NewReader(r, windows1252Decoder{})
	default:
		return r
	}
}

// notUTF8 stands for UTF-16 that stands for no character: no UTF-8 holds it.
const notUTF8 = 0xFF

// badText describes the first thing in a cell that is not text, or returns "".
func (e encoding) badText(cell string) string {
	for i, r := range cell {
		switch {
		case r == 0:
			return "a NUL character"
		case r != utf8.RuneError:
			continue
		}
		if _, n := utf8.DecodeRuneInString(cell[i:]); n > 1 {
			continue // a U+FFFD that the file itself holds
		}
		if cell[i] == notUTF8 && (e == utf16LE || e == utf16BE) {
			return "half a UTF-16 character"
		}
		return fmt.Sprintf("the byte 0x%02X, which stands for no character in %s", cell[i], e)
	}
	return ""
}

// wanted says what should stand where badText found something else.
func (e encoding) wanted() string {
	if e == utf8Text {
		return `utf-8 text (a column map can say another encoding, such as "windows-1252")`
	}
	return e.String() + " text"
}

// utf16Decoder is a [transform.Transformer] from UTF-16 to UTF-8. A unit that
// is half a surrogate pair, and an odd byte at the end, become notUTF8.
type utf16Decoder struct {
	transform.NopResetter
	order binary.ByteOrder
}

// Transform implements [transform.Transformer].
func (d utf16Decoder) Transform(dst, src []byte, atEOF bool) (nDst, nSrc int, err error) {
	for nSrc < len(src) {
		if nDst+utf8.UTFMax > len(dst) {
			return nDst, nSrc, transform.ErrShortDst
		}
		rest := src[nSrc:]
		if len(rest) < 2 {
			if !atEOF {
				return nDst, nSrc, transform.ErrShortSrc
			}
			dst[nDst] = notUTF8
			return nDst + 1, nSrc + 1, nil
		}
		r, n := rune(d.order.Uint16(rest)), 2
		if utf16.IsSurrogate(r) {
			if len(rest) < 4 && !atEOF {
				return nDst, nSrc, transform.ErrShortSrc
			}
			low := rune(0)
			if len(rest) >= 4 {
				low = rune(d.order.Uint16(rest[2:]))
			}
			if r = utf16.DecodeRune(r, low); r == utf8.RuneError {
				dst[nDst] = notUTF8
				nDst, nSrc = nDst+1, nSrc+2
				continue
			}
			n = 4
		}
		nDst += utf8.EncodeRune(dst[nDst:], r)
		nSrc += n
	}
	return nDst, nSrc, nil
}

// windows1252Decoder is a [transform.Transformer] from windows-1252 to UTF-8.
// The five bytes that charmap does not define pass unchanged, which is not
// UTF-8.
type windows1252Decoder struct{ transform.NopResetter }

// Transform implements [transform.Transformer].
func (windows1252Decoder) Transform(dst, src []byte, _ bool) (nDst, nSrc int, err error) {
	for _, b := range src {
		if nDst+utf8.UTFMax > len(dst) {
			return nDst, nSrc, transform.ErrShortDst
		}
		r := charmap.Windows1252.DecodeByte(b)
		if r == utf8.RuneError {
			dst[nDst] = b
			nDst++
		} else {
			nDst += utf8.EncodeRune(dst[nDst:], r)
		}
		nSrc++
	}
	return nDst, nSrc, nil
}
