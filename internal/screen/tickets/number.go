package tickets

import (
	"strconv"
	"strings"

	"repose/ledger"
)

// seriesID names a numbering series: numbers of one instrument that share what stands before their digits, or of several
// that draw from one counter. Where numbers start anew with the year, the month or the day, that tells its series apart.
type seriesID struct {
	instrument, prefix string
	from               int64 // such as 2026 or 261005; 0 where numbers run on
}

// String returns the instrument, the prefix and from when on the series counts, as far as they are there.
func (s seriesID) String() string {
	text := s.instrument
	if s.prefix != "" {
		text += " " + s.prefix
	}
	if s.from > 0 {
		text += " " + strconv.FormatInt(s.from, 10)
	}
	return text
}

// partMark stands in the ticket of what was split off a record of several trucks: it has no number of its own.
const partMark = " part "

// parts reports whether two loads were split off one record, or one off the other.
func parts(a, b ledger.Load) bool {
	whole, _, _ := strings.Cut(a.Ticket, partMark)
	other, _, _ := strings.Cut(b.Ticket, partMark)
	return a.Loader == b.Loader && a.Ticket != b.Ticket && whole == other
}

// split parts a ticket into what stands before its last digits and their number; ok is false for one without.
func split(ticket string) (prefix string, number int64, ok bool) {
	begin, _, number, ok := digits(ticket)
	return prefixOf(ticket[:begin]), number, ok
}

// prefixOf returns what names a series, of what stands before a number.
func prefixOf(before string) string { return strings.ToUpper(strings.TrimSpace(before)) }

// digits returns where the last digits of a ticket stand and their number; ok is false for one without.
func digits(ticket string) (begin, end int, number int64, ok bool) {
	if strings.Contains(strings.TrimSpace(ticket), partMark) {
		return 0, 0, 0, false
	}
	end = len(ticket)
	for end > 0 && (ticket[end-1] < '0' || ticket[end-1] > '9') {
		end--
	}
	begin = end
	for begin > 0 && ticket[begin-1] >= '0' && ticket[begin-1] <= '9' {
		begin--
	}
	number, err := strconv.ParseInt(ticket[begin:end], 10, 64)
	return begin, end, number, err == nil
}
