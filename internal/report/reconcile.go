package report

import (
	"fmt"
	"io"
	"time"

	"repose/ledger"
)

// Reconciliation is the book of a yard's month against its surveys. Shrinkage is book less survey in
// solids: positive means that stone is missing.
type Reconciliation struct {
	Schema   int             `json:"schema"`
	Yard     string          `json:"yard"`
	Period   string          `json:"period"`
	State    string          `json:"state"`        // open, closed or part
	At       *time.Time      `json:"at,omitempty"` // where only what happened by then is in it
	Piles    []ReconcileLine `json:"piles"`
	Total    ReconcileTotal  `json:"total"`
	Earlier  []ReconcileLine `json:"earlier_surveys"` // surveys of the month that a later one of the pile overtook
	Problems []Problem       `json:"problems"`
	Late     []string        `json:"late"` // IDs of records entered here that happened in a sealed period
	zone     *time.Location
}

// ReconcileLine is one pile. Pointers are nil where there is no survey, no base or no limit.
type ReconcileLine struct {
	Pile            string     `json:"pile"`
	Product         string     `json:"product"`
	Survey          *string    `json:"survey"`
	SurveyAt        *time.Time `json:"survey_at"`
	Book            *Tonnes    `json:"book_solids_t"`
	Found           *Tonnes    `json:"survey_solids_t"`
	Shrinkage       *Tonnes    `json:"shrinkage_t"`
	Expected        *Tonnes    `json:"expected_t"`    // went out of the book since the last survey as allowed for
	Explained       *Tonnes    `json:"explained_t"`   // and with a cause, by a settled exception
	Unexplained     *Tonnes    `json:"unexplained_t"` // the rest, which is book less survey
	Residual        *Tonnes    `json:"residual_t"`
	PctBook         *Percent   `json:"shrinkage_pct_book"`
	PctThroughput   *Percent   `json:"shrinkage_pct_throughput"`
	Throughput      *Tonnes    `json:"throughput_t"`
	Sigma           *Tonnes    `json:"sigma_t"`
	Z               *Ratio     `json:"z"`
	MDL             *Tonnes    `json:"mdl_t"`
	Verdict         *string    `json:"verdict"`
	Limit           *Tonnes    `json:"limit_t"`
	Breach          *bool      `json:"breach"`
	Reading         string     `json:"reading,omitempty"` // what limit and measurement error say together
	DensityU        *Ratio     `json:"density_u_pct"`
	DensityStock    *Tonnes    `json:"density_effect_on_stock_t"`
	DensityResidual *Tonnes    `json:"density_effect_on_residual_t"`
	Decision        string     `json:"decision"`
	Rolled          *Tonnes    `json:"survey_rolled_forward_t"`
	ClosingSolids   Tonnes     `json:"closing_solids_t"`
	ClosingWater    Tonnes     `json:"closing_water_t"`
	ClosingAsIs     Tonnes     `json:"closing_as_is_t"`
	ClosingAdjusted Tonnes     `json:"closing_adjusted_t"`
	InWindow        []Named    `json:"in_survey_window"`
	CutOff          []Named    `json:"cut_off"`
}

// Named is one movement named beside a survey.
type Named struct {
	Record string     `json:"record"`
	At     time.Time  `json:"at"`
	Solids Tonnes     `json:"solids_t"` // into the pile if positive
	Truck  string     `json:"truck,omitempty"`
	DeckAt *time.Time `json:"weighed_out_at,omitempty"`
}

// ReconcileTotal sums the piles that were surveyed; the closing figures are of all piles.
type ReconcileTotal struct {
	Book            Tonnes   `json:"book_solids_t"`
	Found           Tonnes   `json:"survey_solids_t"`
	Shrinkage       Tonnes   `json:"shrinkage_t"`
	Expected        Tonnes   `json:"expected_t"`
	Explained       Tonnes   `json:"explained_t"`
	Unexplained     Tonnes   `json:"unexplained_t"`
	PctBook         *Percent `json:"shrinkage_pct_book"`
	ClosingSolids   Tonnes   `json:"closing_solids_t"`
	ClosingWater    Tonnes   `json:"closing_water_t"`
	ClosingAsIs     Tonnes   `json:"closing_as_is_t"`
	ClosingAdjusted Tonnes   `json:"closing_adjusted_t"`
}

