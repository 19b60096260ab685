package ledger

import "strings"

// Difference is a field that two records have differently, in words for a reader: masses in tonnes. An
// absent value is "".
type Difference struct{ Field, Held, Incoming string }

// Differences compares a record that is held with one that came in under its key, field by field.
func Differences(held, incoming *Record) []Difference {
	var list []Difference
	have, came := held.Fields(), incoming.Fields()
	for _, h := range have {
		if in := fieldOf(came, h.Name); in != h.Value {
			list = append(list, newDifference(h.Name, h.Value, in))
		}
	}
	for _, c := range came {
		if fieldOf(have, c.Name) == "" {
			list = append(list, newDifference(c.Name, "", c.Value))
		}
	}
	return list
}

func fieldOf(fields []Field, name string) string {
	for _, f := range fields {
		if f.Name == name {
			return f.Value
		}
	}
	return ""
}

// gramsSuffix ends the names of fields that hold a mass.
const gramsSuffix = "_g"

func newDifference(name, held, incoming string) Difference {
	short, isMass := strings.CutSuffix(name, gramsSuffix)
	if !isMass {
		return Difference{name, held, incoming}
	}
	return Difference{short, gramsInTonnes(held), gramsInTonnes(incoming)}
}

func gramsInTonnes(grams string) string {
	m, err := ParseMass(grams, UnitGram)
	if err != nil {
		return grams
	}
	return m.String()
}
