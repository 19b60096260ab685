package report

import "fmt"

// Journal is the journal of a closed month, for the accounts.
type Journal struct {
	Value    *Value
	Close    string // the close's ID
	Number   int    // of the close within its month
	Date     string // last day of the month, YYYY-MM-DD
	Prepared string // who closed the month
	Approved string // who gives the journal out
}

// Reference returns what names a line, the same in every copy of the file: accounts that have it have the line.
func (j *Journal) Reference(line int) string {
	return fmt.Sprintf("%s-%s-%d-%03d", j.Value.Yard, j.Value.Period, j.Number, line+1)
}