// Problem is something that stands in the way of a close or that its reader should know.
type Problem struct {
	Kind    string `json:"kind"`
	Subject string `json:"subject"`
	Text    string `json:"text"`
	Blocks  bool   `json:"blocks_close"`
	ID      string `json:"id"`
	Settled string `json:"settled_by"` // what settles it

	// Where somebody has waived it, who and why, and who approved that; it blocks until somebody has.
	WaivedBy   string `json:"waived_by,omitempty"`
	Reason     string `json:"reason,omitempty"`
	ApprovedBy string `json:"approved_by,omitempty"`
}

// Waiver says in words who waived the problem; "" where nobody did.
func (p Problem) Waiver() string {
	switch {
	case p.WaivedBy == "":
		return ""
	case p.ApprovedBy == "":
		return fmt.Sprintf("waived by %s (%s), waits for approval", p.WaivedBy, p.Reason)
	}
	return fmt.Sprintf("waived by %s (%s), approved by %s", p.WaivedBy, p.Reason, p.ApprovedBy)
}

// MeasurementError is what is known of the error of one survey's balance, in t and in plain numbers.
type MeasurementError struct {
	Sigma, Z, MDL                           float64
	Inside                                  bool
	DensityU, DensityStock, DensityResidual float64
}

// NewReconciliation reports a month. uncertain holds the measurement error of each balance by the ID of its
// survey; a balance without one is reported without.
func NewReconciliation(reg *ledger.Register, m *ledger.Month, closed bool, uncertain map[string]MeasurementError) (*Reconciliation, error) {
	r := &Reconciliation{Schema: Schema, Yard: m.Yard.Code, Period: m.Period.String(), State: "open", zone: m.Zone,
		Piles: []ReconcileLine{}, Earlier: []ReconcileLine{}, Problems: NewProblems(m.Problems), Late: []string{}}
	if closed {
		r.State = "closed"
	}
	for _, id := range m.Piles {
		l, err := reconcileLine(reg, m, id, uncertain)
		if err != nil {
			return nil, fmt.Errorf("pile %s: %w", id.Code, err)
		}
		r.Piles = append(r.Piles, l)
		r.Total.add(l)
	}
	r.Total.PctBook = percentOf(r.Total.Shrinkage.Mass(), r.Total.Book.Mass())
	for _, c := range m.Comparisons {
		if c.Outcome == ledger.OutcomeSuperseded {
			l := ReconcileLine{Pile: c.Pile.Code, Product: c.Product}
			l.compare(c, uncertain)
			r.Earlier = append(r.Earlier, l)
		}
	}
	for _, rec := range m.Late {
		r.Late = append(r.Late, rec.ID())
	}
	return r, nil
}

// AsAt makes it the report of the part of a month that had happened by an instant: nothing blocks its close.
func (r *Reconciliation) AsAt(at time.Time) {
	r.State, r.At, r.Problems = "part", &at, []Problem{}
}

// NewProblem puts a problem into the words of a report.
func NewProblem(p ledger.Problem) Problem {
	return Problem{Kind: p.Kind.String(), Subject: p.Subject, Text: p.Text, Blocks: p.Kind.Blocks(), ID: p.ID(), Settled: p.Kind.Settled()}
}

// NewProblems puts problems into the words of a report.
func NewProblems(problems []ledger.Problem) []Problem {
	out := []Problem{}
	for _, p := range problems {
		out = append(out, NewProblem(p))
	}
	return out
}

func reconcileLine(reg *ledger.Register, m *ledger.Month, id ledger.PileID, uncertain map[string]MeasurementError) (ReconcileLine, error) {
	held := m.Closing.Balances[id.Account()]
	end := m.End().Add(-1)
	stock, err := stockLine(reg, end, PileStock{id, held})
	l := ReconcileLine{Pile: id.Code, Product: stock.Product, Decision: ledger.OutcomeNoSurvey.String(),
		ClosingSolids: stock.Solids, ClosingWater: stock.Water, ClosingAsIs: stock.AsIs, ClosingAdjusted: stock.Adjusted,
		InWindow: []Named{}, CutOff: []Named{}}
	if c := m.Final(id); c != nil {
		l.compare(c, uncertain)
	}
	return l, err
}

