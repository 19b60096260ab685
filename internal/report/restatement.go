package report

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"time"

	"repose/ledger"
)

// Restatement is what differs between two closes of one month, and why: which records came in between, which entries
// are new, gone or different because of them, and what that did to every pile and survey.
type Restatement struct {
	Schema int       `json:"schema"`
	Yard   string    `json:"yard"`
	Period string    `json:"period"`
	Before CloseLine `json:"before"`
	After  CloseLine `json:"after"`
	Why    string    `json:"why"` // error, estimate; empty where the month is not closed again yet
	Reason string    `json:"reason"`

	Records  []RecordLine   `json:"records"` // tests, surveys, rules and decisions that came in between
	Entries  []EntryChange  `json:"entries"`
	Surveys  []SurveyChange `json:"surveys"`
	Accounts []AccountLine  `json:"accounts"` // whose closing balance differs
	Rules    []RuleChange   `json:"rules"`

	beforeReg, afterReg *ledger.Register
	known               int64 // records in the log at the first close
}

// CloseLine names a close.
type CloseLine struct {
	Number  int    `json:"number"` // 1 for the first close of the month
	Record  string `json:"record"`
	At      string `json:"at"`
	By      string `json:"by"`
	Entries int    `json:"entries"`
	Seal    string `json:"seal_sha256"`
}

// RecordLine is a record that the later close knew and the earlier did not.
type RecordLine struct {
	Record string `json:"record"`
	At     string `json:"recorded"`
	By     string `json:"by"`
	Source string `json:"source"` // file:row, empty for what a person did
}

// EntryChange is an entry that differs. Solids are what the entry adds to piles, out of piles negative.
type EntryChange struct {
	Record string `json:"record"`
	Change string `json:"change"` // new, gone, changed
	Before Tonnes `json:"before_solids_t"`
	After  Tonnes `json:"after_solids_t"`
	Water  Tonnes `json:"water_change_t"`
	Why    string `json:"why"`
}

// SurveyChange is a survey that compares otherwise.
type SurveyChange struct {
	Survey  string  `json:"survey"`
	Pile    string  `json:"pile"`
	Before  *Tonnes `json:"before_shrinkage_t"` // nil where there was none
	After   *Tonnes `json:"after_shrinkage_t"`
	Why     string  `json:"why"`
	Outcome string  `json:"decision"`
}

// AccountLine is an account whose closing balance differs.
type AccountLine struct {
	Account      string `json:"account"`
	BeforeSolids Tonnes `json:"before_solids_t"`
	AfterSolids  Tonnes `json:"after_solids_t"`
	Solids       Tonnes `json:"solids_change_t"`
	Water        Tonnes `json:"water_change_t"`
}

// RuleChange is a rule in force that differs; one of the two is empty where it is new or gone.
type RuleChange struct {
	Before string `json:"before"`
	After  string `json:"after"`
}

// ClosedMonth is one close of a month.
type ClosedMonth struct {
	*ledger.Month
	Register *ledger.Register
	Close    *ledger.Record
}

// NewRestatement sets a later close of a month against an earlier one. Entries are added with Entry.
func NewRestatement(before, after ClosedMonth) *Restatement {
	r := &Restatement{Schema: Schema, Yard: before.Yard.Code, Period: before.Period.String(),
		Before: closeLine(before.Close), After: closeLine(after.Close),
		Records: []RecordLine{}, Entries: []EntryChange{}, Surveys: []SurveyChange{}, Accounts: []AccountLine{}, Rules: []RuleChange{},
		beforeReg: before.Register, afterReg: after.Register, known: before.Close.Fact.(ledger.Close).LogSize}
	r.accounts(before.Month, after.Month)
	r.surveys(before.Month, after.Month)
	r.rules(before.Month, after.Month)
	return r
}

func closeLine(rec *ledger.Record) CloseLine {
	c := rec.Fact.(ledger.Close)
	return CloseLine{rec.Revision + 1, rec.ID(), rec.Recorded.UTC().Format(time.RFC3339), rec.By, c.Entries, c.SealSHA256}
}

// Record adds a record that came in between. Movements show as entries and are left out, as is what the program wrote
// of itself.
func (r *Restatement) Record(rec *ledger.Record, file string) {
	switch rec.Fact.Kind() {
	case ledger.KindYardRecord, ledger.KindProductRecord, ledger.KindPileRecord, ledger.KindInstrumentRecord, ledger.KindHoursRecord,
		ledger.KindPolicyRecord, ledger.KindMoistureRecord, ledger.KindDensityRecord, ledger.KindSurveyRecord, ledger.KindDecisionRecord,
		ledger.KindSettlementRecord, ledger.KindWaiverRecord, ledger.KindAdjustmentRecord, ledger.KindReopeningRecord, ledger.KindApprovalRecord:
		r.Records = append(r.Records, RecordLine{rec.ID(), rec.Recorded.UTC().Format(time.RFC3339), rec.By, sourceText(rec, file)})
	}
}

