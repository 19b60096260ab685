package report

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"repose/ledger"
)

// Exceptions is the register of what the records of a yard show wrong.
type Exceptions struct {
	Schema     int             `json:"schema"`
	Yard       string          `json:"yard"`
	Periods    []string        `json:"periods"`
	Exceptions []ExceptionLine `json:"exceptions"`
	zone       *time.Location
}

// NewExceptions returns a register without lines.
func NewExceptions(yard string, periods []ledger.Period, zone *time.Location) *Exceptions {
	x := &Exceptions{Schema: Schema, Yard: yard, Periods: []string{}, Exceptions: []ExceptionLine{}, zone: zone}
	for _, p := range periods {
		x.Periods = append(x.Periods, p.String())
	}
	return x
}

// ExceptionLine is one exception. Masses are as weighed; what it explains is in solids.
type ExceptionLine struct {
	ID       string    `json:"id"`
	Rule     string    `json:"rule"`
	Strength string    `json:"strength"`
	Pile     string    `json:"pile"`
	Mass     Tonnes    `json:"mass_t"`
	Low      *Tonnes   `json:"low_t,omitempty"` // of an estimate, with High its 95 % interval
	High     *Tonnes   `json:"high_t,omitempty"`
	Time     time.Time `json:"time"`
	Records  []string  `json:"records"`
	Status   string    `json:"status"`
	Explains []Explain `json:"explains"`
	Unplaced *Tonnes   `json:"unplaced_t,omitempty"` // as weighed: would explain missing stone of a pile that is not told
	Seen     string    `json:"seen"`

	Instrument string `json:"instrument,omitempty"`
	Series     string `json:"series,omitempty"`
	Product    string `json:"product,omitempty"`
	Customer   string `json:"customer,omitempty"`
	Truck      string `json:"truck,omitempty"`

	How     string     `json:"how,omitempty"`
	Reason  string     `json:"reason,omitempty"`
	By      string     `json:"by,omitempty"`
	Decided *time.Time `json:"decided,omitempty"`
	Wrote   []string   `json:"wrote,omitempty"` // IDs of the records that settled it
	Gone    bool       `json:"no_longer_shown"` // what settled it has set the records right
}

// Explain is how much of a pile's shrinkage an exception would account for: positive where stone is missing.
type Explain struct {
	Pile      string `json:"pile"`
	Shrinkage Tonnes `json:"shrinkage_t"`
}

// Open reports whether any exception is open.
func (x *Exceptions) Open() bool {
	return slices.ContainsFunc(x.Exceptions, func(l ExceptionLine) bool { return l.Status == ledger.ExceptionOpen.String() })
}

// ExceptionFilter picks lines. Empty fields pick all.
type ExceptionFilter struct{ Status, Rule, Strength, Pile, Instrument, Product, Truck, Customer string }

// Keep leaves the lines that the filter picks.
func (x *Exceptions) Keep(f ExceptionFilter) {
	wanted := func(want, got string) bool { return want == "" || strings.EqualFold(want, got) }
	x.Exceptions = slices.DeleteFunc(x.Exceptions, func(l ExceptionLine) bool {
		about := wanted(f.Pile, l.Pile) || slices.ContainsFunc(l.Explains, func(e Explain) bool { return wanted(f.Pile, e.Pile) })
		return !(about && wanted(f.Status, l.Status) && wanted(f.Rule, l.Rule) && wanted(f.Strength, l.Strength) &&
			wanted(f.Instrument, l.Instrument) && wanted(f.Product, l.Product) && wanted(f.Truck, l.Truck) && wanted(f.Customer, l.Customer))
	})
}

// WriteText writes the register for the screen in a unit of mass.
func (x *Exceptions) WriteText(w io.Writer, u Unit) error {
	fmt.Fprintf(w, "Exceptions, yard %s, %s; masses as weighed in %s\n\n", x.Yard, spanOf(x.Periods), u.Mass)
	if len(x.Exceptions) == 0 {
		_, err := fmt.Fprintln(w, "None.")
		return err
	}
	for _, l := range x.Exceptions {
		if _, err := fmt.Fprintf(w, "%s  %s  %s%s%s  [%s, %s]\n    %s\n", l.ID, l.Time.In(x.zone).Format("2006-01-02 15:04"), l.Rule,
			after(", pile ", l.Pile), after(", ", l.amount(u)), l.Status, l.Strength, l.Seen); err != nil {
			return err
		}
		if l.Reason != "" {
			fmt.Fprintf(w, "    %s by %s: %s\n", l.How, l.By, l.Reason)
		}
	}
	fmt.Fprintln(w)
	return x.writeCounts(w, u)
}

func after(before, s string) string {
	if s == "" {
		return ""
	}
	return before + s
}

// amount is the mass of a line with its interval.
func (l *ExceptionLine) amount(u Unit) string {
	switch {
	case l.Mass == 0:
		return ""
	case l.Low == nil:
		return u.Format(l.Mass.Mass())
	}
	return fmt.Sprintf("about %s (%s to %s)", u.Format(l.Mass.Mass()), u.Format(l.Low.Mass()), u.Format(l.High.Mass()))
}