// compare fills in what a survey says, and how well it can say it.
func (l *ReconcileLine) compare(c *ledger.Comparison, uncertain map[string]MeasurementError) {
	l.Survey, l.SurveyAt = &c.Survey.Survey, &c.Survey.End
	l.Book = tonnes(c.Book.Solids)
	l.Decision = c.Outcome.String()
	l.InWindow, l.CutOff = named(c.InWindow), named(c.Straddling)
	if !c.HasDensity {
		return
	}
	d := c.Difference()
	l.Found, l.Shrinkage, l.Rolled = tonnes(c.Found.Solids), tonnes(d), tonnes(c.Rolled())
	l.Expected, l.Explained, l.Unexplained = tonnes(c.Base.Expected), tonnes(c.Base.Explained), tonnes(d)
	l.PctBook = percentOf(d, c.Book.Solids)
	if residual, ok := c.Residual(); ok {
		l.Residual, l.Throughput = tonnes(residual), tonnes(c.Base.Throughput())
		l.PctThroughput = percentOf(d, c.Base.Throughput())
	}
	if c.HasLimit {
		breach := c.Breach()
		l.Limit, l.Breach = tonnes(c.Limit), &breach
	}
	if e, ok := uncertain[c.Record.ID()]; ok {
		l.judge(e)
	}
}

// The verdicts on a residual.
const (
	verdictInside  = "inside"
	verdictOutside = "outside"
)

func (l *ReconcileLine) judge(e MeasurementError) {
	verdict := verdictOutside
	if e.Inside {
		verdict = verdictInside
	}
	l.Sigma, l.MDL, l.Z, l.Verdict = fromFloat(e.Sigma), fromFloat(e.MDL), new(Ratio(e.Z)), &verdict
	l.DensityU = new(Ratio(100 * e.DensityU))
	l.DensityStock, l.DensityResidual = fromFloat(e.DensityStock), fromFloat(e.DensityResidual)
	if l.Breach != nil {
		l.Reading = reading(*l.Breach, e.Inside)
	}
}

// reading says what a yard's limit and the measurement error mean together. A limit says what must be
// explained; measurement error says what could be nothing at all.
func reading(breach, inside bool) string {
	switch {
	case breach && inside:
		return "beyond the limit, not distinguishable from measurement error: improve the survey or the density"
	case breach:
		return "beyond the limit and outside measurement error: investigate, then adjust"
	case inside:
		return "nothing to explain: keep the evidence"
	}
	return "within the limit, yet outside measurement error: the limit may be too wide; investigate"
}

func named(items []ledger.Item) []Named {
	out := []Named{}
	for _, i := range items {
		n := Named{Record: i.Record.ID(), At: i.Record.At, Solids: Tonnes(i.Net.Solids), Truck: i.Record.Field("truck")}
		if i.Deck != nil {
			n.DeckAt = &i.Deck.At
		}
		out = append(out, n)
	}
	return out
}

func (t *ReconcileTotal) add(l ReconcileLine) {
	if l.Shrinkage != nil {
		t.Book += *l.Book
		t.Found += *l.Found
		t.Shrinkage += *l.Shrinkage
		t.Expected += *l.Expected
		t.Explained += *l.Explained
		t.Unexplained += *l.Unexplained
	}
	t.ClosingSolids += l.ClosingSolids
	t.ClosingWater += l.ClosingWater
	t.ClosingAsIs += l.ClosingAsIs
	t.ClosingAdjusted += l.ClosingAdjusted
}

// Breached reports whether any pile's difference passes the yard's limit.
func (r *Reconciliation) Breached() bool {
	for _, l := range r.Piles {
		if l.Breach != nil && *l.Breach {
			return true
		}
	}
	return false
}

// state says in words how much of the month it is.
func (r *Reconciliation) state() string {
	if r.At != nil {
		return "what had happened by " + r.At.In(r.zone).Format(time.DateTime)
	}
	return r.State
}

// WriteText writes the reconciliation for the screen in a unit of mass.
func (r *Reconciliation) WriteText(w io.Writer, u Unit) error {
	fmt.Fprintf(w, "Book against survey, yard %s, %s (%s), solids in %s; positive = missing\n\n", r.Yard, r.Period, r.state(), u.Mass)
	t := NewTable("pile", "product", "survey ended", ">book", ">survey", ">missing", ">% book", ">since last survey", ">+/- (95 %)", "error", ">limit", "beyond limit", "decision", ">closing")
	for _, l := range r.Piles {
		t.Row(l.Pile, l.Product, r.clock(l.SurveyAt), u.optional(l.Book), u.optional(l.Found), u.optional(l.Shrinkage),
			formatPercent(l.PctBook, 2), u.optional(l.Residual), u.optional(l.half()), l.verdict(), u.optional(l.Limit), yesNo(l.Breach), l.Decision, u.Format(l.ClosingSolids.Mass()))
	}
	t.Total = true
	t.Row("total", "", "", u.Format(r.Total.Book.Mass()), u.Format(r.Total.Found.Mass()), u.Format(r.Total.Shrinkage.Mass()),
		formatPercent(r.Total.PctBook, 2), "", "", "", "", "", "", u.Format(r.Total.ClosingSolids.Mass()))
	if _, err := t.WriteTo(w); err != nil {
		return err
	}
	if err := r.writeShrinkage(w, u); err != nil {
		return err
	}
	if err := r.writeNamed(w, u); err != nil {
		return err
	}
	return WriteProblems(w, r.Problems)
}

