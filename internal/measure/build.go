// Package measure turns a yard's balances, with the uncertainties that its records state, into what the
// statistics work on, and gives the piles and instruments their names back. It is where exact grams
// become floating-point tonnes.
package measure

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"repose/internal/stat"
	"repose/ledger"
)

// Observed is a yard's balances as the statistics see them. Indices of piles, instruments and periods in
// the statistics point into its lists.
type Observed struct {
	stat.Observations
	Piles       []ledger.PileID
	Names       []string // of instruments, by stat.Instrument.ID
	Periods     []ledger.Period
	Records     []ledger.Balance // by row
	Assumptions []Assumption
	Loaders     []LoaderCheck
}

// Assumption is an uncertainty that no record states, and what it was taken to be.
type Assumption struct {
	What  string // what lacks it: "bulk density", "belt B1"
	Value string // with its unit
	Uses  int
}

// Build returns what a yard's balances show, and what weighings of the same trucks say of its loaders.
// Balances and months may come in any order; the register must know the balances' surveys and tests.
func Build(reg *ledger.Register, yard string, balances []ledger.Balance, months []MonthPairs) (*Observed, error) {
	zone, ok := reg.Zone(yard)
	if !ok {
		return nil, fmt.Errorf("yard %q: not in the book", yard)
	}
	b := &builder{reg: reg, yard: yard, zone: zone, out: &Observed{}, piles: map[ledger.PileID]int{}, surveys: map[string]int{},
		densities: map[string]int{}, instruments: map[epoch]int{}, names: map[string]int{}, moistures: map[ledger.PileID]int{},
		batches: map[batch]int{}, periods: map[ledger.Period]int{}, assumed: map[[2]string]int{}}
	b.number(balances)
	if len(balances) == 0 {
		return b.out, nil
	}
	b.out.Loaders = checkLoaders(sortMonths(months), b.deck)
	for _, x := range b.out.Records {
		if err := b.add(x); err != nil {
			return nil, fmt.Errorf("%s: %w", x.Survey, err)
		}
	}
	b.out.Resolution = resolution
	for key, n := range b.assumed {
		b.out.Assumptions = append(b.out.Assumptions, Assumption{key[0], key[1], n})
	}
	slices.SortFunc(b.out.Assumptions, func(x, y Assumption) int {
		return cmp.Or(cmp.Compare(x.What, y.What), cmp.Compare(x.Value, y.Value))
	})
	return b.out, nil
}

// resolution in t is an error of every balance of its own: a pile that is empty at both ends and did not
// move has one too. A tenth of a tonne is far below any survey.
const resolution = 0.1

// builder gives numbers to what has names.
type builder struct {
	reg         *ledger.Register
	yard        string
	zone        *time.Location
	out         *Observed
	piles       map[ledger.PileID]int
	periods     map[ledger.Period]int
	surveys     map[string]int // by record ID
	densities   map[string]int // by key of the test
	instruments map[epoch]int
	names       map[string]int
	moistures   map[ledger.PileID]int
	batches     map[batch]int
	assumed     map[[2]string]int
}

// epoch is an instrument as long as it is not calibrated anew.
type epoch struct {
	code string
	from time.Time
	belt bool
}

// batch is what one loader carried between two piles in a period: the same weighings at both ends.
type batch struct {
	from, to string
	loader   epoch
	period   int
}

// number puts the balances in the order of period and pile, and numbers both.
func (b *builder) number(balances []ledger.Balance) {
	rows := slices.Clone(balances)
	ledger.SortBalances(rows)
	for _, x := range rows {
		b.piles[x.Pile] = 0
	}
	b.out.Piles = slices.SortedFunc(maps.Keys(b.piles), func(x, y ledger.PileID) int { return cmp.Compare(x.Code, y.Code) })
	for i, id := range b.out.Piles {
		b.piles[id] = i
	}
	if len(rows) > 0 {
		first, last := b.periodOf(rows[0].Base.At), b.periodOf(rows[len(rows)-1].At)
		for _, x := range rows {
			if p := b.periodOf(x.Base.At); p.Before(first) {
				first = p
			}
		}
		// A month more in front, for balances that open and close in the first month.
		for p := first.Previous(); !last.Before(p); p = p.Next() {
			b.periods[p] = len(b.out.Periods)
			b.out.Periods = append(b.out.Periods, p)
		}
	}
	slices.SortStableFunc(rows, func(x, y ledger.Balance) int {
		return cmp.Or(cmp.Compare(b.ordinal(x.At), b.ordinal(y.At)), cmp.Compare(b.piles[x.Pile], b.piles[y.Pile]))
	})
	b.out.Records = rows
}

