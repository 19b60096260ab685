package ledger

import (
	"fmt"
	"iter"
	"time"
)

// Input is all that one month of one yard is made of.
type Input struct {
	Register *Register
	Yard     string
	Period   Period
	Opening  State // at the end of the month before; it is not changed

	// Records are the yard's records that belong to the period, in the order of [Record.Compare]: those
	// that happened in it, those that came too late for a sealed period before it, and, for the trucks
	// that were between loader and deck when it ended, the deck tickets of the hours after it.
	Records iter.Seq2[*Record, error]

	// Entered returns the entry of a record in a sealed period, for a later record that replaces it; nil
	// where there is none. A nil func means that nothing has been sealed.
	Entered func(id string) (*Entry, error)

	// Sealed returns the entry that a closed period holds for a record; nil for a record without one. A
	// nil func derives entries.
	Sealed func(rec *Record) (*Entry, error)
}

// Month is the book of one yard over one period.
type Month struct {
	Yard        Yard
	Zone        *time.Location
	Period      Period
	Policies    Policies      // in force at the end
	Rates       []ProductRate // what the yard expects products to lose, in force at the end
	Ratings     []BeltRating  // factors of belts, in force at the end
	Opening     State
	Closing     State
	Piles       []PileID // that exist in the period or hold something, in order of code
	Flows       map[PileID]*Flows
	Comparisons []*Comparison // in order of the surveys' ends
	Problems    []Problem
	Late        []*Record // entered here, though they happened in a sealed period
	Days        []Day
	Pairs       Pairs // trucks that a loader and a deck scale weighed
	Entries     int
	LastUse     map[string]time.Time // by instrument, when it weighed last
	Totals      Balances             // what the period did to every account
}

// Day is what lay in the piles at the end of a day of the yard's clock.
type Day struct {
	End    time.Time
	Solids map[PileID]Mass
}

// Start and End bound the month; End belongs to the next.
func (m *Month) Start() time.Time { return m.Period.Start(m.Zone) }
func (m *Month) End() time.Time   { return m.Period.End(m.Zone) }

// Final returns the comparison that decides for a pile, the last of the month, or nil.
func (m *Month) Final(id PileID) *Comparison {
	for i := len(m.Comparisons) - 1; i >= 0; i-- {
		if m.Comparisons[i].Pile == id {
			return m.Comparisons[i]
		}
	}
	return nil
}

// Derive enters the records of a period. Each entry that moves anything, or that a reader should know of,
// is handed to emit in order; emit may keep it.
//
// An open period is derived as if it were closed at that moment: what a survey says is already taken
// where the yard's policy will take it. So the reports of an open month and of the sealed month agree.
func Derive(in Input, emit func(*Entry) error) (*Month, error) {
	b, err := newBuilder(in, emit)
	if err != nil {
		return nil, err
	}
	for rec, err := range in.Records {
		if err != nil {
			return nil, err
		}
		if err := b.record(rec); err != nil {
			return nil, fmt.Errorf("%s: %w", rec.ID(), err)
		}
	}
	b.finish()
	return b.month, b.total()
}

type builder struct {
	in     Input
	emit   func(*Entry) error
	month  *Month
	state  *State // grows from the opening to the closing state
	poster poster
	until  time.Time // end of the period

	piles  map[PileID]*pileBook
	loaded map[string]loadedTruck // by truck: its last load that no deck ticket has met
	ended  int                    // days that are written down
	forgot time.Time              // when loaded was last gone through
}

func newBuilder(in Input, emit func(*Entry) error) (*builder, error) {
	zone, ok := in.Register.Zone(in.Yard)
	if !ok {
		return nil, fmt.Errorf("yard %q: not in the book", in.Yard)
	}
	m := &Month{Yard: in.Register.yards[in.Yard].Yard, Zone: zone, Period: in.Period, Opening: in.Opening,
		Closing: in.Opening.Clone(), Flows: map[PileID]*Flows{}, Pairs: Pairs{}, Totals: Balances{}, LastUse: map[string]time.Time{}}
	b := &builder{in: in, emit: emit, month: m, state: &m.Closing, until: m.End(),
		piles: map[PileID]*pileBook{}, loaded: map[string]loadedTruck{}}
	b.poster = poster{reg: in.Register, yard: in.Yard, start: m.Start(), state: b.state}
	m.Policies = in.Register.Policies(in.Yard, b.until.Add(-1))
	m.Rates = in.Register.rates(in.Yard, b.until.Add(-1))
	m.Ratings = in.Register.ratings(in.Yard, b.until.Add(-1))
	for _, id := range in.Register.Piles(in.Yard, m.Start(), b.until) {
		b.pile(id).open(b.month)
	}
	for a := range m.Opening.Balances {
		if a.Kind == KindPile {
			b.pile(PileID{a.Yard, a.Name}).open(b.month)
		}
	}
	for d := m.Start(); d.Before(b.until); {
		y, mo, day := d.In(zone).Date()
		d = time.Date(y, mo, day+1, 0, 0, 0, 0, zone)
		m.Days = append(m.Days, Day{End: d.UTC()})
	}
	return b, nil
}

