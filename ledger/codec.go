package ledger

import (
	"errors"
	"fmt"
	"strconv"
	"time"
	"unicode/utf8"

	"github.com/shopspring/decimal"
)

// The body of a record is a JSON object with a fixed order of fields, no blanks, every value a string
// and no field without a value. One record has one body, so that its hash means something: masses are
// whole grams, decimals are plain, instants are UTC.

// Field is one named value of a record, in the text that its body holds.
type Field struct{ Name, Value string }

// Span says where the value of a named field lies in a line: what stands between its quotes, escaped as
// AppendJSONString has it.
type Span struct {
	Name       string
	Start, End int
}

// fieldWriter appends the fields of a fact to a line in order.
type fieldWriter struct {
	line  []byte
	body  int     // where the body begins
	spans []Span  // of the fields so far; the last is open while its value is written
	marks bool    // whether spans are kept
	last  *common // of whole lines
}

// common is what lines that are written one after the other mostly share.
type common struct {
	source shared[Source] // without its row
	intake shared[intake]
}

// intake says when a record was taken in, and by whom.
type intake struct {
	at time.Time
	by string
}

// shared is a text, and what it was made of.
type shared[T comparable] struct {
	of   T
	text []byte
}

// append appends the text, which write makes unless it was made of the same before.
func (s *shared[T]) append(b []byte, of T, write func(b []byte) []byte) []byte {
	if s.of != of {
		s.of, s.text = of, write(s.text[:0])
	}
	return append(b, s.text...)
}

func (w *fieldWriter) text(name, value string) {
	if value == "" {
		return
	}
	w.open(name)
	w.line = appendEscaped(w.line, value)
	w.end()
}

func (w *fieldWriter) mass(name string, m Mass) {
	w.open(name)
	w.line = m.appendGrams(w.line)
	w.end()
}

func (w *fieldWriter) count(name string, n int) {
	if n == 0 {
		return
	}
	w.open(name)
	w.line = strconv.AppendInt(w.line, int64(n), 10)
	w.end()
}

func (w *fieldWriter) decimal(name string, d decimal.Decimal) { w.text(name, d.String()) }

func (w *fieldWriter) optional(name string, d decimal.NullDecimal) {
	if d.Valid {
		w.decimal(name, d.Decimal)
	}
}

func (w *fieldWriter) time(name string, t time.Time) {
	if t.IsZero() {
		return
	}
	w.open(name)
	w.line = appendKeyTime(w.line, t)
	w.end()
}

// open appends what stands before a value. The name is one that needs no escape: tag is for others.
func (w *fieldWriter) open(name string) {
	if len(w.line) > w.body {
		w.line = append(w.line, ',')
	}
	w.line = append(append(append(w.line, '"'), name...), `":"`...)
	if w.marks {
		w.spans = append(w.spans, Span{Name: name, Start: len(w.line)})
	}
}

// end appends what stands after it.
func (w *fieldWriter) end() {
	if w.marks {
		w.spans[len(w.spans)-1].End = len(w.line)
	}
	w.line = append(w.line, '"')
}

const tagPrefix = "tag "

func (w *fieldWriter) tag(t Tag) {
	if t.Value != "" {
		w.open(string(appendEscaped([]byte(tagPrefix), t.Name)))
		if w.marks {
			w.spans[len(w.spans)-1].Name = tagPrefix + t.Name
		}
		w.line = appendEscaped(w.line, t.Value)
		w.end()
	}
}

// AppendBody appends the canonical body of the record: its fact, its tags, and what it replaces, unless
// that is the revision before under its own key, which goes without saying. So the row that corrected a
// record and the same row without a word of correction have one body.
func (r *Record) AppendBody(b []byte) []byte {
	var w fieldWriter
	r.appendBody(&w, b)
	return w.line
}

func (r *Record) appendBody(w *fieldWriter, b []byte) {
	w.line = append(b, '{')
	w.body = len(w.line)
	r.Fact.fields(w)
	if r.Replaces != "" && r.Replaces != r.Fact.Key() {
		w.text("replaces", r.Replaces)
	}
	for _, t := range r.Tags {
		w.tag(t)
	}
	w.line = append(w.line, '}')
}

// Fields returns the fields of the record's body in order.
func (r *Record) Fields() []Field {
	d, err := parseBody(r.AppendBody(nil))
	if err != nil {
		return nil // unreachable: AppendBody writes what parseBody reads
	}
	return d.fields
}

// Field returns the value of a named field of the body, or "".
func (r *Record) Field(name string) string {
	for _, f := range r.Fields() {
		if f.Name == name {
			return f.Value
		}
	}
	return ""
}

// AppendLine appends the record as one line of JSON without the line feed: place, origin and body. It is
// the data of the record's leaf in the log.
func (r *Record) AppendLine(b []byte) []byte {
	w := fieldWriter{last: new(common)}
	r.appendLine(&w, b)
	return w.line
}

// LineWriter appends lines and says where the fields of their bodies lie. The zero value is ready.
type LineWriter struct {
	w    fieldWriter
	last common
}