func (b *builder) periodOf(t time.Time) ledger.Period { return ledger.PeriodOf(t, b.zone) }

func (b *builder) ordinal(t time.Time) int { return b.periods[b.periodOf(t)] }

// month is the mean length of a month, by which a loss per month is reckoned.
const month = 365.2425 / 12 * 24 * float64(time.Hour)

func (b *builder) add(x ledger.Balance) error {
	opening, err := b.opening(x)
	if err != nil {
		return err
	}
	closing, err := b.survey(x.Survey, x.Pile, x.Found, x.DensityTest, x.InWindow, x.At)
	if err != nil {
		return err
	}
	row := stat.Balance{Pile: b.piles[x.Pile], From: min(b.ordinal(x.Base.At), b.ordinal(x.At)-1), Period: b.ordinal(x.At),
		Months: float64(x.At.Sub(x.Base.At)) / month, Opening: opening, Closing: closing}
	for _, s := range x.Base.Streams.Sorted() {
		row.Flows = append(row.Flows, b.flow(x, s, x.Base.Streams[s], row.Period))
	}
	b.out.Balances = append(b.out.Balances, row)
	return nil
}

// opening returns what a balance starts from: the survey before, which another balance has met, or what
// was stated.
func (b *builder) opening(x ledger.Balance) (int, error) {
	if s, ok := b.reg.Survey(x.Base.Record); ok {
		density, _, ok := b.reg.Density(x.Pile, s.End)
		if !ok {
			return 0, fmt.Errorf("base %s: no density", x.Base.Record)
		}
		return b.survey(x.Base.Record, x.Pile, x.Base.Solids, density.Key(), 0, s.End)
	}
	key := x.Base.Record + "@" + x.Pile.Code
	if i, ok := b.surveys[key]; ok {
		return i, nil
	}
	u := b.assume("opening stock", b.policies(x.Base.At).Uncertainty.Opening)
	return b.addSurvey(key, stat.Survey{Pile: b.piles[x.Pile], Mass: tonnes(x.Base.Solids), Volume: u, Density: stat.None, Base: stat.None}), nil
}

func (b *builder) addSurvey(key string, s stat.Survey) int {
	i := len(b.out.Surveys)
	b.surveys[key] = i
	b.out.Surveys = append(b.out.Surveys, s)
	return i
}

func (b *builder) survey(id string, pile ledger.PileID, found ledger.Mass, densityTest string, window ledger.Mass, at time.Time) (int, error) {
	if i, ok := b.surveys[id]; ok {
		b.out.Surveys[i].Window = max(b.out.Surveys[i].Window, tonnes(window)/2)
		return i, nil
	}
	s, ok := b.reg.Survey(id)
	if !ok {
		return 0, fmt.Errorf("%s: not in the register", id)
	}
	density, err := b.density(densityTest, at)
	if err != nil {
		return 0, err
	}
	volume := b.stated(s.VolumeU, "survey volume", b.policies(at).Uncertainty.Volume)
	return b.addSurvey(id, stat.Survey{Pile: b.piles[pile], Mass: tonnes(found), Volume: volume, Density: density,
		Window: tonnes(window) / 2, Base: stat.None}), nil
}

func (b *builder) density(key string, at time.Time) (int, error) {
	if i, ok := b.densities[key]; ok {
		return i, nil
	}
	d, ok := b.reg.DensityTest(b.yard, key)
	if !ok {
		return 0, fmt.Errorf("density test %s: not in the register", key)
	}
	i := len(b.out.Densities)
	b.densities[key] = i
	b.out.Densities = append(b.out.Densities, stat.Density{Relative: b.stated(d.U, "bulk density", b.policies(at).Uncertainty.Density)})
	return i, nil
}

// flow turns a stream into a flow of the balance.
func (b *builder) flow(x ledger.Balance, s ledger.Stream, t ledger.StreamTotal, period int) stat.Flow {
	e := epoch{s.Instrument, s.Epoch, s.Way == ledger.ColumnProduction}
	source := x.Pile
	f := stat.Flow{Period: period, Mass: tonnes(t.Solids), Weighings: float64(t.Weighings)}
	switch s.Way {
	case ledger.ColumnTransferIn:
		source.Code = s.Other
		f.Batch = b.batch(batch{s.Other, x.Pile.Code, e, period})
	case ledger.ColumnTransferOut:
		f.Batch = b.batch(batch{x.Pile.Code, s.Other, e, period})
	}
	f.Instrument = b.instrument(e, x.At, meanWeighing(t))
	f.Moisture = b.moisture(source, x.At)
	return f
}

