package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
)

// Journal is the journal of a closed month, for the accounts.
type Journal struct {
	Value    *Value
	Close    string // the close's ID
	Number   int    // of the close within its month
	Date     string // last day of the month, YYYY-MM-DD
	Prepared string // who closed the month
	Approved string // who gives the journal out
}

// journalHead names the columns of the file.
var journalHead = []string{"reference", "date", "account", "debit", "credit", "currency", "solids t", "product", "text", "prepared by", "approved by", "close"}

// Reference returns what names a line, the same in every copy of the file: accounts that have it have the line.
func (j *Journal) Reference(line int) string {
	return fmt.Sprintf("%s-%s-%d-%03d", j.Value.Yard, j.Value.Period, j.Number, line+1)
}

// WriteCSV writes two rows for every line, the debit and the credit, under one reference (RFC 4180).
func (j *Journal) WriteCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	if err := c.Write(journalHead); err != nil {
		return err
	}
	for i, l := range j.Value.Journal {
		for side, account := range []string{l.Debit, l.Credit} {
			amounts := [2]string{}
			amounts[side] = l.Amount.String()
			err := c.Write([]string{j.Reference(i), j.Date, account, amounts[0], amounts[1], j.Value.Currency, l.Solids.Mass().Tonnes(), plainText(l.Product), plainText(l.Text),
				plainText(j.Prepared), plainText(j.Approved), j.Close})
			if err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

// plainText keeps a spreadsheet from reading a text as a formula: what begins like one gets an apostrophe before it.
func plainText(s string) string {
	if s != "" && (s[0] == '=' || s[0] == '+' || s[0] == '-' || s[0] == '@' || s[0] == '\t' || s[0] == '\r') {
		if _, err := strconv.ParseFloat(s, 64); err != nil {
			return "'" + s
		}
	}
	return s
}
