package simyard

import (
	"fmt"
	"slices"
	"time"
)

// record is a row that a loader writes of a load.
type record struct {
	ticket  string
	at      time.Time
	pile    int
	product int // the pile whose product it names
	truck   int
	net     Grams
	passes  int
	void    bool
}

// mishap is what is wrong with the records of a load that has any.
type mishap struct {
	kind  FaultKind     // 0 for nothing
	scale int           // of weights
	sign  int           // of weights: 1 or -1
	e     PPB           // by which the bucket that was miscounted differs from the others
	other int           // pile of the wrong product, or wrong truck
	tare  Grams         // stored
	after time.Duration // from the first of two records to the second
}

// shortTon is the mass of a short ton in g times 100: 2,000 lb of 0.45359237 kg.
const shortTon = 90_718_474

// slipped returns a mass as it reads under the wrong name of its unit, in steps of 10 kg: the number of short
// tons in place of that of t, or the reverse.
func (g Grams) slipped(sign int) Grams {
	if sign < 0 {
		return Grams(mulDiv(int64(g), shortTon, 100*int64(tonne))).inSteps(10 * kilogram)
	}
	return Grams(mulDiv(int64(g), 100*int64(tonne), shortTon)).inSteps(10 * kilogram)
}

// onDeck returns what the deck's ticket of a load says.
func (l *load) onDeck() (gross, tare, net Grams) {
	gross, tare = l.weighed+l.tare, l.tare
	if m := l.mishap; m.tare > 0 {
		tare = m.tare
	}
	if m := l.mishap; m.kind == UnitSlip && m.scale == deckScale {
		gross, tare = gross.slipped(m.sign), tare.slipped(m.sign)
	}
	return gross, tare, gross - tare
}

// rowsOf returns the records that a loader writes of a load, without numbers, given what it holds for trucks
// before.
func (s *simulation) rowsOf(l *load, before Grams, passesBefore int) []record {
	if l.fate != written && l.fate != voided {
		return nil
	}
	r := record{at: l.at, pile: l.recorded, product: l.recorded, truck: l.truck, net: before + l.shown,
		passes: passesBefore + passes(l.shown), void: l.fate == voided}
	switch m := l.mishap; m.kind {
	case VoidReissued:
		void := r
		void.void, r.at = true, r.at.Add(m.after)
		return []record{void, r}
	case NearTwin:
		twin := r
		twin.at = r.at.Add(m.after)
		return []record{r, twin}
	case SplitLoad:
		rest := r
		r.passes = max(r.passes/2, 1)
		r.net = Grams(mulDiv(int64(rest.net), int64(r.passes), int64(max(rest.passes, 2)))).inSteps(scales[loaderScale(l.loader)].step)
		rest.at, rest.net, rest.passes = r.at.Add(m.after), rest.net-r.net, max(rest.passes-r.passes, 1)
		return []record{r, rest}
	default:
		s.spoil(&r, l)
	}
	return []record{r}
}

// spoil has a record state what a mishap makes of it.
func (s *simulation) spoil(r *record, l *load) {
	switch m := l.mishap; m.kind {
	case BucketPass:
		bucket := Grams(int64(l.shown) / int64(passes(l.shown))).with(m.e).inSteps(scales[loaderScale(l.loader)].step)
		r.net = max(r.net+Grams(m.sign)*bucket, 0)
		r.passes = max(r.passes+m.sign, 1)
	case UnitSlip:
		if m.scale != deckScale {
			r.net = r.net.slipped(m.sign)
		}
	case WrongProduct:
		r.product = m.other
	case WrongTruck:
		r.truck = m.other
	case RoundWeights:
		r.net = r.net.inSteps(tonne)
	case BelowZero:
		month := s.months[l.month]
		most := s.stock[l.pile][l.month-1] + month.made[l.pile] + s.carriedIn(l.pile, l.month)
		for r.net < 2*most {
			r.net *= 10
		}
	}
}

// carriedIn returns what is carried to a pile in a month.
func (s *simulation) carriedIn(pile, month int) Grams {
	var sum Grams
	for _, h := range s.hauls {
		if h.month == month && routes[h.route].to == pile {
			sum += h.solids
		}
	}
	return sum
}

// counters are the last numbers of each series.
type counters struct {
	loads, hauls, pads [loaderCount]int
}

// writeRecords has the loaders and the deck write their records and number them, in order of time. A load on
// another's record has no number of its own.
func (s *simulation) writeRecords() {
	var n counters
	var before Grams
	var passesBefore int
	for i := range s.loads {
		l := &s.loads[i]
		if l.fate == absorbed {
			before, passesBefore = before+l.shown, passesBefore+passes(l.shown)
			continue
		}
		l.records = s.rowsOf(l, before, passesBefore)
		var stated Grams
		for k := range l.records {
			r := &l.records[k]
			r.ticket = n.ticket(l)
			if !r.void {
				stated += r.net
			}
		}
		switch {
		case l.fate == missed:
			l.ticket = n.ticket(l)
		case len(l.records) > 0:
			l.ticket = l.records[0].ticket
			l.slip = stated - before - l.shown
		}
		before, passesBefore = 0, 0
	}
	s.disorder()
	s.weighOut()
	for i := range s.hauls {
		if h := &s.hauls[i]; !h.missed {
			loader := routes[h.route].loader
			n.hauls[loader]++
			h.ticket = fmt.Sprintf("%s-T%05d", scales[loaderScale(loader)].code, n.hauls[loader])
		}
	}
}

// ticket returns the next number for a record of a load.
func (n *counters) ticket(l *load) string {
	code := scales[loaderScale(l.loader)].code
	switch l.mishap.kind {
	case OutagePad:
		n.pads[l.loader]++
		return fmt.Sprintf("PAD-%04d", n.pads[l.loader])
	case RepeatedNumber:
		return fmt.Sprintf("%s-%07d", code, n.loads[l.loader])
	}
	n.loads[l.loader]++
	return fmt.Sprintf("%s-%06d", code, n.loads[l.loader])
}

// disorder has two neighbours change numbers, where a fault wants it.
func (s *simulation) disorder() {
	for i := range s.loads {
		if s.loads[i].mishap.kind == OutOfOrder {
			a, b := &s.loads[i], &s.loads[i+1]
			a.ticket, b.ticket = b.ticket, a.ticket
			a.records[0].ticket, b.records[0].ticket = a.ticket, b.ticket
		}
	}
}

// crosses reports whether the deck scale has a ticket of a load's truck.
func (l *load) crosses() bool {
	return !l.internal && l.mishap.kind != NoDeckTicket && l.mishap.kind != OutagePad
}

// weighOut has the deck scale weigh every truck that crosses it, in order of time.
func (s *simulation) weighOut() {
	for i := range s.loads {
		if s.loads[i].crosses() {
			s.byTime = append(s.byTime, &s.loads[i])
		}
	}
	slices.SortStableFunc(s.byTime, func(a, b *load) int { return a.at.Add(a.lag).Compare(b.at.Add(b.lag)) })
	for i, l := range s.byTime {
		l.deckTicket = fmt.Sprintf("W%06d", i+1)
	}
}