func sourceText(rec *ledger.Record, file string) string {
	if rec.Source.Row == 0 {
		return ""
	}
	if rec.Source.Sheet != "" {
		file += ":" + rec.Source.Sheet
	}
	return fmt.Sprintf("%s:%d", file, rec.Source.Row)
}

// Entry adds the entry of one record as both closes sealed it; one of the two may be nil. file is what the record's
// file is called. Equal entries are left out.
func (r *Restatement) Entry(before, after *ledger.Entry, file string) {
	c := EntryChange{}
	switch {
	case before == nil:
		c.Record, c.Change, c.Why = after.Record.ID(), "new", r.whyNew(after.Record, file)
	case after == nil:
		c.Record, c.Change, c.Why = before.Record.ID(), "gone", r.whyGone(before.Record)
	case slices.Equal(before.Legs, after.Legs):
		return
	default:
		c.Record, c.Change, c.Why = after.Record.ID(), "changed", r.whyChanged(before, after)
	}
	was, is := toPiles(before), toPiles(after)
	c.Before, c.After, c.Water = Tonnes(was.Solids), Tonnes(is.Solids), Tonnes(is.Water-was.Water)
	r.Entries = append(r.Entries, c)
}

// toPiles is what an entry adds to piles.
func toPiles(e *ledger.Entry) (a ledger.Amount) {
	if e == nil {
		return a
	}
	for _, l := range e.Legs {
		if l.To.Kind == ledger.KindPile {
			a.Solids, a.Water = a.Solids+l.Solids, a.Water+l.Water
		}
		if l.From.Kind == ledger.KindPile {
			a.Solids, a.Water = a.Solids-l.Solids, a.Water-l.Water
		}
	}
	return a
}

func (r *Restatement) whyNew(rec *ledger.Record, file string) string {
	if rec.Seq < r.known {
		return "was on record, and was not entered in this month before"
	}
	came := "came in on " + rec.Recorded.UTC().Format(time.DateOnly) + " by " + rec.By
	if s := sourceText(rec, file); s != "" {
		came += ", " + s
	}
	if old := r.afterReg.Replaced(rec); old != "" {
		came += "; replaces " + old
	}
	return came
}

func (r *Restatement) whyGone(rec *ledger.Record) string {
	if by := r.afterReg.ReplacedBy(rec); by != "" {
		return "replaced by " + by
	}
	return "no longer entered in this month"
}

func (r *Restatement) whyChanged(before, after *ledger.Entry) string {
	var why []string
	if !before.Moisture.Equal(after.Moisture) {
		why = append(why, fmt.Sprintf("moisture %v %% instead of %v %% of dry mass%s", after.Moisture.Percent(), before.Moisture.Percent(), r.testOf(after)))
	}
	if before.Flags != after.Flags {
		why = append(why, fmt.Sprintf("flags %q instead of %q", strings.Join(after.Flags.Names(), ", "), strings.Join(before.Flags.Names(), ", ")))
	}
	if len(why) == 0 {
		return "what lay in its accounts before it differs"
	}
	return strings.Join(why, "; ")
}

// testOf names the test whose moisture parts an entry, where its pile or its product has one.
func (r *Restatement) testOf(e *ledger.Entry) string {
	for _, l := range e.Legs {
		for _, a := range []ledger.Account{l.From, l.To} {
			if a.Kind != ledger.KindPile {
				continue
			}
			if t, ok := r.afterReg.MoistureTest(ledger.PileID{Yard: a.Yard, Code: a.Name}, e.At()); ok && t.Moisture.Equal(e.Moisture) {
				return ", test " + t.Key()
			}
		}
	}
	return ""
}

func (r *Restatement) accounts(before, after *ledger.Month) {
	b, a := before.Closing.Balances, after.Closing.Balances
	all := maps.Clone(b)
	maps.Copy(all, a)
	for _, acc := range all.Accounts() {
		if b[acc] == a[acc] {
			continue
		}
		r.Accounts = append(r.Accounts, AccountLine{acc.String(), Tonnes(b[acc].Solids), Tonnes(a[acc].Solids),
			Tonnes(a[acc].Solids - b[acc].Solids), Tonnes(a[acc].Water - b[acc].Water)})
	}
}

func (r *Restatement) surveys(before, after *ledger.Month) {
	was := map[string]*ledger.Comparison{}
	for _, c := range before.Comparisons {
		was[c.Record.ID()] = c
	}
	for _, c := range after.Comparisons {
		old, ok := was[c.Record.ID()]
		delete(was, c.Record.ID())
		change := SurveyChange{Survey: c.Survey.Survey, Pile: c.Pile.Code, After: tonnes(c.Difference()), Outcome: c.Outcome.String()}
		switch {
		case !ok:
			change.Why = "new"
			if by := r.afterReg.Replaced(c.Record); by != "" {
				change.Why = "replaces " + by
			}
		case old.Book == c.Book && old.Found == c.Found && old.Outcome == c.Outcome:
			continue
		default:
			change.Before, change.Why = tonnes(old.Difference()), whySurvey(old, c)
		}
		r.Surveys = append(r.Surveys, change)
	}
	for _, c := range before.Comparisons {
		if was[c.Record.ID()] != nil {
			r.Surveys = append(r.Surveys, SurveyChange{Survey: c.Survey.Survey, Pile: c.Pile.Code, Before: tonnes(c.Difference()),
				Why: r.whyGone(c.Record), Outcome: c.Outcome.String()})
		}
	}
}

