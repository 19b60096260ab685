package report

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"repose/ledger"
)

// Causes is what the last twelve months of a yard show together: whether anything is more than
// measurement error, and what could explain it. It names records, piles and instruments, never people.
type Causes struct {
	Schema    int     `json:"schema"`
	Yard      string  `json:"yard"`
	Through   string  `json:"through"`
	Balances  int     `json:"balances"` // pile by pile from survey to survey, in the months looked at
	Alarm     bool    `json:"alarm"`
	Since     string  `json:"alarm_since,omitempty"`
	Statistic *Ratio  `json:"statistic"` // of what comes nearest to its threshold, in standard uncertainties
	Threshold *Ratio  `json:"threshold"` // passed by chance in 5 of 100 yards without a fault
	Causes    []Cause `json:"causes"`

	Cumulative []CumulativeLine `json:"cumulative"`
	History    []HistoryLine    `json:"history"` // every balance of the months looked at, pile by pile

	Loaders []LoaderLine `json:"loaders"` // held against deck scales

	// Kappa is how many times as much as the stated uncertainties the history before these months
	// scattered; nil where there is too little history to say.
	Kappa     *Ratio        `json:"kappa"`
	KappaFrom int           `json:"kappa_from_balances"`
	Assumed   []AssumedLine `json:"assumed"`
}

// Cause is one explanation.
type Cause struct {
	Rank       int         `json:"rank"`
	Class      string      `json:"class"`
	Pile       string      `json:"pile,omitempty"`
	OtherPile  string      `json:"other_pile,omitempty"`
	Instrument string      `json:"instrument,omitempty"`
	From       string      `json:"from_period"`
	Lasting    bool        `json:"lasting"`
	Estimate   Tonnes      `json:"estimate_t"`
	U          Tonnes      `json:"u_t"`
	Low        Tonnes      `json:"low_t"`
	High       Tonnes      `json:"high_t"`
	Share      Ratio       `json:"share"`
	Truckloads *Ratio      `json:"truckloads,omitempty"`
	Words      string      `json:"words"`
	Tell       string      `json:"measure_next"` // the one measurement that would tell this from the rest
	Also       []AlsoCause `json:"also"`

	// Exceptions are the open ones of the register that would account for stone missing from the pile, of a loss or a
	// swap that an alarm is raised for.
	Exceptions []Item `json:"exceptions,omitempty"`
}

// AlsoCause is an explanation that the balances cannot tell from another.
type AlsoCause struct {
	Class      string `json:"class"`
	Pile       string `json:"pile,omitempty"`
	OtherPile  string `json:"other_pile,omitempty"`
	Instrument string `json:"instrument,omitempty"`
	Share      Ratio  `json:"share"`
}

// CumulativeLine is the sum of a pile's residuals.
type CumulativeLine struct {
	Pile     string `json:"pile"`
	Balances int    `json:"balances"`
	Residual Tonnes `json:"residual_t"`
	Sigma    Tonnes `json:"sigma_t"`
	Z        Ratio  `json:"z"`
}

// HistoryLine is one balance of a pile, and the sum of its balances up to that one.
type HistoryLine struct {
	Pile            string `json:"pile"`
	Period          string `json:"period"` // in which the survey at its end falls
	Survey          string `json:"survey"`
	Residual        Tonnes `json:"residual_t"`
	Sigma           Tonnes `json:"sigma_t"`
	Z               Ratio  `json:"z"`
	Cumulative      Tonnes `json:"cumulative_t"`
	CumulativeSigma Tonnes `json:"cumulative_sigma_t"`
}

// LoaderLine is a loader held against a deck scale by trucks that both weighed. Bias is loader over deck,
// less one: positive means that the loader reads high.
type LoaderLine struct {
	Loader    string `json:"loader"`
	Since     *Day   `json:"calibrated_from,omitempty"` // in the yard's clock
	Deck      string `json:"deck"`
	Trucks    int    `json:"trucks"`
	LeftOut   int    `json:"left_out"` // their weighings were a tenth or more apart
	BiasPct   Ratio  `json:"bias_pct"`
	UPct      Ratio  `json:"u_pct"`      // of the comparison
	DeckUPct  Ratio  `json:"deck_u_pct"` // of the deck scale itself
	DriftPct  *Ratio `json:"drift_pct_per_month"`
	DriftUPct *Ratio `json:"drift_u_pct_per_month"`
}

