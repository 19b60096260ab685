package report

import (
	"cmp"
	"fmt"
	"io"
	"slices"

	"repose/ledger"
)

// Candidates are the open exceptions that could be what is missing from a pile, set beside what its balances
// say. The one is evidence by item, the other a rate with an uncertainty; they are not added up.
type Candidates struct {
	Schema  int      `json:"schema"`
	Yard    string   `json:"yard"`
	Pile    string   `json:"pile"`
	Product string   `json:"product"`
	Periods []string `json:"periods"`

	Balances int     `json:"balances"`
	Missing  *Tonnes `json:"missing_t"` // the sum of the pile's residuals; nil without a balance
	Sigma    *Tonnes `json:"sigma_t"`
	Z        *Ratio  `json:"z"`
	Alarm    bool    `json:"alarm"` // of the yard's causes, raised by chance in 5 of 100 yards without a fault
	Cause    string  `json:"cause"` // what the balances say could explain it, where the pile is in it
	Items    []Item  `json:"items"` // hard evidence, strongest first

	// Elsewhere are items that could be of this pile as well as of others: the records do not tell. Their masses are as
	// weighed.
	Elsewhere []Item `json:"pile_not_told"`

	Patterns []Item `json:"patterns"`       // soft evidence: habits and rates without a record that is meant
	Sum      Tonnes `json:"items_sum_t"`    // in solids, of the items
	Benign   []Look `json:"look_first"`     // the harmless reasons, by rule
	Other    Tonnes `json:"against_sum_t"`  // of open exceptions that would make more stone missing, not less
	Gain     int    `json:"against_number"` // how many those are
}

// Item is one exception as a candidate.
type Item struct {
	Rank      int    `json:"rank"`
	ID        string `json:"id"`
	Rule      string `json:"rule"`
	Strength  string `json:"strength"`
	Shrinkage Tonnes `json:"shrinkage_t"` // solids that it would account for
	Seen      string `json:"seen"`
}

// Look is a rule's harmless reasons.
type Look struct {
	Rule   string `json:"rule"`
	Benign string `json:"benign"`
}

// strengthRank orders evidence.
var strengthRank = map[string]int{"certain": 1, "likely": 2, "pattern": 3}

// Rank puts open exceptions that would explain missing stone of a pile in order: what is certain before what is
// likely, and within each the larger first.
func (c *Candidates) Rank(lines []ExceptionLine) {
	c.Items, c.Elsewhere, c.Patterns = []Item{}, []Item{}, []Item{}
	for _, l := range lines {
		if l.Status != ledger.ExceptionOpen.String() {
			continue
		}
		effect := Tonnes(0)
		for _, e := range l.Explains {
			if e.Pile == c.Pile {
				effect += e.Shrinkage
			}
		}
		item := Item{ID: l.ID, Rule: l.Rule, Strength: l.Strength, Shrinkage: effect, Seen: l.Seen}
		switch {
		case l.Strength == "pattern" && l.Pile == c.Pile:
			c.Patterns = append(c.Patterns, item)
		case effect > 0:
			c.Items = append(c.Items, item)
			c.Sum += effect
		case l.Unplaced != nil && (l.Product == "" || l.Product == c.Product):
			item.Shrinkage = *l.Unplaced
			c.Elsewhere = append(c.Elsewhere, item)
		case effect < 0:
			c.Other += effect
			c.Gain++
		}
	}
	rank(c.Items)
	rank(c.Elsewhere)
}

func rank(items []Item) {
	slices.SortStableFunc(items, func(a, b Item) int {
		return cmp.Or(cmp.Compare(strengthRank[a.Strength], strengthRank[b.Strength]), cmp.Compare(b.Shrinkage, a.Shrinkage), cmp.Compare(a.ID, b.ID))
	})
	for i := range items {
		items[i].Rank = i + 1
	}
}

// WriteText writes the candidates for the screen in a unit of mass.
func (c *Candidates) WriteText(w io.Writer, u Unit) error {
	fmt.Fprintf(w, "What could be missing from pile %s, yard %s, %s; solids in %s\n\n", c.Pile, c.Yard, spanOf(c.Periods), u.Mass)
	c.writeBalances(w, u)
	if len(c.Benign) > 0 {
		fmt.Fprintln(w, "\nLook at the harmless reasons first:")
		for _, l := range c.Benign {
			fmt.Fprintf(w, "  %s: %s\n", l.Rule, l.Benign)
		}
	}
	if err := c.writeItems(w, u); err != nil {
		return err
	}
	if err := c.writeElsewhere(w, u); err != nil {
		return err
	}
	for i, p := range c.Patterns {
		if i == 0 {
			fmt.Fprintln(w, "\nHabits of the records, which mean no single one:")
		}
		fmt.Fprintf(w, "  %s  %s: %s\n", p.ID, p.Rule, p.Seen)
	}
	return nil
}

func (c *Candidates) writeBalances(w io.Writer, u Unit) {
	if c.Missing == nil {
		fmt.Fprintln(w, "No survey of it ends in these months, so nothing says how much is missing.")
		return
	}
	alarm := "no alarm: that may be measurement error alone"
	if c.Alarm {
		alarm = "alarm: the yard shows more than measurement error, which chance does in 5 of 100 yards without a fault"
	}
	fmt.Fprintf(w, "As a rate: %s from survey to survey: %s missing, +/- %s (95 %%); %s.\n",
		plural(c.Balances, "balance", "balances"), u.Format(c.Missing.Mass()), u.Format(2*c.Sigma.Mass()), alarm)
	if c.Cause != "" {
		fmt.Fprintln(w, c.Cause)
	}
}

// shownElsewhere is how many items of an unknown pile are printed.
const shownElsewhere = 20

func (c *Candidates) writeElsewhere(w io.Writer, u Unit) error {
	if len(c.Elsewhere) == 0 {
		return nil
	}
	fmt.Fprintln(w, "\nOf a pile that the records do not tell; this one, or another (as weighed):")
	t := NewTable(">", "exception", "rule", "strength", ">mass", "seen")
	for _, i := range c.Elsewhere[:min(len(c.Elsewhere), shownElsewhere)] {
		t.Row(fmt.Sprint(i.Rank), i.ID, i.Rule, i.Strength, u.Format(i.Shrinkage.Mass()), i.Seen)
	}
	if _, err := t.WriteTo(w); err != nil {
		return err
	}
	if n := len(c.Elsewhere) - shownElsewhere; n > 0 {
		fmt.Fprintf(w, "and %d more\n", n)
	}
	return nil
}

func (c *Candidates) writeItems(w io.Writer, u Unit) error {
	if len(c.Items) == 0 {
		_, err := fmt.Fprintln(w, "\nNo open exception would account for missing stone of this pile.")
		return err
	}
	fmt.Fprintln(w, "\nAs items, the strongest first:")
	t := NewTable(">", "exception", "rule", "strength", ">would account for", "seen")
	for _, i := range c.Items {
		t.Row(fmt.Sprint(i.Rank), i.ID, i.Rule, i.Strength, u.Format(i.Shrinkage.Mass()), i.Seen)
	}
	t.Total = true
	t.Row("", "", "all of them", "", u.Format(c.Sum.Mass()), "")
	_, err := t.WriteTo(w)
	if c.Gain > 0 {
		fmt.Fprintf(w, "\n%s would make %s more missing, not less.\n", plural(c.Gain, "open exception", "open exceptions"), u.Format(-c.Other.Mass()))
	}
	return err
}
