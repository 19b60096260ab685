package screen

import (
	"fmt"
	"iter"
	"time"

	"repose/internal/match"
	"repose/ledger"
)

// Row is a record that stands, with its fact.
type Row[F ledger.Fact] struct {
	Rec  *ledger.Record
	Fact F
}

// At returns when it happened.
func (r Row[F]) At() time.Time { return r.Rec.At }

// Data is what rules look at: a month of a yard with the month before it. Rules must not change it.
type Data struct {
	Register *ledger.Register
	Yard     string
	Zone     *time.Location
	Month    *ledger.Month
	// Start and End bound the month; End belongs to the next. Lead is where the rows begin.
	Lead, Start, End time.Time

	// Rows that stand, kept and void ones, in the order of [ledger.Record.Compare], from Lead to [After] past the
	// end.
	Loads      []Row[ledger.Load]
	Deck       []Row[ledger.DeckTicket]
	Production []Row[ledger.Production]
	Transfers  []Row[ledger.Transfer]
	Feeds      []Row[ledger.Feed]
	Returns    []Row[ledger.Return]
	Surveys    []Row[ledger.Survey]
	Moistures  []Row[ledger.MoistureTest]
	Densities  []Row[ledger.DensityTest]

	// Sigma is the standard uncertainty of the balance that ends with a survey, in t of solids, by the ID of the
	// survey's record; a survey without one is not in it.
	Sigma map[string]float64

	// Superseded are the records of the same time that others have taken the place of.
	Superseded []*ledger.Record

	// Entries are those of the month, in order: what each record did to the book.
	Entries []*ledger.Entry

	// Match holds loaders against deck scales, over the loads and tickets of the month and a day to each side. Its
	// indices are into MatchLoads and MatchDeck.
	Match      *match.Result
	MatchLoads []Row[ledger.Load]
	MatchDeck  []Row[ledger.DeckTicket]

	memo map[any]any // by type, what rules share
}

// After is how far past the month's end rows go, and how far to each side of the month loads and tickets are
// matched: a truck loaded in the month may be weighed out after it.
const After = 24 * time.Hour

// Lead returns where the rows of a month's data begin: at the start of the month before.
func Lead(p ledger.Period, zone *time.Location) time.Time { return p.Previous().Start(zone) }

// Input is what data are made of.
type Input struct {
	Register *ledger.Register
	Month    *ledger.Month // with its entries derived or sealed
	Entries  []*ledger.Entry
	Sigma    map[string]float64 // as in [Data]

	// Unmatched leaves Match empty, for rules that do not look at it: it takes longer than all else.
	Unmatched bool

	// Records are those of the yard, from Lead to After past the end, in order; nil for rules that look at none.
	Records iter.Seq2[*ledger.Record, error]
}

// NewData sorts the records by kind, leaves out those that others replace, and matches loads with tickets.
func NewData(in Input) (*Data, error) {
	m := in.Month
	d := &Data{Register: in.Register, Yard: m.Yard.Code, Zone: m.Zone, Month: m, Lead: Lead(m.Period, m.Zone),
		Start: m.Start(), End: m.End(), Entries: in.Entries, Sigma: in.Sigma, memo: map[any]any{}}
	if in.Records != nil {
		if err := d.read(in.Records); err != nil {
			return nil, fmt.Errorf("records of %s: %w", m.Period, err)
		}
	}
	d.Match = new(match.Result)
	if !in.Unmatched {
		d.match()
	}
	return d, nil
}

func (d *Data) read(records iter.Seq2[*ledger.Record, error]) error {
	for rec, err := range records {
		if err != nil {
			return err
		}
		if d.Register.Superseded(rec) {
			d.Superseded = append(d.Superseded, rec)
			continue
		}
		d.add(rec)
	}
	return nil
}

