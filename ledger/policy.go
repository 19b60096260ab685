package ledger

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"
)

// Adjust says when a close lets the book take the survey's figure.
type Adjust uint8

// The rules of adjustment. A yard without the policy never adjusts.
const (
	AdjustNever   Adjust = iota + 1
	AdjustAlways         // every surveyed pile
	AdjustOutside        // piles whose difference breaches the limit
)

var adjustNames = [...]string{AdjustNever: "never", AdjustAlways: "always", AdjustOutside: "outside"}

// String returns never, always or outside.
func (a Adjust) String() string { return nameOf(adjustNames[:], int(a)) }

// LimitBase is what the per cent part of a limit is a per cent of.
type LimitBase uint8

// The bases of a limit.
const (
	LimitOfBook       LimitBase = iota + 1 // the book's solids at the survey
	LimitOfThroughput                      // the larger of what came in and what went out since the last survey
)

var limitBaseNames = [...]string{LimitOfBook: "book", LimitOfThroughput: "throughput"}

// String returns book or throughput.
func (b LimitBase) String() string { return nameOf(limitBaseNames[:], int(b)) }

// LimitJoin is how the two parts of a limit make one.
type LimitJoin uint8

// The ways of joining. With "and" a difference must pass both parts to breach, so the larger counts;
// with "or" the smaller; with "plus" their sum.
const (
	LimitAnd LimitJoin = iota + 1
	LimitOr
	LimitPlus
)

var limitJoinNames = [...]string{LimitAnd: "and", LimitOr: "or", LimitPlus: "plus"}

// String returns and, or, plus.
func (j LimitJoin) String() string { return nameOf(limitJoinNames[:], int(j)) }

// Limit is a yard's own tolerance for the difference between book and survey. The zero Limit is off: no
// public authority sets one for stone in piles, so none is assumed. A limit says what must be explained;
// it is not a test of significance.
type Limit struct {
	Mass    decimal.NullDecimal // grams
	Percent decimal.NullDecimal
	Of      LimitBase
	Join    LimitJoin
}

// Set reports whether the yard has set a limit.
func (l Limit) Set() bool { return l.Mass.Valid || l.Percent.Valid }

// For returns the limit in solids for a pile with this book figure and throughput, rounded half-even to
// the gram. ok is false where no limit is set.
func (l Limit) For(book, throughput Mass) (limit Mass, ok bool) {
	if !l.Set() {
		return 0, false
	}
	base := book.Abs()
	if l.Of == LimitOfThroughput {
		base = throughput.Abs()
	}
	part := decimal.NewFromInt(int64(base)).Mul(l.Percent.Decimal).Div(hundred)
	total := part
	switch {
	case !l.Percent.Valid:
		total = l.Mass.Decimal
	case !l.Mass.Valid:
	case l.Join == LimitOr:
		total = decimal.Min(part, l.Mass.Decimal)
	case l.Join == LimitPlus:
		total = part.Add(l.Mass.Decimal)
	default:
		total = decimal.Max(part, l.Mass.Decimal)
	}
	m, err := massOf(total)
	if err != nil {
		return MaxMass, true
	}
	return m, true
}

// Policies are the rules of a yard in force at an instant.
type Policies struct {
	Adjust Adjust
	Limit  Limit
	CutOff time.Duration // how long a truck may be between loader and deck scale

	// Uncertainty is what measurement errors are taken to be where the records do not say.
	Uncertainty Uncertainty

	// SurveyEvery is how many months one survey of a pile serves: 1 asks for a survey in every month,
	// 0 for none.
	SurveyEvery int
}

// Uncertainty holds relative standard uncertainties in per cent, and that of a moisture in percentage
// points.
type Uncertainty struct {
	Opening, Volume, Density       decimal.Decimal
	BeltSystematic, BeltRandom     decimal.Decimal
	LoaderSystematic, LoaderRandom decimal.Decimal // of loader and deck scales
	Moisture                       decimal.Decimal
}

// defaultUncertainty is judgement: no published figure for uncertified belts or loader scales was found.
// Whatever rests on it is printed as assumed.
func defaultUncertainty() Uncertainty {
	return Uncertainty{Opening: decimal.New(3, 0), Volume: decimal.New(112, -2), Density: decimal.New(3, 0),
		BeltSystematic: decimal.New(10, -1), BeltRandom: decimal.New(5, -1),
		LoaderSystematic: decimal.New(7, -1), LoaderRandom: decimal.New(10, -1), Moisture: decimal.New(3, -1)}
}

// field returns the uncertainty that a policy sets, or nil.
func (u *Uncertainty) field(n PolicyName) *decimal.Decimal {
	switch n {
	case PolicyUOpening:
		return &u.Opening
	case PolicyUVolume:
		return &u.Volume
	case PolicyUDensity:
		return &u.Density
	case PolicyUBeltSystematic:
		return &u.BeltSystematic
	case PolicyUBeltRandom:
		return &u.BeltRandom
	case PolicyULoaderSystematic:
		return &u.LoaderSystematic
	case PolicyULoaderRandom:
		return &u.LoaderRandom
	case PolicyUMoisture:
		return &u.Moisture
	}
	return nil
}

// defaultPolicies are in force where a yard states nothing.
func defaultPolicies() Policies {
	return Policies{Adjust: AdjustNever, Limit: Limit{Of: LimitOfBook, Join: LimitAnd}, CutOff: 2 * time.Hour,
		Uncertainty: defaultUncertainty(), SurveyEvery: 1}
}