func meanWeighing(t ledger.StreamTotal) float64 {
	return tonnes(t.Solids.Abs()) / float64(max(t.Weighings, 1))
}

func (b *builder) batch(k batch) int {
	n, ok := b.batches[k]
	if !ok {
		n = len(b.batches) + 1
		b.batches[k] = n
	}
	return n
}

func (b *builder) instrument(e epoch, at time.Time, mean float64) int {
	if i, ok := b.instruments[e]; ok {
		return i
	}
	name, ok := b.names[e.code]
	if !ok {
		name = len(b.out.Names)
		b.names[e.code] = name
		b.out.Names = append(b.out.Names, e.code)
	}
	in := stat.Instrument{ID: name, Kind: stat.LoaderScale}
	if !e.from.IsZero() {
		at = e.from // what its certificate said then, and not what a later one says
	}
	stated, _ := b.reg.Instrument(b.yard, e.code, at)
	u := b.policies(at).Uncertainty
	systematic, random := u.LoaderSystematic, u.LoaderRandom
	kind := "scale"
	if e.belt {
		in.Kind, systematic, random, kind = stat.BeltWeigher, u.BeltSystematic, u.BeltRandom, "belt"
	}
	what := kind + " " + cmp.Or(e.code, "without a name")
	if class, ok := classUncertainty(stated.CertificateClass, mean); ok && !stated.Systematic.Valid {
		in.Systematic = class
	} else {
		in.Systematic = b.stated(stated.Systematic, what+", systematic", systematic)
	}
	in.Random = b.stated(stated.Random, what+", random", random)
	if !e.belt && in.Systematic > 0 {
		in.Systematic = believe(in.Systematic, b.out.Loaders, e.code, e.from)
	}
	i := len(b.out.Instruments)
	b.instruments[e] = i
	b.out.Instruments = append(b.out.Instruments, in)
	return i
}

// deck returns the relative standard uncertainty of a deck scale.
func (b *builder) deck(code string) float64 {
	at := b.out.Records[len(b.out.Records)-1].At
	stated, _ := b.reg.Instrument(b.yard, code, at)
	if class, ok := classUncertainty(stated.CertificateClass, typicalTruck); ok && !stated.Systematic.Valid {
		return class
	}
	return b.stated(stated.Systematic, "deck "+code+", systematic", b.policies(at).Uncertainty.LoaderSystematic)
}

// typicalTruck in t is the weighing at which a deck scale's class is looked up.
const typicalTruck = 25

// moisture returns the moistures that turned a pile's weighings into solids. Their error moves solids by
// u / (100 + m), relative; the test in force when the pile is first met speaks for all of them.
func (b *builder) moisture(pile ledger.PileID, at time.Time) int {
	m, _ := b.reg.Moisture(pile, at)
	test, tested := b.reg.MoistureTest(pile, at)
	if i, ok := b.moistures[pile]; ok {
		return i
	}
	points := b.policies(at).Uncertainty.Moisture
	if tested && test.U.Valid {
		points = test.U.Decimal
	} else {
		b.assumed[[2]string{"moisture", points.String() + " percentage points"}]++
	}
	u := points.InexactFloat64() / (100 + m.Percent().InexactFloat64())
	i := len(b.out.Moistures)
	b.moistures[pile] = i
	b.out.Moistures = append(b.out.Moistures, stat.Moisture{Systematic: u, Random: u})
	return i
}

// stated returns a relative uncertainty as a fraction: the record's, or the policy's, noted as assumed.
func (b *builder) stated(pct decimal.NullDecimal, what string, otherwise decimal.Decimal) float64 {
	if pct.Valid {
		return pct.Decimal.InexactFloat64() / 100
	}
	return b.assume(what, otherwise)
}

func (b *builder) assume(what string, pct decimal.Decimal) float64 {
	b.assumed[[2]string{what, pct.String() + " %"}]++
	return pct.InexactFloat64() / 100
}

func (b *builder) policies(at time.Time) ledger.Policies { return b.reg.Policies(b.yard, at) }

// tonnes leaves the exact world.
func tonnes(m ledger.Mass) float64 { return float64(m) / float64(ledger.Tonne) }