// whySurvey says which side of a comparison moved, and by what.
func whySurvey(old, c *ledger.Comparison) string {
	var why []string
	if was, is := densityText(old), densityText(c); was != is {
		why = append(why, fmt.Sprintf("density %s instead of %s", is, was))
	}
	if old.Book != c.Book {
		why = append(why, "the book of the pile differs: see the entries")
	}
	if old.Outcome != c.Outcome {
		why = append(why, fmt.Sprintf("%v instead of %v", c.Outcome, old.Outcome))
	}
	if len(why) == 0 {
		return "moisture of the pile"
	}
	return strings.Join(why, "; ")
}

// densityText says what turned a survey's volume into mass.
func densityText(c *ledger.Comparison) string {
	if !c.HasDensity {
		return "none"
	}
	return fmt.Sprintf("%v t/m3 at %v %%, compaction %v, test %s", c.Density.MoistTPerM3, c.Density.Moisture.Percent(), c.Density.Compaction, c.Density.Key())
}

// rules compares the lines of rules as they are sealed.
func (r *Restatement) rules(before, after *ledger.Month) {
	lines := func(m *ledger.Month) (texts []string) {
		for _, l := range m.SealLines() {
			if l.Kind == ledger.SealPolicy {
				texts = append(texts, l.Text)
			}
		}
		return texts
	}
	b, a := lines(before), lines(after)
	for i := range max(len(b), len(a)) {
		var c RuleChange
		if i < len(b) {
			c.Before = b[i]
		}
		if i < len(a) {
			c.After = a[i]
		}
		if c.Before != c.After {
			r.Rules = append(r.Rules, c)
		}
	}
}

// Same reports whether nothing differs.
func (r *Restatement) Same() bool {
	return len(r.Entries)+len(r.Surveys)+len(r.Accounts)+len(r.Rules) == 0
}

// WriteText writes the restatement for the screen in a unit of mass.
func (r *Restatement) WriteText(w io.Writer, u Unit) error {
	fmt.Fprintf(w, "%s of yard %s: close %d against close %d\n", r.Period, r.Yard, r.After.Number, r.Before.Number)
	for _, c := range []CloseLine{r.Before, r.After} {
		fmt.Fprintf(w, "  close %d  %s by %s, %d entries, seal %s\n", c.Number, c.At, c.By, c.Entries, c.Seal)
	}
	if r.Reason != "" {
		fmt.Fprintf(w, "Opened again because of an %s: %s\n", r.Why, r.Reason)
	}
	if r.Same() {
		_, err := fmt.Fprintln(w, "\nNothing differs.")
		return err
	}
	list := func(title string, n int, heads []string, row func(t *Table, i int)) {
		if n == 0 {
			return
		}
		fmt.Fprintf(w, "\n%s\n", title)
		t := NewTable(heads...)
		for i := range n {
			row(t, i)
		}
		_, _ = t.WriteTo(w)
	}
	list("Balances that differ, in "+u.Mass.String(), len(r.Accounts), []string{"account", ">solids before", ">after", ">change", ">change of water"}, func(t *Table, i int) {
		a := r.Accounts[i]
		t.Row(a.Account, u.Format(a.BeforeSolids.Mass()), u.Format(a.AfterSolids.Mass()), u.Format(a.Solids.Mass()), u.Format(a.Water.Mass()))
	})
	list("Surveys that differ; shrinkage, positive = missing", len(r.Surveys), []string{"survey", "pile", ">before", ">after", "why"}, func(t *Table, i int) {
		s := r.Surveys[i]
		t.Row(s.Survey, s.Pile, u.optional(s.Before), u.optional(s.After), s.Why)
	})
	list("Entries that differ; solids into piles", len(r.Entries), []string{"record", "change", ">before", ">after", ">change of water", "why"}, func(t *Table, i int) {
		e := r.Entries[i]
		t.Row(e.Record, e.Change, u.Format(e.Before.Mass()), u.Format(e.After.Mass()), u.Format(e.Water.Mass()), e.Why)
	})
	list("Rules that differ", len(r.Rules), []string{"before", "after"}, func(t *Table, i int) { t.Row(r.Rules[i].Before, r.Rules[i].After) })
	list("Tests, surveys, rules and decisions that came in between", len(r.Records), []string{"record", "recorded", "by", "source"}, func(t *Table, i int) {
		x := r.Records[i]
		t.Row(x.Record, x.At, x.By, x.Source)
	})
	return nil
}
