package ledger

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// ProblemKind says what stands in the way of a close, or what a reader of it should know.
type ProblemKind uint8

// The kinds of problem.
const (
	ProblemSuspense        ProblemKind = iota + 1 // a record's pile is unknown
	ProblemNoSurvey                               // a pile without the survey that the policy asks for
	ProblemNoDensity                              // a survey without a density
	ProblemUnexplainedFall                        // a totaliser fell without a reason
	ProblemNoProduct                              // a pile's product is not in the register
	ProblemConflict                               // two records of one key differ and nobody has decided
	ProblemNegative                               // the book of a pile is below zero
	ProblemLateSurvey                             // a survey ended in a sealed period
	ProblemException                              // an exception of a rule that the close waits for is open
	ProblemCertificate                            // an instrument weighed after its certificate had lapsed
	ProblemApproval                               // a second person has yet to approve
	ProblemValue                                  // the month's costs do not give a value
)

var problemNames = [...]string{ProblemSuspense: "suspense", ProblemNoSurvey: "no survey", ProblemNoDensity: "no density",
	ProblemUnexplainedFall: "totaliser fell", ProblemNoProduct: "no product", ProblemConflict: "conflict",
	ProblemNegative: "below zero", ProblemLateSurvey: "late survey",
	ProblemException: "open exception", ProblemCertificate: "certificate lapsed", ProblemApproval: "second person",
	ProblemValue: "no value"}

// problemSettled says what settles a problem of each kind.
var problemSettled = [...]string{ProblemSuspense: "a row of piles for the unknown pile, or records with the right one that replace these",
	ProblemNoSurvey:        "the survey, taken in; or the policy \"survey every\"",
	ProblemNoDensity:       "a bulk density of the pile or of its product",
	ProblemUnexplainedFall: "a reading with a note that replaces this one, or the belt's modulus",
	ProblemNoProduct:       "a row of products",
	ProblemConflict:        "repose conflicts ID --keep or --take",
	ProblemNegative:        "nothing has to be; see the exception \"below zero\"",
	ProblemLateSurvey:      "nothing has to be",
	ProblemException:       "repose exceptions settle ID",
	ProblemCertificate:     "a row of instruments with the new certificate",
	ProblemApproval:        "repose approve ID, by another person",
	ProblemValue:           "the costs, taken in; see repose value PERIOD"}

// Settled says what settles a problem of the kind.
func (k ProblemKind) Settled() string { return nameOf(problemSettled[:], int(k)) }

// String returns the problem in a word or two.
func (k ProblemKind) String() string { return nameOf(problemNames[:], int(k)) }

// Blocks reports whether a period with such a problem may not be closed.
func (k ProblemKind) Blocks() bool { return k != ProblemNegative && k != ProblemLateSurvey }

// Problem is one thing found wrong with a period.
type Problem struct {
	Kind    ProblemKind
	Subject string // a pile's code, a record's ID
	Text    string
}

// ID names the problem within its period, such as no-survey/TEN.
func (p Problem) ID() string { return strings.ReplaceAll(p.Kind.String(), " ", "-") + "/" + p.Subject }

// Waivable reports whether a person may let a close go on in spite of a problem of the kind. Exceptions are waived in
// their register, and a second person is the point of asking for one.
func (k ProblemKind) Waivable() bool {
	return k.Blocks() && k != ProblemException && k != ProblemApproval
}

func (b *builder) problem(k ProblemKind, subject, text string) {
	b.month.Problems = append(b.month.Problems, Problem{k, subject, text})
}

// finish completes the month's totals and looks for what stands in the way of a close.
func (b *builder) finish() {
	b.endDays(b.until)
	for _, p := range b.piles {
		b.settle(p)
	}
	for id := range b.month.Flows {
		b.month.Piles = append(b.month.Piles, id)
	}
	slices.SortFunc(b.month.Piles, func(x, y PileID) int { return cmp.Compare(x.Code, y.Code) })
	for _, a := range b.state.Balances.Accounts() {
		if a.Kind == KindSuspense {
			b.problem(ProblemSuspense, a.Name, fmt.Sprintf("%v of solids were moved by records whose pile %q is not in the register",
				b.state.Balances[a].Solids.Abs(), a.Name))
		}
	}
	for _, rec := range b.month.Late {
		if s, ok := rec.Fact.(Survey); ok {
			b.problem(ProblemLateSurvey, s.Pile, fmt.Sprintf("survey %s ended in a sealed period: it is on record and is not compared", s.Survey))
		}
	}
	for _, id := range b.month.Piles {
		b.checkPile(id)
	}
	slices.SortStableFunc(b.month.Problems, func(x, y Problem) int {
		return cmp.Or(cmp.Compare(x.Kind, y.Kind), cmp.Compare(x.Subject, y.Subject))
	})
}

func (b *builder) checkPile(id PileID) {
	opening, closing := b.month.Opening.Balances[id.Account()], b.state.Balances[id.Account()]
	if *b.month.Flows[id] == (Flows{}) && opening.IsZero() {
		return // nothing there and nothing moved
	}
	if closing.Solids < 0 {
		b.problem(ProblemNegative, id.Code, fmt.Sprintf("the book says %v of solids", closing.Solids))
	}
	product := b.in.Register.Pile(id, b.until).Product
	if _, ok := b.in.Register.Product(product); !ok {
		b.problem(ProblemNoProduct, id.Code, fmt.Sprintf("product %q is not in the register, so its reference moisture is unknown", product))
	}
	for _, c := range b.month.Comparisons {
		if c.Pile == id && !c.HasDensity {
			b.problem(ProblemNoDensity, id.Code, fmt.Sprintf("survey %s has a volume and no bulk density to turn it into mass", c.Survey.Survey))
		}
	}
	if every := b.month.Policies.SurveyEvery; every > 0 && b.pile(id).final == nil {
		oldest := b.month.Period
		for range every - 1 {
			oldest = oldest.Previous()
		}
		if surveyed := b.month.Closing.Bases[id]; !surveyed.isSurvey() || surveyed.At.Before(oldest.Start(b.month.Zone)) {
			b.problem(ProblemNoSurvey, id.Code, "no survey ends in the period that the policy \"survey every\" asks for")
		}
	}
}
