package workbook

import (
	"fmt"
	"strings"

	"repose/ledger"
)

// maxKeyName keeps the names in keys short enough to head a column.
const maxKeyName = 48

// The words that keys begin with, where no kind of account gives them.
const (
	wordProduct = "product"
	wordFile    = "file"
	wordOwner   = "owner"
	wordMonth   = "month"
	wordRule    = "rule"
)

// names gives piles, accounts, products, files and owners the texts under which formulas look their rows
// up. The same name gets the same key; names that a spreadsheet takes for one get keys that it does not.
type names struct {
	keys  map[[2]string]string // by word and name
	taken map[string]bool      // keys in lower case
}

func newNames() *names {
	return &names{keys: make(map[[2]string]string), taken: make(map[string]bool)}
}

// key returns the key of a name among those of a word. A name that is cut short, or differs from another
// only by case, gets a number.
func (n *names) key(word, name string) string {
	id := [2]string{word, name}
	if k, ok := n.keys[id]; ok {
		return k
	}
	first := word
	if cleanLine(name) != "" {
		first = keyText(word, clip(cleanLine(name), maxKeyName))
	} else if word == ledger.KindSuspense.String() {
		first = keyText(word, "without pile")
	}
	k := first
	for i := 2; n.taken[strings.ToLower(k)]; i++ {
		k = fmt.Sprintf("%s (%d)", first, i)
	}
	n.keys[id] = k
	n.taken[strings.ToLower(k)] = true
	return k
}

// account returns the key of an account: "pile P1", "out sale". Only an account of another yard than the
// workbook's is named with its yard.
func (n *names) account(a ledger.Account, yard string) string {
	if a.Yard != yard {
		return n.key(a.Kind.String(), strings.TrimSpace(a.Name+" of yard "+a.Yard))
	}
	return n.key(a.Kind.String(), a.Name)
}
