package tickets

import (
	"cmp"
	"iter"
	"maps"
	"slices"
	"strings"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

// Numbers keeps the ticket numbers of a month and the month before it, in some nine bytes a record: a close that reads a
// million records once, and keeps none of them, finds in it which numbers are missing. See NewNumbers.
type Numbers struct {
	yard             string
	zone             *time.Location
	lead, start, end time.Time // of the month before, and of the month; end belongs to the next

	earlier, own part // the month before, and the month
	forms        []form
	formOf       map[form]uint32
}

// part holds the records of one month by instrument and prefix.
type part struct {
	series map[seriesID]*packed
	byForm []*packed // the same, by the places of forms
	count  uint32
}

// NewNumbers returns the numbers of a month of a yard, none so far.
func NewNumbers(yard string, p ledger.Period, zone *time.Location) *Numbers {
	return &Numbers{yard: yard, zone: zone, lead: screen.Lead(p, zone), start: p.Start(zone), end: p.End(zone),
		earlier: part{series: map[seriesID]*packed{}}, own: part{series: map[seriesID]*packed{}}, formOf: map[form]uint32{}}
}

// Add takes the number of a record of the month. The records are those that stand, in the order of
// [ledger.Record.Compare]. One without a number, or of another month, is left out.
func (n *Numbers) Add(rec *ledger.Record) {
	if !rec.At.Before(n.start) {
		n.add(rec)
	}
}

// Precede takes the numbers of the month before, in place of those that it had of it. Its records are as those of Add.
func (n *Numbers) Precede(records iter.Seq2[*ledger.Record, error]) error {
	n.earlier = part{series: map[seriesID]*packed{}}
	for rec, err := range records {
		if err != nil {
			return err
		}
		if rec.At.Before(n.start) {
			n.add(rec)
		}
	}
	return nil
}

// add takes a record of either month, and reports whether it has a number.
func (n *Numbers) add(rec *ledger.Record) bool {
	to := &n.own
	switch {
	case rec.At.Before(n.lead), !rec.At.Before(n.end):
		return false
	case rec.At.Before(n.start):
		to = &n.earlier
	}
	s, ok := slipOf(rec)
	if !ok || s.instrument == "" {
		return false
	}
	begin, end, number, ok := digits(s.ticket)
	if !ok {
		return false
	}
	place := n.form(form{kind: rec.Fact.Kind(), instrument: s.instrument, before: s.ticket[:begin], after: s.ticket[end:], width: end - begin,
		revision: rec.Revision, pile: s.pile, product: s.product, isVoid: s.isVoid})
	to.of(place, n.forms[place]).add(numbered{at: rec.At.Sub(n.lead), number: number, net: s.net, form: place, place: to.count})
	to.count++
	return true
}

// of returns the series of a form.
func (p *part) of(place uint32, f form) *packed {
	for int(place) >= len(p.byForm) {
		p.byForm = append(p.byForm, nil)
	}
	if p.byForm[place] == nil {
		id := seriesID{instrument: f.instrument, prefix: prefixOf(f.before)}
		if p.series[id] == nil {
			p.series[id] = new(packed)
		}
		p.byForm[place] = p.series[id]
	}
	return p.byForm[place]
}

// form returns the place of a form, which is new where no record before had it. Its texts are copied: a record's own may keep
// all that it was read with in memory.
func (n *Numbers) form(f form) uint32 {
	place, ok := n.formOf[f]
	if !ok {
		place = uint32(len(n.forms))
		for _, text := range []*string{&f.instrument, &f.before, &f.after, &f.pile, &f.product} {
			*text = strings.Clone(*text)
		}
		n.formOf[f] = place
		n.forms = append(n.forms, f)
	}
	return place
}

// Seed has the rules about series look at the numbers, in place of the data's rows. It comes before any rule.
func (n *Numbers) Seed(d *screen.Data) {
	screen.Memo(d, func(d *screen.Data) sequences { return n.sequences(d) })
}

// all yields the series, those of one prefix at a time, so that few are unpacked at once; in no order.
func (n *Numbers) all() iter.Seq[series] {
	byPrefix := map[string]map[string]bool{} // instruments
	for _, p := range []part{n.earlier, n.own} {
		for id := range p.series {
			if byPrefix[id.prefix] == nil {
				byPrefix[id.prefix] = map[string]bool{}
			}
			byPrefix[id.prefix][id.instrument] = true
		}
	}
	return func(yield func(series) bool) {
		for prefix, instruments := range byPrefix {
			alike := map[seriesID][]numbered{}
			for instrument := range instruments {
				n.byYear(alike, seriesID{instrument: instrument, prefix: prefix})
			}
			for _, s := range shared(alike) {
				slices.SortFunc(s.rows, byNumber)
				for _, part := range n.anew(s) {
					if !yield(part) {
						return
					}
				}
			}
		}
	}
}

// sorted returns the series in order of instrument and prefix.
func (n *Numbers) sorted() []series {
	return slices.SortedFunc(n.all(), func(a, b series) int { return a.id.compare(b.id) })
}

// rows unpacks a series, in the order of the book.
func (n *Numbers) rows(id seriesID) []numbered {
	earlier, own := n.earlier.series[id], n.own.series[id]
	list := own.appendTo(earlier.appendTo(make([]numbered, 0, earlier.len()+own.len())))
	for i := earlier.len(); i < len(list); i++ {
		list[i].place += n.earlier.count
	}
	return list
}

// of returns the form of a record.
func (n *Numbers) of(x numbered) *form { return &n.forms[x.form] }

// when returns the instant of a record.
func (n *Numbers) when(x numbered) time.Time { return n.lead.Add(x.at).UTC() }

// byYear puts a series into a set, unless its numbers are clocks, in two where its numbers start anew with the year: the
// middle one of the first few of the new year is below that of the last few of the old, so that a ticket that came late, or
// was mistyped, changes nothing.
func (n *Numbers) byYear(into map[seriesID][]numbered, id seriesID) {
	list := n.rows(id)
	if n.clocks(list) {
		return
	}
	year := func(x numbered) int { return n.when(x).In(n.zone).Year() }
	first := year(list[0])
	cut := len(list)
	if year(list[len(list)-1]) > first {
		cut = slices.IndexFunc(list, func(x numbered) bool { return year(x) > first })
	}
	if cut < len(list) && middle(list[cut:min(cut+aroundYear, len(list))]) < middle(list[max(cut-aroundYear, 0):cut]) {
		into[seriesID{id.instrument, id.prefix, int64(first)}] = list[:cut]
		into[seriesID{id.instrument, id.prefix, int64(year(list[cut]))}] = list[cut:]
		return
	}
	into[id] = list
}

// aroundYear is how many records on each side of the new year say whether the numbers start anew.
const aroundYear = 5

// middle returns the upper median of the numbers.
func middle(list []numbered) int64 {
	sorted := slices.SortedFunc(slices.Values(list), byNumber)
	return sorted[len(sorted)/2].number
}

// sortedIDs returns the names of series in order, so that nothing depends on a map.
func sortedIDs(all map[seriesID][]numbered) []seriesID {
	return slices.SortedFunc(maps.Keys(all), seriesID.compare)
}

func (s seriesID) compare(t seriesID) int {
	return cmp.Or(cmp.Compare(s.instrument, t.instrument), cmp.Compare(s.prefix, t.prefix), cmp.Compare(s.from, t.from))
}