// spanOf writes a run of periods.
func spanOf(periods []string) string {
	switch n := len(periods); n {
	case 0:
		return "no month"
	case 1:
		return periods[0]
	default:
		return periods[0] + " to " + periods[n-1]
	}
}

// writeCounts sums up by rule.
func (x *Exceptions) writeCounts(w io.Writer, u Unit) error {
	t := NewTable("rule", "strength", ">open", ">explained", ">settled", ">waived", ">mass of the open")
	for _, g := range x.GroupBy("rule") {
		t.Row(g.Name, g.Strength, fmt.Sprint(g.Open), fmt.Sprint(g.Explained), fmt.Sprint(g.Settled), fmt.Sprint(g.Waived), u.Format(g.Mass.Mass()))
	}
	_, err := t.WriteTo(w)
	return err
}

// ExceptionGroup counts the exceptions of one name.
type ExceptionGroup struct {
	Name      string `json:"name"`
	Strength  string `json:"strength,omitempty"` // where all are of one
	Open      int    `json:"open"`
	Explained int    `json:"explained"`
	Settled   int    `json:"settled"`
	Waived    int    `json:"waived"`
	Mass      Tonnes `json:"open_mass_t"`
}

// GroupColumns are what exceptions can be grouped by. People are not among them.
var GroupColumns = []string{"rule", "pile", "instrument", "series", "product", "hour", "truck", "customer"}

// GroupBy counts the exceptions by one of GroupColumns, in order of name.
func (x *Exceptions) GroupBy(column string) []ExceptionGroup {
	groups := map[string]*ExceptionGroup{}
	for _, l := range x.Exceptions {
		name := x.column(l, column)
		g, ok := groups[name]
		if !ok {
			g = &ExceptionGroup{Name: name, Strength: l.Strength}
			groups[name] = g
		}
		g.add(l)
	}
	out := []ExceptionGroup{}
	for _, g := range groups {
		out = append(out, *g)
	}
	slices.SortFunc(out, func(a, b ExceptionGroup) int { return cmp.Compare(a.Name, b.Name) })
	return out
}

func (g *ExceptionGroup) add(l ExceptionLine) {
	if g.Strength != l.Strength {
		g.Strength = ""
	}
	switch l.Status {
	case ledger.ExceptionExplained.String():
		g.Explained++
	case ledger.ExceptionSettled.String():
		g.Settled++
	case ledger.ExceptionWaived.String():
		g.Waived++
	default:
		g.Open++
		g.Mass += l.Mass
	}
}

func (x *Exceptions) column(l ExceptionLine, name string) string {
	value := map[string]string{"rule": l.Rule, "pile": l.Pile, "instrument": l.Instrument, "series": l.Series, "product": l.Product,
		"hour": l.Time.In(x.zone).Format("15:00"), "truck": l.Truck, "customer": l.Customer}[name]
	if value == "" {
		return "-"
	}
	return value
}

// WriteGroups writes counts by a column.
func (x *Exceptions) WriteGroups(w io.Writer, column string, u Unit) error {
	fmt.Fprintf(w, "Exceptions by %s, yard %s, %s; masses as weighed in %s\n\n", column, x.Yard, spanOf(x.Periods), u.Mass)
	t := NewTable(column, ">open", ">explained", ">settled", ">waived", ">mass of the open")
	for _, g := range x.GroupBy(column) {
		t.Row(g.Name, fmt.Sprint(g.Open), fmt.Sprint(g.Explained), fmt.Sprint(g.Settled), fmt.Sprint(g.Waived), u.Format(g.Mass.Mass()))
	}
	_, err := t.WriteTo(w)
	return err
}

// WriteDetail writes every line in full.
func (x *Exceptions) WriteDetail(w io.Writer, u Unit) {
	for _, l := range x.Exceptions {
		fmt.Fprintf(w, "%s  %s  [%s, %s]\n%s\n", l.ID, l.Rule, l.Status, l.Strength, l.Seen)
		line := func(name, value string) {
			if value != "" {
				fmt.Fprintf(w, "  %-14s %s\n", name, value)
			}
		}
		line("when", l.Time.In(x.zone).Format("2006-01-02 15:04:05"))
		line("pile", l.Pile)
		if amount := l.amount(u); amount != "" {
			line("mass", fmt.Sprintf("%s %s as weighed", amount, u.Mass))
		}
		line("instrument", l.Instrument)
		line("series", l.Series)
		line("product", l.Product)
		line("truck", l.Truck)
		line("customer", l.Customer)
		for _, e := range l.Explains {
			line("explains", fmt.Sprintf("%s of the shrinkage of pile %s, solids", u.Format(e.Shrinkage.Mass()), e.Pile))
		}
		if l.Gone {
			line("now", "the records do not show it any more")
		}
		line("settled", strings.TrimSpace(l.How+after(" by ", l.By)))
		line("reason", l.Reason)
		for _, id := range l.Wrote {
			line("wrote", id)
		}
	}
}
