package screen

import (
	"fmt"
	"strings"

	"repose/ledger"
)

// Rule looks for one kind of exception.
type Rule interface {
	// Info says what the rule is. It returns the same in every call.
	Info() Info
	// Look hands in everything that it finds, in any order.
	Look(d *Data, found func(Finding))
}

// Info is a rule in words.
type Info struct {
	Name     string // as the register shows it, such as "missing number"
	Strength Strength
	Meaning  string // what was seen, in one or two sentences
	Benign   string // the harmless reasons to look at first
	Settle   string // what settles it

	// FalseAlarms is how many findings a clean month of about 1,000 loads has at most, in the mean. It is 0 for
	// rules that cannot be wrong about what the records say; a test holds the rule to it.
	FalseAlarms float64
	Settings    []Setting
}

// Strength says how far a finding goes by itself. The zero value is none.
type Strength uint8

// The strengths, strongest first.
const (
	// Certain: the records contradict themselves or each other, whatever the reason.
	Certain Strength = iota + 1
	// Likely: a comparison of records that chance passes at a stated rate.
	Likely
	// Pattern: soft evidence, a rate or a habit; no single record is meant.
	Pattern
)

var strengthNames = [...]string{Certain: "certain", Likely: "likely", Pattern: "pattern"}

// String returns certain, likely or pattern.
func (s Strength) String() string {
	if int(s) < len(strengthNames) {
		return strengthNames[s]
	}
	return ""
}

// ParseStrength reads what String writes.
func ParseStrength(s string) (Strength, error) {
	for i := Certain; int(i) < len(strengthNames); i++ {
		if strings.EqualFold(s, strengthNames[i]) {
			return i, nil
		}
	}
	return 0, fmt.Errorf("%q: want one of %s", s, strings.Join(strengthNames[1:], ", "))
}

// Quantity says how the value of a setting is written. The zero value is none.
type Quantity uint8

// The quantities.
const (
	Number  Quantity = iota + 1 // a plain number, such as 50
	Percent                     // a number of per cent, such as 0.5
	Minutes                     // a number of minutes
	Days                        // a number of days
	Tonnage                     // a mass with its unit, such as 5 t
	Words                       // a text
)

var quantityNames = [...]string{Number: "a number", Percent: "a number of per cent", Minutes: "a number of minutes",
	Days: "a number of days", Tonnage: "a mass with its unit, such as 5 t", Words: "a text"}

// String says what a value has to look like.
func (q Quantity) String() string { return quantityNames[q] }

// Setting is something about a rule that a yard may change by a policy record of the same name.
type Setting struct {
	Name    ledger.PolicyName // "rule", the rule's name, what is set: rule near twin minutes
	Holds   Quantity
	Default string
	Meaning string
}

// Switch returns the setting that every rule has: its policy, "rule" and its name, says off where the yard
// does without it.
func (i Info) Switch() ledger.PolicyName { return ledger.PolicyName("rule " + i.Name) }