// Day is a day of the yard's clock.
type Day time.Time

// String returns YYYY-MM-DD.
func (d Day) String() string { return time.Time(d).Format("2006-01-02") }

// MarshalText returns YYYY-MM-DD.
func (d Day) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// AssumedLine is an uncertainty that no record states.
type AssumedLine struct {
	What  string `json:"what"`
	Value string `json:"value"`
	Uses  int    `json:"uses"`
}

// Mass turns a figure of the statistics, in t, into one that a report shows: to the kilogram.
func Mass(t float64) Tonnes { return *fromFloat(t) }

// shownCauses is how many explanations are printed.
const shownCauses = 3

// worthNaming is the share of the belief below which an explanation after the first is not printed.
const worthNaming = 0.01

// Describe puts an explanation into words for a yard manager, and names the measurement that would tell
// it from the others.
func (c *Cause) Describe(unit ledger.MassUnit) {
	size := func() string { return Unit{unit, 0}.Format(c.Estimate.Mass().Abs()) + " " + unit.String() }
	since := "in " + c.From
	if c.Lasting {
		since = "from " + c.From + " on"
	}
	direction := "high"
	if c.Estimate < 0 {
		direction = "low"
	}
	switch c.Class {
	case "loss":
		c.Words = fmt.Sprintf("about %s left pile %s %s without a record, or less came in than was recorded", size(), c.Pile, since)
		c.Tell = fmt.Sprintf("measure the bulk density of pile %s again and survey it again; then look through its loads for gaps", c.Pile)
	case "swap":
		c.Words = fmt.Sprintf("about %s that the records have in pile %s lie in pile %s (%s)", size(), c.Pile, c.OtherPile, since)
		c.Tell = fmt.Sprintf("look for a transfer between %s and %s that nobody recorded, or loads booked to the wrong one of them", c.Pile, c.OtherPile)
	case "loader":
		c.Words = fmt.Sprintf("the scale of %s reads %s, about %s in all, %s", c.Instrument, direction, size(), since)
		c.Tell = fmt.Sprintf("weigh ten trucks by %s and over a deck scale in date", c.Instrument)
	case "belt":
		c.Words = fmt.Sprintf("belt %s reads %s, about %s in all, %s", c.Instrument, direction, size(), since)
		c.Tell = fmt.Sprintf("run a material test of belt %s against a deck scale in date", c.Instrument)
	case "density":
		c.Words = fmt.Sprintf("the bulk density of pile %s is taken too %s, worth about %s, %s", c.Pile, direction, size(), since)
		c.Tell = fmt.Sprintf("take new density tests of pile %s, over its depth", c.Pile)
	case "survey":
		c.Words = fmt.Sprintf("one survey of pile %s, %s, is too %s by about %s", c.Pile, since, direction, size())
		c.Tell = fmt.Sprintf("survey pile %s once more: what one survey got wrong, the next takes back", c.Pile)
	}
}

// WriteText writes the causes for the screen.
func (c *Causes) WriteText(w io.Writer, u Unit) error {
	fmt.Fprintf(w, "What could explain the differences, yard %s, twelve months through %s\n\n", c.Yard, c.Through)
	switch {
	case c.Statistic == nil:
		_, err := fmt.Fprintln(w, "There is no balance from one survey to the next yet, so there is nothing to explain.")
		return err
	case c.Alarm:
		fmt.Fprintf(w, "More than measurement error (%.2f, alarm above %.2f; first raised in %s).\n", *c.Statistic, *c.Threshold, c.Since)
	default:
		fmt.Fprintf(w, "Nothing beyond measurement error (%.2f, alarm above %.2f). What follows is only what comes nearest.\n", *c.Statistic, *c.Threshold)
	}
	c.writeHistory(w)
	fmt.Fprintln(w, "\nLikeliest first:")
	for i, x := range c.Causes[:min(shownCauses, len(c.Causes))] {
		if i > 0 && x.Share < worthNaming {
			break
		}
		c.writeCause(w, u, x)
	}
	c.writeLoaders(w)
	fmt.Fprintln(w, "\nAll months together, book less survey without what earlier surveys corrected:")
	t := NewTable("pile", ">surveys", ">missing", ">+/- (95 %)", ">in uncertainties")
	for _, l := range c.Cumulative {
		t.Row(l.Pile, fmt.Sprint(l.Balances), u.Format(l.Residual.Mass()), u.Format(2*l.Sigma.Mass()), fmt.Sprintf("%.2f", l.Z))
	}
	_, err := t.WriteTo(w)
	return err
}

