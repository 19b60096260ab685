package packed

import (
	"bytes"
	"encoding/binary"
	"math"
)

// Texts is a column of texts that is being written. The zero value is an empty one.
type Texts struct {
	bytes []byte
	ends  []int32
	dict  dictionary
}

// Len returns the number of texts.
func (t *Texts) Len() int { return len(t.ends) }

// Size returns how many bytes the texts have together.
func (t *Texts) Size() int { return len(t.bytes) }

// Add adds a text, which is copied.
func (t *Texts) Add(text []byte) {
	t.bytes = append(t.bytes, text...)
	t.ends = append(t.ends, int32(len(t.bytes)))
}

// Pad adds empty texts until there are n.
func (t *Texts) Pad(n int) {
	for len(t.ends) < n {
		t.ends = append(t.ends, int32(len(t.bytes)))
	}
}

// Reset takes all texts away and keeps the memory.
func (t *Texts) Reset() { t.bytes, t.ends = t.bytes[:0], t.ends[:0] }

// At returns the text of a row. It is valid until the next call of a method that changes the column.
func (t *Texts) At(i int) []byte {
	start := int32(0)
	if i > 0 {
		start = t.ends[i-1]
	}
	return t.bytes[start:t.ends[i]]
}

// AppendTo appends the column. A column without rows takes no bytes.
func (t *Texts) AppendTo(b []byte) []byte {
	if len(t.ends) == 0 {
		return b
	}
	switch distinct, ok := t.dict.number(t); {
	case ok && distinct == 1:
		first := t.At(0)
		return append(AppendCount(append(b, modeConstant), len(first)), first...)
	case ok:
		b = AppendCount(append(b, modeDictionary), distinct)
		for _, row := range t.dict.first[:distinct] {
			text := t.At(int(row))
			b = append(AppendCount(b, len(text)), text...)
		}
		return append(b, t.dict.codes...)
	}
	b = append(b, modeFront)
	var last []byte
	for i := range t.ends {
		text := t.At(i)
		shared := sharedPrefix(last, text)
		b = AppendCount(AppendCount(b, shared), len(text)-shared)
		b = append(b, text[shared:]...)
		last = text
	}
	return b
}

func sharedPrefix(a, b []byte) int {
	n := min(len(a), len(b))
	i := 0
	for ; i+8 <= n; i += 8 {
		if binary.LittleEndian.Uint64(a[i:]) != binary.LittleEndian.Uint64(b[i:]) {
			break
		}
	}
	for i < n && a[i] == b[i] {
		i++
	}
	return i
}

// maxDistinct is how many texts a dictionary holds; a row's place in it is a byte.
const maxDistinct = math.MaxUint8

// dictionary numbers the distinct texts of a column in the order of their first rows.
type dictionary struct {
	slots [1024]int16 // number of a text + 1, by hash; 0 is free
	first [maxDistinct]int32
	codes []byte // of the rows
}

// A column of more than sampled rows is given up where sampleDistinct of its first are distinct: what is nearly always
// new is not worth looking up.
const sampled, sampleDistinct = 64, 48

// number returns how many distinct texts there are; ok is false where a dictionary does not pay.
func (d *dictionary) number(t *Texts) (distinct int, ok bool) {
	clear(d.slots[:])
	d.codes = d.codes[:0]
	for i := range t.ends {
		if i == sampled && distinct > sampleDistinct {
			return 0, false
		}
		text := t.At(i)
		slot := hash(text) % uint32(len(d.slots))
		for d.slots[slot] != 0 && !bytes.Equal(t.At(int(d.first[d.slots[slot]-1])), text) {
			slot = (slot + 1) % uint32(len(d.slots))
		}
		if d.slots[slot] == 0 {
			if distinct == maxDistinct {
				return 0, false
			}
			d.first[distinct] = int32(i)
			distinct++
			d.slots[slot] = int16(distinct)
		}
		d.codes = append(d.codes, byte(d.slots[slot]-1))
	}
	return distinct, true
}

// hash is FNV-1a, 32 bits.
func hash(text []byte) uint32 {
	h := uint32(2166136261)
	for _, c := range text {
		h = (h ^ uint32(c)) * 16777619
	}
	return h
}

// Texts reads a column of n texts.
func (r *Reader) Texts(n int) []string {
	if n == 0 || r.err != nil {
		return nil
	}
	switch mode := r.mode(n); mode {
	case modeConstant:
		text := r.Text()
		return repeat(r, text, n)
	case modeDictionary:
		return r.dictionary(n)
	case modeFront:
		return r.front(n)
	default:
		r.fail("texts are written in way %d", mode)
	}
	return nil
}

func (r *Reader) dictionary(n int) []string {
	words := make([]string, r.Count(maxDistinct))
	for i := range words {
		words[i] = r.Text()
	}
	codes := r.Bytes(n)
	if r.err != nil {
		return nil
	}
	column := make([]string, n)
	for i := range column {
		c := int(codes[i])
		if c >= len(words) {
			r.fail("text %d of a dictionary of %d", c, len(words))
			return nil
		}
		column[i] = words[c]
	}
	return column
}

// maxColumnBytes bounds what the texts of a column that share their beginnings can grow to.
const maxColumnBytes = 1 << 28

func (r *Reader) front(n int) []string {
	if 2*n > len(r.text) {
		r.fail("%d bytes for %d texts", len(r.text), n)
		return nil
	}
	ends := make([]int, n)
	bytes := make([]byte, 0, len(r.text))
	start := 0
	for i := range ends {
		shared := r.Count(len(bytes) - start)
		rest := r.Text()
		if r.err != nil {
			return nil
		}
		last := start
		start = len(bytes)
		bytes = append(append(bytes, bytes[last:last+shared]...), rest...)
		if ends[i] = len(bytes); ends[i] > maxColumnBytes {
			r.fail("a column of more than %d bytes", maxColumnBytes)
			return nil
		}
	}
	all := string(bytes)
	column := make([]string, n)
	start = 0
	for i, end := range ends {
		column[i] = all[start:end]
		start = end
	}
	return column
}