var policyNames = []PolicyName{PolicyAdjust, PolicyLimitMass, PolicyLimitPercent, PolicyLimitOf, PolicyLimitJoin,
	PolicyCutOffHours, PolicySurveyEvery, PolicyUOpening, PolicyUVolume, PolicyUDensity, PolicyUBeltSystematic,
	PolicyUBeltRandom, PolicyULoaderSystematic, PolicyULoaderRandom, PolicyUMoisture, ValueSharing, ValueNormal, ValueStandard}

// PolicyNames returns the policies that a yard may set.
func PolicyNames() []PolicyName { return slices.Clone(policyNames) }

// rulePrefix begins the name of a setting of a rule of the exception register. Which rules there are is not
// the ledger's to know; a setting that no rule reads is an exception of its own.
const rulePrefix = "rule "

// IsRuleSetting reports whether the policy is a setting of a rule of the exception register.
func (n PolicyName) IsRuleSetting() bool {
	rest, ok := strings.CutPrefix(string(n), rulePrefix)
	return ok && strings.TrimSpace(rest) != ""
}

// validate tries the value on a set of policies, so that what is in the book can be applied.
func (p Policy) validate() error {
	if p.Name.IsRuleSetting() {
		if strings.TrimSpace(p.Value) == "" {
			return fmt.Errorf("policy %s: no value: want a number, a mass with its unit, or off", p.Name)
		}
		return nil
	}
	if p.Name.IsExpectedShrinkage() {
		if _, err := ParseRate(p.Value); err != nil {
			return fmt.Errorf("policy %s: value %w", p.Name, err)
		}
		return nil
	}
	if p.Name.IsValuation() {
		return p.checkValuation()
	}
	if p.Name.IsBeltFactor() {
		if _, err := ParseFactor(p.Value); err != nil {
			return fmt.Errorf("policy %s: value %w", p.Name, err)
		}
		return nil
	}
	if !slices.Contains(policyNames, p.Name) {
		return fmt.Errorf("policy %q: want one of %s, a setting of a rule such as rule near twin minutes, a rate such as expected shrinkage 20mm, or a factor such as belt factor B1", p.Name, joinNames(policyNames))
	}
	return p.apply(new(Policies))
}

func (p Policy) apply(to *Policies) error {
	choose := func(names []string) (int, error) {
		value, _, _ := strings.Cut(p.Value, " ") // "outside the limit" reads as outside
		if i := indexFold(names, value); i > 0 {
			return i, nil
		}
		return 0, fmt.Errorf("policy %s: value %q: want one of %s", p.Name, p.Value, listNames(names))
	}
	var i int
	var err error
	switch p.Name {
	case PolicyAdjust:
		i, err = choose(adjustNames[:])
		to.Adjust = Adjust(i)
	case PolicyLimitOf:
		i, err = choose(limitBaseNames[:])
		to.Limit.Of = LimitBase(i)
	case PolicyLimitJoin:
		i, err = choose(limitJoinNames[:])
		to.Limit.Join = LimitJoin(i)
	case PolicyLimitMass:
		var m Mass
		m, err = p.mass()
		to.Limit.Mass = decimal.NullDecimal{Decimal: decimal.NewFromInt(int64(m)), Valid: true}
	case PolicyLimitPercent:
		to.Limit.Percent, err = p.number()
	case PolicyCutOffHours:
		var hours decimal.NullDecimal
		hours, err = p.number()
		to.CutOff = time.Duration(hours.Decimal.Mul(decimal.NewFromInt(int64(time.Hour))).IntPart())
	case PolicySurveyEvery:
		var months decimal.NullDecimal
		months, err = p.number()
		to.SurveyEvery = int(months.Decimal.IntPart())
	default:
		var percent decimal.NullDecimal
		if percent, err = p.number(); err == nil && to.Uncertainty.field(p.Name) != nil {
			*to.Uncertainty.field(p.Name) = percent.Decimal
		}
	}
	return err
}

// mass reads a value such as "50 t". A value of zero switches the part off no more than any other: a
// limit of 0 t is breached by every gram.
func (p Policy) mass() (Mass, error) {
	number, unit, _ := strings.Cut(strings.TrimSpace(p.Value), " ")
	u, err := ParseMassUnit(unit)
	if err != nil {
		return 0, fmt.Errorf("policy %s: value %q: want a number, a blank and a unit, such as 50 t", p.Name, p.Value)
	}
	m, err := ParseMass(number, u)
	if err != nil || m < 0 {
		return 0, fmt.Errorf("policy %s: value %q: want a mass of zero or more", p.Name, p.Value)
	}
	return m, nil
}

func (p Policy) number() (decimal.NullDecimal, error) {
	d, err := ParseDecimal(strings.TrimSpace(strings.TrimSuffix(p.Value, "%")))
	if err != nil || d.IsNegative() || d.GreaterThan(decimal.NewFromInt(10000)) {
		return decimal.NullDecimal{}, fmt.Errorf("policy %s: value %q: want a number from 0 to 10000", p.Name, p.Value)
	}
	return decimal.NullDecimal{Decimal: d, Valid: true}, nil
}

func joinNames[T ~string](names []T) string {
	s := make([]string, len(names))
	for i, n := range names {
		s[i] = string(n)
	}
	return strings.Join(s, ", ")
}
