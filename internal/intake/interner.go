package intake

import (
	"strings"

	"repose/ledger"
)

// interner keeps one copy of each code and of other texts that many rows share, so that a record does not
// hold the line it was read from.
type interner struct {
	texts map[string]string
	codes map[string]string
}

// internedTexts and internedBytes bound what an interner keeps, so that a file of ever new texts does not
// fill the memory.
const (
	internedTexts = 1 << 16
	internedBytes = 64
)

func newInterner() *interner {
	return &interner{texts: make(map[string]string), codes: make(map[string]string)}
}

// shared returns a copy of s that does not hold what s was cut from.
func (n *interner) shared(s string) string {
	if s == "" {
		return ""
	}
	if kept, ok := n.texts[s]; ok {
		return kept
	}
	s = strings.Clone(s)
	if len(s) <= internedBytes && len(n.texts) < internedTexts {
		n.texts[s] = s
	}
	return s
}

// code is shared for a code; ok is false, and s returned, where the ledger would not take it as one.
func (n *interner) code(s string) (code string, ok bool) {
	if kept, ok := n.codes[s]; ok {
		return kept, true
	}
	if !ledger.IsCode(s) {
		return s, false
	}
	s = strings.Clone(s)
	if len(n.codes) < internedTexts {
		n.codes[s] = s
	}
	return s, true
}
