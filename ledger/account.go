package ledger

import (
	"cmp"
	"fmt"
	"strings"
)

// AccountKind says what an account stands for. The zero value is no account.
type AccountKind uint8

// The kinds of account. Stock lies in piles; all the others are where it comes from and where it goes.
const (
	KindPile       AccountKind = iota + 1 // stone in a pile
	KindOpening                           // what lay in the piles when the book began
	KindProduction                        // made by the plant, by belt, or bought in
	KindReturns                           // brought back by customers
	KindOut                               // loaded out: sale, internal, free
	KindFeed                              // carried from a pile back to the crusher
	KindTransit                           // under way between yards
	KindWeather                           // rain gained and water drained: water only
	KindShrinkage                         // what surveys say is missing (positive) or too much
	KindSuspense                          // records whose pile is unknown
)

var accountKindNames = [...]string{KindPile: "pile", KindOpening: "opening", KindProduction: "production",
	KindReturns: "returns", KindOut: "out", KindFeed: "feed", KindTransit: "transit",
	KindWeather: "weather", KindShrinkage: "shrinkage", KindSuspense: "suspense"}

// String returns the kind's name as reports and accounts write it.
func (k AccountKind) String() string { return nameOf(accountKindNames[:], int(k)) }

// Account is one account of one yard, such as pile P1 or out sale. It is comparable; the zero Account is
// no account.
type Account struct {
	Kind AccountKind
	Yard string
	Name string // the pile's code, the belt's, the purpose, the cause; may be empty
}

// String returns the account as kind:yard:name.
func (a Account) String() string { return a.Kind.String() + ":" + a.Yard + ":" + a.Name }

// ParseAccount reads what String writes.
func ParseAccount(s string) (Account, error) {
	parts := strings.SplitN(s, ":", 3)
	if len(parts) == 3 {
		if i := indexFold(accountKindNames[:], parts[0]); i > 0 {
			return Account{AccountKind(i), parts[1], parts[2]}, nil
		}
	}
	return Account{}, fmt.Errorf("account %q: want kind:yard:name", s)
}

// Compare orders accounts by yard, kind and name.
func (a Account) Compare(b Account) int {
	return cmp.Or(cmp.Compare(a.Yard, b.Yard), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Name, b.Name))
}

// Shrinkage accounts by what is known of the cause. They never share one: what the yard expects to lose, what an
// exception explains, one account a cause, and the rest.
const (
	ShrinkageUnexplained = "unexplained"
	ShrinkageExpected    = "expected"

	explainedPrefix = "explained "
)
