package screen

import (
	"crypto/sha256"
	"encoding/base32"
	"fmt"
	"strings"
	"time"

	"repose/ledger"
)

// Finding is one thing that a rule found.
type Finding struct {
	// Subject says what it is about in natural keys, such as the ID of the record. It is unique within the rule and
	// yard, and neither settings nor other records enter it.
	Subject string
	Time    time.Time // when it happened, within the month
	Pile    string    // code; empty where it is about none

	Mass      ledger.Mass // as weighed, what is at stake; 0 where no mass is
	Estimated bool        // Mass is an estimate, and Low and High bound it with 95 % confidence
	Low, High ledger.Mass

	Records []string // IDs; the first is the one that it is about
	Seen    string   // what was seen, in one sentence with the figures

	Effects []Effect
	// Unplaced would explain missing stone too, as weighed, of a pile that the records do not tell.
	Unplaced ledger.Mass

	// What reports group and filter by; empty where it does not apply.
	Instrument, Series, Product, Customer, Truck string
}

// Effect is by how much a finding would make the book of a pile exceed what a survey finds there, if it is
// what it seems; as weighed. Positive explains stone that is missing.
type Effect struct {
	Pile string
	Mass ledger.Mass
}

// Exception is a finding in the register.
type Exception struct {
	Finding
	ID   string // stable: the same finding has it in every run
	Rule string
	Strength
	Solids []Effect // Effects in oven-dry stone, at the moisture of the pile then
}

// idEncoding writes IDs in letters and digits that are not mistaken for one another when they are read out:
// no I, L, O, U.
var idEncoding = base32.NewEncoding("0123456789ABCDEFGHJKMNPQRSTVWXYZ").WithPadding(base32.NoPadding)

// idBytes make eight letters. Among 1,000 exceptions of a month two share an ID with a chance of 1 in 2,000,000;
// Run refuses that.
const idBytes = 5

// ExceptionID returns the ID of what a rule found about a subject in a month of a yard: the month, and eight
// letters of a SHA-256, such as 2610-4KX9T2MB.
func ExceptionID(yard string, month ledger.Period, rule, subject string) string {
	sum := sha256.Sum256([]byte(strings.Join([]string{yard, rule, subject}, "\x00")))
	return idMonth(month) + idEncoding.EncodeToString(sum[:idBytes])
}

// idMonth is the part of an ID that names its month.
func idMonth(p ledger.Period) string { return strings.ReplaceAll(p.String(), "-", "")[2:] + "-" }

// MonthOfID returns the month of an exception by its ID.
func MonthOfID(id string) (ledger.Period, error) {
	month, letters, ok := strings.Cut(id, "-")
	if ok && len(month) == 4 && len(letters) == 8 {
		if p, err := ledger.ParsePeriod("20" + month[:2] + "-" + month[2:]); err == nil {
			return p, nil
		}
	}
	return ledger.Period{}, fmt.Errorf("exception %q: want an ID as the register prints it, such as 2610-4KX9T2MB", id)
}