// Append appends the record's line as AppendLine does, and returns the spans of its body's fields, which are valid until
// the next call.
func (l *LineWriter) Append(b []byte, r *Record) (line []byte, fields []Span) {
	l.w.marks, l.w.spans, l.w.last = true, l.w.spans[:0], &l.last
	r.appendLine(&l.w, b)
	line, l.w.line = l.w.line, nil
	return line, l.w.spans
}

func (r *Record) appendLine(w *fieldWriter, b []byte) {
	b = append(b, `{"seq":`...)
	b = strconv.AppendInt(b, r.Seq, 10)
	b = append(b, `,"kind":"`...)
	b = append(append(b, r.Fact.Kind().String()...), '"')
	b = appendMember(b, `,"yard":`, r.Yard)
	b = appendMember(b, `,"key":`, r.Fact.Key())
	if r.Revision > 0 {
		b = append(b, `,"revision":`...)
		b = strconv.AppendInt(b, int64(r.Revision), 10)
	}
	b = appendTime(b, `,"at":"`, r.At)
	b = w.last.source.append(b, Source{File: r.Source.File, Sheet: r.Source.Sheet}, func(b []byte) []byte {
		return appendMember(appendMember(b, `,"file":`, r.Source.File), `,"sheet":`, r.Source.Sheet)
	})
	if r.Source.Row > 0 {
		b = append(b, `,"row":`...)
		b = strconv.AppendInt(b, int64(r.Source.Row), 10)
	}
	b = w.last.intake.append(b, intake{r.Recorded, r.By}, func(b []byte) []byte {
		return appendMember(appendTime(b, `,"recorded":"`, r.Recorded), `,"by":`, r.By)
	})
	r.appendBody(w, append(b, `,"body":`...))
	w.line = append(w.line, '}')
}

// appendMember appends a named text, unless it is empty.
func appendMember(b []byte, name, value string) []byte {
	if value == "" {
		return b
	}
	return AppendJSONString(append(b, name...), value)
}

func appendTime(b []byte, name string, t time.Time) []byte {
	if t.IsZero() {
		return b
	}
	return append(appendKeyTime(append(b, name...), t), '"')
}

// ErrBody says that a stored body is not one that this package wrote.
var ErrBody = errors.New("not the body of a record")

// SetBody reads a canonical body of the given kind into the record, whose Revision must be set: a later
// revision replaces the one before. A body that AppendBody would not have written is refused.
func (r *Record) SetBody(k Kind, body []byte) error {
	d, err := parseBody(body)
	if err != nil {
		return err
	}
	return r.set(k, d)
}

// SetFields is SetBody for the fields of a body in order, with their values as they are and not as a line escapes them. It
// keeps none of the slice. The memo, which may be nil, is one for records that are read together.
func (r *Record) SetFields(k Kind, fields []Field, memo *FieldMemo) error {
	return r.set(k, &fieldReader{fields: fields, memo: memo})
}

// FieldMemo remembers what texts that come again and again mean. It is for one goroutine. The zero value is ready.
type FieldMemo struct{ moistures map[string]DryBasis }

func (r *Record) set(k Kind, d *fieldReader) error {
	f, err := readFact(k, d)
	if err != nil {
		return fmt.Errorf("%v record: %w", k, err)
	}
	if err := f.validate(); err != nil {
		return fmt.Errorf("%v record: %w", k, err)
	}
	r.Fact = f
	r.At = f.at().UTC()
	if r.Replaces = d.text("replaces"); r.Replaces == "" && r.Revision > 0 {
		r.Replaces = f.Key()
	}
	r.Tags = d.tags()
	if d.err != nil {
		return fmt.Errorf("%v record: %w", k, d.err)
	}
	return nil
}

// fieldReader gives the fields of a body by name and remembers the first that does not hold.
type fieldReader struct {
	fields []Field
	memo   *FieldMemo
	next   int // the field after the one that was found last: facts ask in the order in which they were written
	err    error
}

func (d *fieldReader) text(name string) string {
	if d.next < len(d.fields) && d.fields[d.next].Name == name {
		d.next++
		return d.fields[d.next-1].Value
	}
	for i := range d.fields {
		if d.fields[i].Name == name {
			d.next = i + 1
			return d.fields[i].Value
		}
	}
	return ""
}

func (d *fieldReader) fail(name string, err error) {
	if d.err == nil {
		d.err = fmt.Errorf("field %s: %w", name, err)
	}
}

func (d *fieldReader) mass(name string) Mass {
	v, err := strconv.ParseInt(d.text(name), 10, 64)
	if err != nil {
		d.fail(name, ErrBody)
		return 0
	}
	m, err := Mass(v).checked()
	if err != nil {
		d.fail(name, err)
	}
	return m
}

func (d *fieldReader) optionalMass(name string) Mass {
	if d.text(name) == "" {
		return 0
	}
	return d.mass(name)
}

