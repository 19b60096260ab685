package ledger

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"sort"
	"time"
)

// PileID names a pile of a yard.
type PileID struct{ Yard, Code string }

// Account returns the pile's account.
func (p PileID) Account() Account { return Account{KindPile, p.Yard, p.Code} }

// Register holds what is known of yards, products and piles, and the tests and policies by instant. It
// answers what was in force when. Build it with NewRegister, and it does not change afterwards, or with NewRecentRegister.
type Register struct {
	yards       map[string]yardInfo
	products    map[string]Product
	piles       map[PileID][]Pile              // by Opened
	policies    map[string][]Policy            // by yard, by From
	rated       map[string]bool                // yards that expect a product to lose something
	hours       map[string]map[string]Hours    // by yard and day
	moistures   map[testSubject][]MoistureTest // by Taken
	densities   map[testSubject][]DensityTest  // by Taken
	instruments map[instrumentID][]Instrument  // by From
	surveys     map[PileID][]*Record           // by End
	adjustments map[string]Adjustment          // by the survey's record; the one that stands
	surveyByID  map[string]Survey              // with those that were replaced: a seal may rest on them
	densityBy   map[testKeyOf]DensityTest      // the same, by key; the one that stands where several had it
	superseded  map[string][]replacement       // by the rest of the name of what is replaced
	replacedID  map[string]string              // ID of the replacing record to the ID it replaces

	recency recency
}

type yardInfo struct {
	Yard
	zone *time.Location
}

// testSubject is what a test was taken of: a pile of a yard, or a product in a yard.
type testSubject struct {
	yard, code string
	isProduct  bool
}

type instrumentID struct{ yard, code string }

// NewRegister builds a register of records of any kinds; movements count only for what they replace. It
// keeps pointers into records. Their order plays no part.
func NewRegister(records []Record) (*Register, error) {
	r := &Register{yards: map[string]yardInfo{}, products: map[string]Product{}, piles: map[PileID][]Pile{},
		policies: map[string][]Policy{}, hours: map[string]map[string]Hours{}, rated: map[string]bool{}, moistures: map[testSubject][]MoistureTest{},
		densities: map[testSubject][]DensityTest{}, instruments: map[instrumentID][]Instrument{},
		surveys: map[PileID][]*Record{}, adjustments: map[string]Adjustment{}, surveyByID: map[string]Survey{}, densityBy: map[testKeyOf]DensityTest{}, superseded: map[string][]replacement{}, replacedID: map[string]string{}}
	if err := r.take(records); err != nil {
		return nil, err
	}
	return r, nil
}

// take adds records, of which none replaces one that was taken before.
func (r *Register) take(records []Record) error {
	for i := range records {
		r.noteReplacement(&records[i])
	}
	for i := range records {
		r.remember(&records[i])
	}
	for i := range records {
		rec := &records[i]
		if r.Superseded(rec) {
			continue
		}
		if err := r.add(rec); err != nil {
			return fmt.Errorf("%s: %w", rec.ID(), err)
		}
	}
	r.sort()
	return nil
}

// testKeyOf names a test of a yard by its natural key.
type testKeyOf struct{ yard, key string }

// remember keeps surveys and density tests whether they stand or not.
func (r *Register) remember(rec *Record) {
	switch f := rec.Fact.(type) {
	case Survey:
		r.surveyByID[rec.ID()] = f
	case DensityTest:
		k := testKeyOf{rec.Yard, f.Key()}
		if _, ok := r.densityBy[k]; !ok || !r.Superseded(rec) {
			r.densityBy[k] = f
		}
	}
}

func (r *Register) add(rec *Record) error {
	switch f := rec.Fact.(type) {
	case Yard:
		zone, err := time.LoadLocation(f.Zone)
		if err != nil {
			return err
		}
		r.yards[f.Code] = yardInfo{f, zone}
	case Product:
		r.products[f.Code] = f
	case Pile:
		id := PileID{rec.Yard, f.Code}
		r.piles[id] = append(r.piles[id], f)
	case Policy:
		r.policies[rec.Yard] = append(r.policies[rec.Yard], f)
		if f.Name.IsExpectedShrinkage() {
			r.rated[rec.Yard] = true
		}
	case Hours:
		if r.hours[rec.Yard] == nil {
			r.hours[rec.Yard] = map[string]Hours{}
		}
		r.hours[rec.Yard][f.Day] = f
	case MoistureTest:
		s := subjectOf(rec.Yard, f.Pile, f.Product)
		r.moistures[s] = append(r.moistures[s], f)
	case DensityTest:
		s := subjectOf(rec.Yard, f.Pile, f.Product)
		r.densities[s] = append(r.densities[s], f)
	case Instrument:
		id := instrumentID{rec.Yard, f.Code}
		r.instruments[id] = append(r.instruments[id], f)
	case Adjustment:
		r.adjustments[f.Survey] = f
	case Survey:
		id := PileID{rec.Yard, f.Pile}
		r.surveys[id] = append(r.surveys[id], rec)
	}
	return nil
}