// writeShrinkage parts what went missing since the last survey into what was expected, what an exception
// explained, and the rest, where there is more than the rest.
func (r *Reconciliation) writeShrinkage(w io.Writer, u Unit) error {
	if r.Total.Expected == 0 && r.Total.Explained == 0 {
		return nil
	}
	fmt.Fprintf(w, "\nShrinkage since the last survey, solids in %s: what was expected or explained is out of the book already\n\n", u.Mass)
	t := NewTable("pile", ">expected", ">explained", ">unexplained", ">in all")
	row := func(name string, expected, explained, unexplained Tonnes) {
		t.Row(name, u.Format(expected.Mass()), u.Format(explained.Mass()), u.Format(unexplained.Mass()), u.Format((expected + explained + unexplained).Mass()))
	}
	for _, l := range r.Piles {
		if l.Shrinkage != nil {
			row(l.Pile, *l.Expected, *l.Explained, *l.Unexplained)
		}
	}
	t.Total = true
	row("total", r.Total.Expected, r.Total.Explained, r.Total.Unexplained)
	_, err := t.WriteTo(w)
	return err
}

// half returns half the width of the 95 % interval of the residual.
func (l *ReconcileLine) half() *Tonnes {
	if l.Sigma == nil {
		return nil
	}
	return new(Tonnes(2 * l.Sigma.Mass()))
}

func (l *ReconcileLine) verdict() string {
	if l.Verdict == nil {
		return "-"
	}
	return *l.Verdict
}

// writeNamed lists the movements that stand beside a survey.
func (r *Reconciliation) writeNamed(w io.Writer, u Unit) error {
	for _, l := range r.Piles {
		if len(l.InWindow) > 0 {
			fmt.Fprintf(w, "\nPile %s moved while it was being surveyed (already in the book figure):\n", l.Pile)
			for _, n := range l.InWindow {
				fmt.Fprintf(w, "  %s  %s  %s\n", r.clock(&n.At), u.Format(n.Solids.Mass()), n.Record)
			}
		}
		if len(l.CutOff) > 0 {
			fmt.Fprintf(w, "\nLoaded from pile %s before the survey ended, weighed out after it:\n", l.Pile)
			for _, n := range l.CutOff {
				fmt.Fprintf(w, "  %s, weighed out %s  %s  %s\n", r.clock(&n.At), r.clock(n.DeckAt), u.Format(n.Solids.Mass()), n.Record)
			}
		}
	}
	if n := len(r.Late); n > 0 {
		fmt.Fprintf(w, "\n%s entered here, though the period they belong to was sealed. See the entries sheet.\n", plural(n, "record is", "records are"))
	}
	return nil
}

// WriteProblems lists problems, those that block a close first.
func WriteProblems(w io.Writer, problems []Problem) error {
	for _, blocks := range []bool{true, false} {
		head := map[bool]string{true: "\nIn the way of a close:\n", false: "\nTo know:\n"}[blocks]
		for _, p := range problems {
			if p.Blocks != blocks {
				continue
			}
			if _, err := fmt.Fprintf(w, "%s  %s %s: %s\n", head, p.Kind, p.Subject, p.Text); err != nil {
				return err
			}
			if waiver := p.Waiver(); waiver != "" {
				fmt.Fprintf(w, "    %s\n", waiver)
			}
			head = ""
		}
	}
	return nil
}

// clock writes an instant as the yard's clock shows it.
func (r *Reconciliation) clock(t *time.Time) string {
	if t == nil {
		return "-"
	}
	return t.In(r.zone).Format("2006-01-02 15:04")
}

func yesNo(b *bool) string {
	switch {
	case b == nil:
		return "-"
	case *b:
		return "yes"
	}
	return "no"
}