func (d *fieldReader) count(name string) int {
	s := d.text(name)
	if s == "" {
		return 0
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 {
		d.fail(name, ErrBody)
	}
	return n
}

func (d *fieldReader) decimal(name string) decimal.Decimal {
	v, err := ParseDecimal(d.text(name))
	if err != nil {
		d.fail(name, err)
	}
	return v
}

func (d *fieldReader) optional(name string) decimal.NullDecimal {
	if d.text(name) == "" {
		return decimal.NullDecimal{}
	}
	return decimal.NullDecimal{Decimal: d.decimal(name), Valid: true}
}

func (d *fieldReader) time(name string) time.Time {
	s := d.text(name)
	if s == "" {
		return time.Time{}
	}
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		d.fail(name, ErrBody)
	}
	return t
}

func (d *fieldReader) tags() []Tag {
	var tags []Tag
	for _, f := range d.fields {
		if len(f.Name) > len(tagPrefix) && f.Name[:len(tagPrefix)] == tagPrefix {
			tags = append(tags, Tag{f.Name[len(tagPrefix):], f.Value})
		}
	}
	return tags
}

// parseBody reads a body strictly: an object of strings without blanks, no name twice, no escape that
// AppendJSONString would not have written.
func parseBody(b []byte) (*fieldReader, error) {
	d := &fieldReader{fields: make([]Field, 0, 16)}
	if len(b) < 2 || b[0] != '{' || b[len(b)-1] != '}' {
		return nil, ErrBody
	}
	for rest := b[1 : len(b)-1]; len(rest) > 0; {
		if len(d.fields) > 0 {
			if rest[0] != ',' {
				return nil, ErrBody
			}
			rest = rest[1:]
		}
		var f Field
		var ok bool
		if f.Name, rest, ok = cutJSONString(rest); !ok || len(rest) == 0 || rest[0] != ':' || d.text(f.Name) != "" {
			return nil, ErrBody
		}
		if f.Value, rest, ok = cutJSONString(rest[1:]); !ok || f.Value == "" {
			return nil, ErrBody
		}
		d.fields = append(d.fields, f)
	}
	return d, nil
}

const lowerHex = "0123456789abcdef"

// AppendJSONString quotes s as JSON in one way only: quote, backslash and the control characters below
// blank are escaped, everything else stands as it is. s must be valid UTF-8; a byte that is not becomes
// U+FFFD.
func AppendJSONString(b []byte, s string) []byte {
	return append(appendEscaped(append(b, '"'), s), '"')
}

// appendEscaped appends what AppendJSONString puts between the quotes.
func appendEscaped(b []byte, s string) []byte {
	start := 0
	for i := 0; i < len(s); {
		c := s[i]
		if c >= utf8.RuneSelf {
			r, n := utf8.DecodeRuneInString(s[i:])
			if r == utf8.RuneError && n == 1 {
				b = append(append(b, s[start:i]...), "\uFFFD"...)
				start = i + 1
			}
			i += n
			continue
		}
		if c < ' ' || c == '"' || c == '\\' {
			b = append(b, s[start:i]...)
			if c < ' ' {
				b = append(b, '\\', 'u', '0', '0', lowerHex[c>>4], lowerHex[c&15])
			} else {
				b = append(b, '\\', c)
			}
			start = i + 1
		}
		i++
	}
	return append(b, s[start:]...)
}

// UnescapeJSON returns the text whose escaped form, without its quotes, is s. It is ErrBody where AppendJSONString would not
// have written that.
func UnescapeJSON(s string) (string, error) {
	text, rest, ok := cutJSONString([]byte(`"` + s + `"`))
	if !ok || len(rest) > 0 {
		return "", ErrBody
	}
	return text, nil
}

// cutJSONString takes one string that AppendJSONString wrote off the front of b.
func cutJSONString(b []byte) (s string, rest []byte, ok bool) {
	if len(b) == 0 || b[0] != '"' {
		return "", nil, false
	}
	for i := 1; i < len(b); i++ {
		switch c := b[i]; {
		case c == '"':
			return string(b[1:i]), b[i+1:], utf8.Valid(b[1:i])
		case c == '\\':
			return cutEscaped(b)
		case c < ' ':
			return "", nil, false
		}
	}
	return "", nil, false
}

// cutEscaped is cutJSONString for a string that has an escape in it.
func cutEscaped(b []byte) (s string, rest []byte, ok bool) {
	var out []byte
	for i := 1; i < len(b); i++ {
		switch c := b[i]; {
		case c == '"':
			return string(out), b[i+1:], utf8.Valid(out)
		case c < ' ':
			return "", nil, false
		case c != '\\':
			out = append(out, c)
		case i+1 < len(b) && (b[i+1] == '"' || b[i+1] == '\\'):
			i++
			out = append(out, b[i])
		case i+5 < len(b) && string(b[i+1:i+4]) == "u00":
			v, err := strconv.ParseUint(string(b[i+4:i+6]), 16, 8)
			if err != nil || v >= ' ' || b[i+5] >= 'A' && b[i+5] <= 'F' {
				return "", nil, false
			}
			out = append(out, byte(v))
			i += 5
		default:
			return "", nil, false
		}
	}
	return "", nil, false
}