func subjectOf(yard, pile, product string) testSubject {
	if pile != "" {
		return testSubject{yard: yard, code: pile}
	}
	return testSubject{yard: yard, code: product, isProduct: true}
}

func (r *Register) sort() {
	for _, v := range r.piles {
		slices.SortFunc(v, func(a, b Pile) int { return a.Opened.Compare(b.Opened) })
	}
	for _, v := range r.policies {
		slices.SortFunc(v, func(a, b Policy) int { return a.From.Compare(b.From) })
	}
	for _, v := range r.moistures {
		slices.SortFunc(v, func(a, b MoistureTest) int { return a.Taken.Compare(b.Taken) })
	}
	for _, v := range r.densities {
		slices.SortFunc(v, func(a, b DensityTest) int { return a.Taken.Compare(b.Taken) })
	}
	for _, v := range r.surveys {
		slices.SortFunc(v, (*Record).Compare)
	}
	for _, v := range r.instruments {
		slices.SortFunc(v, func(a, b Instrument) int { return a.From.Compare(b.From) })
	}
}

// Yards returns the yards in order of code.
func (r *Register) Yards() []Yard {
	yards := make([]Yard, 0, len(r.yards))
	for _, y := range r.yards {
		yards = append(yards, y.Yard)
	}
	slices.SortFunc(yards, func(a, b Yard) int { return cmp.Compare(a.Code, b.Code) })
	return yards
}

// Zone returns the time zone of a yard; ok is false where the yard is unknown.
func (r *Register) Zone(yard string) (zone *time.Location, ok bool) {
	y, ok := r.yards[yard]
	return y.zone, ok
}

// Piles returns the piles of a yard that exist at some instant of [from, until), in order of code.
func (r *Register) Piles(yard string, from, until time.Time) []PileID {
	var ids []PileID
	for id, phases := range r.piles {
		exists := slices.ContainsFunc(phases, func(p Pile) bool {
			return p.Opened.Before(until) && (p.Closed.IsZero() || p.Closed.After(from))
		})
		if id.Yard == yard && exists {
			ids = append(ids, id)
		}
	}
	slices.SortFunc(ids, func(a, b PileID) int { return cmp.Compare(a.Code, b.Code) })
	return ids
}

// Known reports whether the register names the pile at all.
func (r *Register) Known(id PileID) bool { return len(r.piles[id]) > 0 }

// Pile returns what the pile is at an instant: the last phase opened by then, else the first there is.
func (r *Register) Pile(id PileID, at time.Time) Pile {
	phases := r.piles[id]
	if len(phases) == 0 {
		return Pile{Code: id.Code}
	}
	return phases[max(lastAtOrBefore(phases, at, func(p *Pile) time.Time { return p.Opened }), 0)]
}

// Product returns a product; one that the register does not name has no reference moisture.
func (r *Register) Product(code string) (p Product, ok bool) {
	p, ok = r.products[code]
	if !ok {
		p.Code = code
	}
	return p, ok
}

// Products returns the codes of the products in order.
func (r *Register) Products() []string { return slices.Sorted(maps.Keys(r.products)) }

// Policies returns the rules of a yard in force at an instant.
func (r *Register) Policies(yard string, at time.Time) Policies {
	p := defaultPolicies()
	for _, f := range r.policies[yard] {
		if f.From.After(at) {
			break
		}
		_ = f.apply(&p) // a record's policy was applied once when it was made
	}
	return p
}

// Setting returns the value of a setting of a rule of the exception register in force at an instant; ok is
// false where the yard has not set it.
func (r *Register) Setting(yard string, name PolicyName, at time.Time) (value string, ok bool) {
	for _, f := range r.policies[yard] {
		if f.From.After(at) {
			break
		}
		if f.Name == name {
			value, ok = f.Value, true
		}
	}
	return value, ok
}