func (d *Data) add(rec *ledger.Record) {
	switch f := rec.Fact.(type) {
	case ledger.Load:
		d.Loads = append(d.Loads, Row[ledger.Load]{rec, f})
	case ledger.DeckTicket:
		d.Deck = append(d.Deck, Row[ledger.DeckTicket]{rec, f})
	case ledger.Production:
		d.Production = append(d.Production, Row[ledger.Production]{rec, f})
	case ledger.Transfer:
		d.Transfers = append(d.Transfers, Row[ledger.Transfer]{rec, f})
	case ledger.Feed:
		d.Feeds = append(d.Feeds, Row[ledger.Feed]{rec, f})
	case ledger.Return:
		d.Returns = append(d.Returns, Row[ledger.Return]{rec, f})
	case ledger.Survey:
		d.Surveys = append(d.Surveys, Row[ledger.Survey]{rec, f})
	case ledger.MoistureTest:
		d.Moistures = append(d.Moistures, Row[ledger.MoistureTest]{rec, f})
	case ledger.DensityTest:
		d.Densities = append(d.Densities, Row[ledger.DensityTest]{rec, f})
	}
}

// Memo returns what several rules make of the data alike, such as an order of its records: it is made once, and kept
// under its type. Rules run one after another.
func Memo[T any](d *Data, build func(*Data) T) T {
	key := any((*T)(nil))
	if v, ok := d.memo[key]; ok {
		return v.(T)
	}
	v := build(d)
	d.memo[key] = v
	return v
}

// near returns the rows from After before the month on.
func near[F ledger.Fact](d *Data, rows []Row[F]) []Row[F] {
	for i, r := range rows {
		if !r.At().Before(d.Start.Add(-After)) {
			return rows[i:]
		}
	}
	return nil
}

// What a yard may set of how loaders are held against deck scales, instead of having it learnt.
var (
	matchWindow = Setting{Name: "rule matching window minutes", Holds: Minutes, Default: "0",
		Meaning: "How far from its usual lag a truck may be between loader and deck scale; 0 has it learnt from the records."}
	matchTolerance = Setting{Name: "rule matching tolerance percent", Holds: Percent, Default: "0",
		Meaning: "By how much two weighings of one truck may differ, after the loader's bias; 0 has it learnt from the records."}
)

func (d *Data) match() {
	d.MatchLoads, d.MatchDeck = near(d, d.Loads), near(d, d.Deck)
	in := match.Input{Product: d.ProductOf,
		Settings: match.Settings{Window: d.Duration(matchWindow), Tolerance: d.Number(matchTolerance) / 100}}
	for _, r := range d.MatchLoads {
		in.Loads = append(in.Loads, r.Rec)
	}
	for _, r := range d.MatchDeck {
		in.Deck = append(in.Deck, r.Rec)
	}
	d.Match = match.Match(in)
}

// In reports whether an instant lies in the month.
func (d *Data) In(t time.Time) bool { return !t.Before(d.Start) && t.Before(d.End) }

// ProductOf returns the product of a load: what its record says, else what its pile holds; "" where neither
// does.
func (d *Data) ProductOf(rec *ledger.Record) string {
	l, ok := rec.Fact.(ledger.Load)
	switch {
	case !ok:
		return ""
	case l.Product != "" || l.Pile == "":
		return l.Product
	}
	return d.Register.Pile(ledger.PileID{Yard: d.Yard, Code: l.Pile}, l.At).Product
}

// Solids returns the oven-dry part of a mass that was weighed at a pile, at the moisture that the book has for
// the pile at that instant. It keeps the sign.
func (d *Data) Solids(pile string, at time.Time, wet ledger.Mass) ledger.Mass {
	m, _ := d.Register.Moisture(ledger.PileID{Yard: d.Yard, Code: pile}, at)
	if wet < 0 {
		return -m.Split(-wet).Solids
	}
	return m.Split(wet).Solids
}

// AsWeighed returns what oven-dry stone of a pile weighs with its water, at the moisture that the book has for the
// pile at that instant. It keeps the sign.
func (d *Data) AsWeighed(pile string, at time.Time, solids ledger.Mass) ledger.Mass {
	m, _ := d.Register.Moisture(ledger.PileID{Yard: d.Yard, Code: pile}, at)
	water, err := m.Water(solids)
	if err != nil {
		return solids // beyond what a mass can be: no pile
	}
	return solids + water
}

// Clock writes an instant as the yard's clock shows it, YYYY-MM-DD HH:MM.
func (d *Data) Clock(t time.Time) string { return t.In(d.Zone).Format("2006-01-02 15:04") }