func (b *builder) record(rec *Record) error {
	if b.in.Register.Superseded(rec) {
		return nil
	}
	deck, isDeck := rec.Fact.(DeckTicket)
	switch {
	case isDeck:
		b.weighed(rec, deck)
		return nil
	case !rec.At.Before(b.until):
		return nil // only deck tickets are read beyond the end
	}
	b.endDays(rec.At)
	b.forget(rec.At)
	if rec.At.Before(b.poster.start) {
		b.month.Late = append(b.month.Late, rec)
	}
	entry, err := b.entry(rec)
	if err != nil {
		return err
	}
	if len(entry.Legs) == 0 && entry.Flags == 0 {
		return nil
	}
	return b.apply(entry)
}

// entry returns what the record does to the book: as sealed, or derived.
func (b *builder) entry(rec *Record) (*Entry, error) {
	var c *Comparison
	if _, ok := rec.Fact.(Survey); ok && !rec.At.Before(b.poster.start) {
		var err error
		if c, err = b.survey(rec); err != nil {
			return nil, err
		}
	}
	if b.in.Sealed != nil {
		if f, ok := rec.Fact.(Production); ok && f.IsReading {
			b.poster.sinceLast(f) // the closing state holds the last readings
		}
		e, err := b.in.Sealed(rec)
		if e == nil && err == nil {
			e = &Entry{Record: rec}
		}
		return e, err
	}
	if c != nil && c.Outcome == OutcomeTakeSurvey {
		e, err := c.adjustment()
		return &e, err
	}
	e, err := b.poster.post(rec)
	if err != nil {
		return nil, err
	}
	return &e, b.reverse(&e)
}

// reverse puts the opposite of a replaced record's sealed entry before the legs of the record that
// replaces it. What a test, a survey or a totaliser reading did is not taken back: the next mark, survey
// or reading starts from what the book holds.
func (b *builder) reverse(e *Entry) error {
	if b.in.Entered == nil {
		return nil
	}
	id := b.in.Register.Replaced(e.Record)
	if id == "" {
		return nil
	}
	switch f := e.Record.Fact.(type) {
	case Opening, Load, Transfer, Feed, Return, Correction:
	case Production:
		if f.IsReading {
			return nil
		}
	default:
		return nil
	}
	old, err := b.in.Entered(id)
	if err != nil || old == nil {
		return err
	}
	legs := make([]Leg, 0, len(old.Legs)+len(e.Legs))
	for _, l := range old.Legs {
		legs = append(legs, Leg{From: l.To, To: l.From, Amount: l.Amount})
	}
	e.Legs = append(legs, e.Legs...)
	e.Flags |= FlagReversal
	return nil
}

// apply carries out an entry and keeps every total that it touches.
func (b *builder) apply(e *Entry) error {
	e.Period = b.month.Period
	if err := b.state.Balances.Post(e.Legs...); err != nil {
		return err
	}
	for _, l := range e.Legs {
		if err := b.touch(e, l.To, l.From, l.Amount); err != nil {
			return err
		}
		if err := b.touch(e, l.From, l.To, l.Neg()); err != nil {
			return err
		}
	}
	b.month.Entries++
	if name := instrumentOf(e.Record.Fact); name != "" {
		b.month.LastUse[name] = e.At()
	}
	if e.Flags&FlagUnexplainedFall != 0 {
		b.problem(ProblemUnexplainedFall, e.Record.ID(), "the totaliser fell, and neither a modulus nor a note says why")
	}
	return b.emit(e)
}

// instrumentOf names what weighed a movement; "" where nobody says.
func instrumentOf(f Fact) string {
	switch f := f.(type) {
	case Production:
		return f.Belt
	case Load:
		return f.Loader
	case Transfer:
		return f.Loader
	case Feed:
		return f.Instrument
	case Return:
		return f.Instrument
	}
	return ""
}

// survey sets a survey against the book. Only the last of a month decides.
func (b *builder) survey(rec *Record) (*Comparison, error) {
	p := b.pile(PileID{rec.Yard, rec.Fact.(Survey).Pile})
	b.settle(p)
	c, err := compare(b.in.Register, rec, b.state)
	if err != nil {
		return nil, err
	}
	all := b.in.Register.Surveys(c.Pile, b.poster.start, b.until)
	if c.HasDensity && rec.ID() != all[len(all)-1].ID() {
		c.Outcome = OutcomeSuperseded
	}
	for i, s := range all {
		if s.ID() == rec.ID() {
			c.InWindow = p.windows[i].items
		}
	}
	if c.HasDensity {
		p.base = &Base{Record: rec.ID(), At: rec.At, Solids: c.Found.Solids, Streams: Streams{}}
	}
	p.final = c
	b.month.Comparisons = append(b.month.Comparisons, c)
	return c, nil
}

// total sets what the period did to every account.
func (b *builder) total() error {
	for a := range b.month.Opening.Balances {
		b.month.Totals[a] = Amount{}
	}
	for a := range b.state.Balances {
		b.month.Totals[a] = Amount{}
	}
	for a := range b.month.Totals {
		sum, err := b.state.Balances[a].Add(b.month.Opening.Balances[a].Neg())
		if err != nil {
			return fmt.Errorf("account %v: %w", a, err)
		}
		b.month.Totals.set(a, sum)
	}
	return nil
}

// endDays writes down what lay in the piles at the end of every day that ended by an instant.
func (b *builder) endDays(now time.Time) {
	for ; b.ended < len(b.month.Days); b.ended++ {
		d := &b.month.Days[b.ended]
		if d.End.After(now) {
			return
		}
		d.Solids = map[PileID]Mass{}
		for id := range b.month.Flows {
			d.Solids[id] = b.state.Balances[id.Account()].Solids
		}
	}
}