// Settings returns the names of all settings of rules that a yard has ever set, in order.
func (r *Register) Settings(yard string) []PolicyName {
	names := map[PolicyName]bool{}
	for _, f := range r.policies[yard] {
		if f.Name.IsRuleSetting() {
			names[f.Name] = true
		}
	}
	return slices.Sorted(maps.Keys(names))
}

// Staffed returns when the shift of a yard that begins on the day of an instant, in the yard's clock, begins and ends; both are
// zero on a day without staff. A close that is not after the open is of the next day. ok is false where the register does not
// say.
func (r *Register) Staffed(yard string, at time.Time) (from, until time.Time, ok bool) {
	zone, known := r.Zone(yard)
	if !known {
		return from, until, false
	}
	local := at.In(zone)
	h, ok := r.hours[yard][local.Format(time.DateOnly)]
	if !ok {
		h, ok = r.hours[yard][local.Weekday().String()]
	}
	if !ok || h.Open == "" {
		return from, until, ok
	}
	if from, until = clockOf(local, h.Open), clockOf(local, h.Close); !until.After(from) {
		until = clockOf(local.AddDate(0, 0, 1), h.Close)
	}
	return from, until, true
}

// Shift is a stretch in which a yard is staffed. Both ends count: a shift writes its production down when it ends.
type Shift struct{ From, Until time.Time }

// Near reports whether an instant lies in the shift, or not further before or after it than a grace.
func (s Shift) Near(t time.Time, grace time.Duration) bool {
	return !t.Before(s.From.Add(-grace)) && !t.After(s.Until.Add(grace))
}

// Shifts returns the shifts that begin on the day of an instant in the yard's clock, on the day before and on the day after,
// in order: all that the instant may lie in or near to. ok is false where the register does not say who is there on the
// instant's own day.
func (r *Register) Shifts(yard string, at time.Time) (shifts []Shift, ok bool) {
	zone, known := r.Zone(yard)
	if !known {
		return nil, false
	}
	for day := -1; day <= 1; day++ {
		from, until, said := r.Staffed(yard, at.In(zone).AddDate(0, 0, day))
		ok = ok || said && day == 0
		if !from.IsZero() {
			shifts = append(shifts, Shift{from, until})
		}
	}
	return shifts, ok
}

// clockOf returns the instant at which a clock of the day's zone shows HH:MM on that day. 24:00 is the start
// of the next.
func clockOf(day time.Time, clock string) time.Time {
	var hour, minute int
	if _, err := fmt.Sscanf(clock, "%d:%d", &hour, &minute); err != nil {
		return time.Time{}
	}
	return time.Date(day.Year(), day.Month(), day.Day(), hour, minute, 0, 0, day.Location())
}

// lastAtOrBefore returns the index of the last element at or before an instant in a sorted list, or -1.
func lastAtOrBefore[T any](list []T, at time.Time, when func(*T) time.Time) int {
	return sort.Search(len(list), func(i int) bool { return when(&list[i]).After(at) }) - 1
}

// tests are how a kind of test is found in a register.
type tests[T any] struct {
	kind Kind
	of   func(*Register, testSubject) []T
	when func(*T) time.Time
}

var (
	moistureTests = tests[MoistureTest]{KindMoistureRecord, func(r *Register, s testSubject) []MoistureTest { return r.moistures[s] },
		func(t *MoistureTest) time.Time { return t.Taken }}
	densityTests = tests[DensityTest]{KindDensityRecord, func(r *Register, s testSubject) []DensityTest { return r.densities[s] },
		func(t *DensityTest) time.Time { return t.Taken }}
)

// last returns the last test of a pile or product at or before an instant, or nil. sure is false where the register may lack an
// older one that matters.
func (t tests[T]) last(r *Register, y *measuredYard, s testSubject, at time.Time) (test *T, sure bool) {
	all := t.of(r, s)
	if i := lastAtOrBefore(all, at, t.when); i >= 0 {
		test = &all[i]
	}
	return test, test != nil && y.has(t.when(test)) || !r.lacksTests(y, subjectTests{t.kind, s})
}

// pick finds the test in force for a pile: the last of the pile at or before the instant, else of
// its product, else the next one of the pile, else of the product.
func (t tests[T]) pick(r *Register, id PileID, at time.Time) (test *T, flags Flags, ok bool) {
	y := r.measured(id.Yard)
	own := testSubject{yard: id.Yard, code: id.Code}
	test, sure := t.last(r, y, own, at)
	if test != nil && sure {
		return test, 0, true
	}
	product := testSubject{yard: id.Yard, code: r.Pile(id, at).Product, isProduct: true}
	if sure {
		if test, sure = t.last(r, y, product, at); test != nil && sure {
			return test, FlagMoistureProduct, true
		}
	}
	if !sure {
		r.complete(y)
		return t.pick(r, id, at)
	}
	if next := t.of(r, own); len(next) > 0 {
		return &next[0], FlagMoistureLater, true
	}
	if next := t.of(r, product); len(next) > 0 {
		return &next[0], FlagMoistureProduct | FlagMoistureLater, true
	}
	return nil, 0, false
}

