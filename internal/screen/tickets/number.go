package tickets

import (
	"strconv"
	"strings"
	"time"

	"repose/ledger"
)

// numbered is a record with a ticket number.
type numbered struct {
	rec      *ledger.Record
	at       time.Time
	number   int64
	isVoid   bool
	net      ledger.Mass
	pile     string
	product  string
	truck    string
	customer string
}

// seriesID names a numbering series: numbers of one instrument that share what stands before their digits, or of several
// that draw from one counter. Where numbers start anew with the year, the year tells its series apart.
type seriesID struct {
	instrument, prefix string
	year               int // 0 where numbers run on
}

// String returns the instrument, the prefix and the year, as far as they are there.
func (s seriesID) String() string {
	text := s.instrument
	if s.prefix != "" {
		text += " " + s.prefix
	}
	if s.year > 0 {
		text += " " + strconv.Itoa(s.year)
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
	ticket = strings.TrimSpace(ticket)
	if strings.Contains(ticket, partMark) {
		return "", 0, false
	}
	end := len(ticket)
	for end > 0 && (ticket[end-1] < '0' || ticket[end-1] > '9') {
		end--
	}
	begin := end
	for begin > 0 && ticket[begin-1] >= '0' && ticket[begin-1] <= '9' {
		begin--
	}
	n, err := strconv.ParseInt(ticket[begin:end], 10, 64)
	return strings.ToUpper(strings.TrimSpace(ticket[:begin])), n, err == nil
}

// collector sorts records into their series.
type collector struct {
	until  time.Time
	series map[seriesID][]numbered
}

func (c *collector) add(instrument, ticket string, n numbered) {
	prefix, number, ok := split(ticket)
	if !ok || instrument == "" || !n.rec.At.Before(c.until) {
		return
	}
	n.number, n.at = number, n.rec.At
	id := seriesID{instrument: instrument, prefix: prefix}
	c.series[id] = append(c.series[id], n)
}