// writeLoaders says how loaders compare with deck scales.
func (c *Causes) writeLoaders(w io.Writer) {
	if len(c.Loaders) > 0 {
		fmt.Fprintln(w, "\nLoaders against deck scales, loader / deck - 1 by the totals of trucks that both weighed:")
	}
	for _, l := range c.Loaders {
		since := ""
		if l.Since != nil {
			since = " (calibrated " + l.Since.String() + ")"
		}
		fmt.Fprintf(w, "  %s%s against %s: %+.2f %% +/- %.2f (95 %%), %d trucks; the deck itself +/- %.2f %%", l.Loader, since, l.Deck,
			float64(l.BiasPct), 2*float64(l.UPct), l.Trucks, 2*float64(l.DeckUPct))
		if l.DriftPct != nil {
			fmt.Fprintf(w, "; drift %+.2f %% a month +/- %.2f", float64(*l.DriftPct), 2*float64(*l.DriftUPct))
		}
		fmt.Fprintln(w)
	}
}

func (c *Causes) writeHistory(w io.Writer) {
	if c.Kappa != nil {
		fmt.Fprintf(w, "Before these months the differences scattered %.2f times as much as the stated uncertainties say (%d balances); this is taken into account.\n", *c.Kappa, c.KappaFrom)
	} else {
		fmt.Fprintf(w, "There are %d balances of history before these months; twelve are needed to judge whether the stated uncertainties fit, so the alarm rests on them as they stand.\n", c.KappaFrom)
	}
	if len(c.Assumed) > 0 {
		var parts []string
		for _, a := range c.Assumed {
			parts = append(parts, a.What+" "+a.Value)
		}
		fmt.Fprintf(w, "Assumed, because no record says: %s.\n", strings.Join(parts, "; "))
	}
}

func (c *Causes) writeCause(w io.Writer, u Unit, x Cause) {
	x.Describe(u.Mass)
	fmt.Fprintf(w, "%d. %s", x.Rank, x.Words)
	if x.Truckloads != nil {
		fmt.Fprintf(w, ", roughly %.0f truckloads", math.Abs(float64(*x.Truckloads)))
	}
	low, high := x.Low.Mass(), x.High.Mass()
	if x.Estimate < 0 {
		low, high = -high, -low // the words say in which direction
	}
	fmt.Fprintf(w, ".\n   Between %s and %s (95 %%); %.0f %% of the belief.\n", u.Format(low), u.Format(high), 100*x.Share)
	for _, a := range x.Also {
		fmt.Fprintf(w, "   Looks the same to these data: %s of %s.\n", a.Class, a.about())
	}
	fmt.Fprintf(w, "   To tell: %s.\n", x.Tell)
	for i, e := range x.Exceptions {
		if i == shownExceptions {
			fmt.Fprintf(w, "   and %d more: repose exceptions --explains %s\n", len(x.Exceptions)-i, x.Pile)
			break
		}
		fmt.Fprintf(w, "   Records that could be it: %s, %s, %s.\n", e.ID, e.Rule, u.Format(e.Shrinkage.Mass()))
	}
}

// shownExceptions is how many exceptions are printed beside a cause.
const shownExceptions = 5

func (a AlsoCause) about() string {
	switch {
	case a.Instrument != "":
		return a.Instrument
	case a.OtherPile != "":
		return a.Pile + " and " + a.OtherPile
	}
	return "pile " + a.Pile
}