// Moisture returns the moisture of a pile at an instant, and how it was found: by a test of the pile, of
// its product, by the next test, or, flagged as assumed, by the product's reference moisture.
func (r *Register) Moisture(id PileID, at time.Time) (DryBasis, Flags) {
	test, flags, ok := moistureTests.pick(r, id, at)
	if !ok {
		p, _ := r.Product(r.Pile(id, at).Product)
		return p.Reference, FlagMoistureAssumed
	}
	return test.Moisture, flags
}

// MoistureTest returns the test behind Moisture; ok is false where there is none.
func (r *Register) MoistureTest(id PileID, at time.Time) (test MoistureTest, ok bool) {
	found, _, ok := moistureTests.pick(r, id, at)
	if !ok {
		return MoistureTest{}, false
	}
	return *found, true
}

// Density returns the density test in force for a pile at an instant, found in the same order. later
// says that no test had been taken yet and the next one was used.
func (r *Register) Density(id PileID, at time.Time) (test DensityTest, later, ok bool) {
	found, flags, ok := densityTests.pick(r, id, at)
	if !ok {
		return DensityTest{}, false, false
	}
	return *found, flags&FlagMoistureLater != 0, true
}

// Surveys returns the surveys of a pile that end in [from, until), in order.
func (r *Register) Surveys(id PileID, from, until time.Time) []*Record {
	if y := r.measured(id.Yard); !y.has(from) {
		r.complete(y)
	}
	var in []*Record
	for _, s := range r.surveys[id] {
		if !s.At.Before(from) && s.At.Before(until) {
			in = append(in, s)
		}
	}
	return in
}

// Survey returns a survey by the ID of its record, whether it stands or was replaced; ok is false where the
// register has none.
func (r *Register) Survey(id string) (s Survey, ok bool) {
	y := r.measured(yardOf(id))
	if s, ok = r.surveyByID[id]; !ok {
		r.complete(y)
		s, ok = r.surveyByID[id]
	}
	return s, ok
}

// DensityTest returns a density test of a yard by its key, whether it stands or was replaced; ok is false
// where the register has none.
func (r *Register) DensityTest(yard, key string) (d DensityTest, ok bool) {
	y := r.measured(yard)
	if d, ok = r.densityBy[testKeyOf{yard, key}]; !ok {
		r.complete(y)
		d, ok = r.densityBy[testKeyOf{yard, key}]
	}
	return d, ok
}

// Instruments returns the codes of the instruments of a yard in order.
func (r *Register) Instruments(yard string) []string {
	var codes []string
	for k := range r.instruments {
		if k.yard == yard {
			codes = append(codes, k.code)
		}
	}
	slices.Sort(codes)
	return codes
}

// Instrument returns what is known of an instrument at an instant; ok is false where nothing is.
func (r *Register) Instrument(yard, code string, at time.Time) (i Instrument, ok bool) {
	found := r.instrument(yard, code, at)
	if found == nil {
		return Instrument{}, false
	}
	return *found, true
}

func (r *Register) instrument(yard, code string, at time.Time) *Instrument {
	list := r.instruments[instrumentID{yard, code}]
	n := lastAtOrBefore(list, at, func(i *Instrument) time.Time { return i.From })
	if n < 0 {
		return nil
	}
	return &list[n]
}

// epoch returns from when on an instrument is as it is at an instant; zero where nothing is known of it.
func (r *Register) epoch(yard, code string, at time.Time) time.Time {
	if i := r.instrument(yard, code, at); i != nil {
		return i.From
	}
	return time.Time{}
}

// modulus returns where a belt's totaliser starts again at zero, or 0 where nobody stated it.
func (r *Register) modulus(yard string, p Production) Mass {
	i, _ := r.Instrument(yard, p.Belt, p.At)
	if !i.ModulusPlain.Valid {
		return i.Modulus
	}
	g, err := massOf(i.ModulusPlain.Decimal.Mul(p.ReadingUnit.grams()))
	if err != nil {
		return 0
	}
	return g
}
