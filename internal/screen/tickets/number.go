package tickets

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"

	"repose/internal/screen"
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

// seriesByID holds the records of each series in order of number.
type seriesByID map[seriesID][]numbered

// seriesOf returns the numbering series of a month and the one before it. Callers must not change it.
func seriesOf(d *screen.Data) seriesByID { return screen.Memo(d, collect) }

// collect sorts the records of a month and the one before it into series. A loader's loads and transfers share its
// counter.
func collect(d *screen.Data) seriesByID {
	c := &collector{d.End, map[seriesID][]numbered{}}
	for _, l := range d.Loads {
		f := l.Fact
		c.add(f.Loader, f.Ticket, numbered{rec: l.Rec, isVoid: f.Void, net: f.Net, pile: f.Pile, product: f.Product, truck: f.Truck, customer: f.Customer})
	}
	for _, t := range d.Transfers {
		c.add(t.Fact.Loader, t.Fact.Ticket, numbered{rec: t.Rec, net: t.Fact.Net, pile: t.Fact.From, truck: t.Fact.Truck})
	}
	for _, t := range d.Deck {
		f := t.Fact
		c.add(f.Deck, f.Ticket, numbered{rec: t.Rec, isVoid: f.Void, net: f.Net, product: f.Product, truck: f.Truck, customer: f.Customer})
	}
	for _, r := range d.Returns {
		c.add(r.Fact.Instrument, r.Fact.Ticket, numbered{rec: r.Rec, net: r.Fact.Net, pile: r.Fact.Pile})
	}
	all := byYear(d, shared(c.series))
	for _, list := range all {
		slices.SortFunc(list, byNumber)
	}
	return all
}

// shared puts series of several instruments together that draw from one counter: they have one prefix, the numbers of
// each lie among those of the other, and no number is in both. Counters of their own would have numbers in common.
func shared(all map[seriesID][]numbered) map[seriesID][]numbered {
	byPrefix := map[string][]seriesID{}
	for _, id := range sortedIDs(all) {
		byPrefix[id.prefix] = append(byPrefix[id.prefix], id)
	}
	out := map[seriesID][]numbered{}
	for _, ids := range byPrefix {
		for len(ids) > 0 {
			name, list := ids[0], all[ids[0]]
			rest := ids[:0:0]
			for _, id := range ids[1:] {
				if oneCounter(list, all[id]) {
					name.instrument += "+" + id.instrument
					list = append(slices.Clone(list), all[id]...)
				} else {
					rest = append(rest, id)
				}
			}
			out[name], ids = list, rest
		}
	}
	return out
}

// fewShared is how many records each of two instruments needs to say that they share a counter.
const fewShared = 3

func oneCounter(a, b []numbered) bool {
	if len(a) < fewShared || len(b) < fewShared || highest(a) < lowest(b) || highest(b) < lowest(a) {
		return false
	}
	have := make(map[int64]bool, len(a))
	for _, n := range a {
		have[n.number] = true
	}
	return !slices.ContainsFunc(b, func(n numbered) bool { return have[n.number] })
}

// byYear parts series whose numbers start anew with the year: all of the new year's are below all of the old's.
func byYear(d *screen.Data, all map[seriesID][]numbered) seriesByID {
	out := map[seriesID][]numbered{}
	for id, list := range all {
		slices.SortStableFunc(list, func(a, b numbered) int { return a.at.Compare(b.at) })
		cut := slices.IndexFunc(list, func(n numbered) bool { return n.at.In(d.Zone).Year() > list[0].at.In(d.Zone).Year() })
		if cut > 0 && highest(list[cut:]) < lowest(list[:cut]) {
			out[seriesID{id.instrument, id.prefix, list[0].at.In(d.Zone).Year()}] = list[:cut]
			out[seriesID{id.instrument, id.prefix, list[cut].at.In(d.Zone).Year()}] = list[cut:]
			continue
		}
		out[id] = list
	}
	return out
}

func byNumber(a, b numbered) int { return cmp.Or(cmp.Compare(a.number, b.number), a.at.Compare(b.at)) }

func highest(list []numbered) int64 { return slices.MaxFunc(list, byNumber).number }

func lowest(list []numbered) int64 { return slices.MinFunc(list, byNumber).number }

// sortedIDs returns the series in order, so that nothing depends on a map.
func sortedIDs(all map[seriesID][]numbered) []seriesID {
	ids := make([]seriesID, 0, len(all))
	for id := range all {
		ids = append(ids, id)
	}
	slices.SortFunc(ids, func(a, b seriesID) int {
		return cmp.Or(cmp.Compare(a.instrument, b.instrument), cmp.Compare(a.prefix, b.prefix), cmp.Compare(a.year, b.year))
	})
	return ids
}
