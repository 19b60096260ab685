package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/ledger"
)

func newSettle(a *app) *cobra.Command {
	var res book.Resolution
	var how, mass string
	c := &cobra.Command{
		Use:   "settle ID... --how WAY --reason WORDS",
		Short: "Settle exceptions, with words or with an entry",
		Long: `Writes why an exception is as it is, and, where the book has to be set right, the records that do so.
Nothing is edited: what was recorded stays beside what replaces it. Of several exceptions all are settled, or none.
What moves stone waits for a second person: see repose approve.

  explain       words. With --cause CODE an entry too: out of the pile into shrinkage explained by that cause,
                or, where the closed book has taken a survey of the pile since, out of unexplained shrinkage
  waive         words: it is left as it is
  reclass       the stone left pile --to: its loads are recorded anew; with --mass the mass moves pile to pile
  late-load     a truck that the loaders' records lack, out of --pile: from its deck ticket, or by estimate
  split         one record of several trucks becomes --parts records; the total is kept to the gram
  internal-use  the yard's own use out of --pile, by estimate
  void          a load that was entered and did not leave;  --record names which
  reinstate     a load that was voided and did leave
  reopen        what was settled is open again`,
		Example: `  repose exceptions settle 2610-4KX9T2MB --how explain --reason "spoilt sheets of the pad, seen"
  repose exceptions settle 2610-7B2M0QRS --how late-load --pile TEN --reason "loaded while the scale was restarted"
  repose exceptions settle 2610-9C4D1VWX --how split --parts 4 --reason "four trucks stored as one" --dry-run`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usage(errors.New("no exception: want an ID or several, such as 2610-4KX9T2MB"))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			var err error
			if res.How, err = book.ParseHow(how); err != nil {
				return usage(fmt.Errorf("--how %w", err))
			}
			if mass != "" {
				if res.Mass, err = parseMassFlag(mass); err != nil {
					return usage(err)
				}
			}
			if strings.TrimSpace(res.Reason) == "" {
				return usage(errors.New("--reason: want why, in words"))
			}
			for _, id := range args {
				res.Exceptions = append(res.Exceptions, strings.ToUpper(id))
			}
			res.By, res.Now = a.person(), a.now()
			return runSettle(cmd.Context(), a, res)
		},
	}
	f := c.Flags()
	f.StringVar(&how, "how", "", "the `way`: explain, waive, reclass, late-load, split, internal-use, void, reinstate, reopen")
	f.StringVar(&res.Reason, "reason", "", "why, in `words`")
	f.StringVar(&res.Pile, "pile", "", "the pile's `code`; the exception's own where it is left out")
	f.StringVar(&res.To, "to", "", "the `code` of the pile that the stone truly left")
	f.StringVar(&mass, "mass", "", "as weighed, with its unit, such as \"20.5 t\"; the exception's own where it is left out")
	f.IntVar(&res.Parts, "parts", 0, "the `number` of trucks; as many as the deck tickets where it is left out")
	f.StringVar(&res.Cause, "cause", "", "a `code` of your own for what explains the loss, such as spillage")
	f.StringVar(&res.Record, "record", "", "the `ID` of the one record that is meant")
	f.BoolVar(&res.DryRun, "dry-run", false, "say what would be written, and change nothing")
	f.BoolVar(&a.json, "json", false, "print one JSON document instead of text")
	return a.ofYard(c)
}

// parseMassFlag reads a number, a blank and a unit.
func parseMassFlag(s string) (ledger.Mass, error) {
	number, unit, _ := strings.Cut(strings.TrimSpace(s), " ")
	u, err := ledger.ParseMassUnit(strings.TrimSpace(unit))
	if err != nil {
		return 0, fmt.Errorf("--mass %q: want a number, a blank and a unit, such as 20.5 t", s)
	}
	m, err := ledger.ParseMass(number, u)
	if err != nil || m <= 0 {
		return 0, fmt.Errorf("--mass %q: want a mass above zero", s)
	}
	return m, nil
}

func runSettle(ctx context.Context, a *app, res book.Resolution) (err error) {
	store, err := sqlite.Open(ctx, a.path(), sqlite.ReadWrite)
	if err != nil {
		return a.explainMissing(err)
	}
	defer closing(store, &err)
	res.Yard = a.yard
	all, err := book.Resolve(ctx, store, res)
	if err != nil {
		return err
	}
	if a.json {
		lines := []settledLine{}
		for _, done := range all {
			l := settledLine{done.Exception.ID, done.Status.String(), []string{}}
			for _, rec := range done.Wrote {
				l.Wrote = append(l.Wrote, rec.ID())
			}
			lines = append(lines, l)
		}
		return printJSON(a.Out, struct {
			Schema  int           `json:"schema"`
			Settled []settledLine `json:"settled"`
			DryRun  bool          `json:"dry_run"`
		}{report.Schema, lines, res.DryRun})
	}
	for _, done := range all {
		fmt.Fprintf(a.Out, "%s, %s: %s\n", done.Exception.ID, done.Exception.Rule, done.Status)
		for _, rec := range done.Wrote {
			fmt.Fprintf(a.Out, "  %s  %s\n", rec.ID(), fieldsInLine(rec))
		}
	}
	if res.DryRun {
		fmt.Fprintln(a.Out, "Nothing was changed.")
	}
	return nil
}

// settledLine is one exception that was settled, in JSON.
type settledLine struct {
	ID     string   `json:"id"`
	Status string   `json:"status"`
	Wrote  []string `json:"wrote"`
}

// ruleLine is a rule in JSON.
type ruleLine struct {
	Rule        string        `json:"rule"`
	Strength    string        `json:"strength"`
	Meaning     string        `json:"meaning"`
	Benign      string        `json:"harmless_reasons"`
	Settle      string        `json:"settled_by"`
	FalseAlarms float64       `json:"false_alarms_per_clean_month"`
	Settings    []settingLine `json:"settings"`
}

type settingLine struct {
	Name    string `json:"name"`
	Holds   string `json:"holds"`
	Default string `json:"default"`
	Meaning string `json:"meaning"`
}

func newRules(a *app) *cobra.Command {
	c := &cobra.Command{
		Use:   "rules",
		Short: "What each rule of the register looks for, how often it is wrong, and what a yard may set",
		Long: `Lists the rules. A setting is changed by a row of the policy table with its name, such as "rule near twin
minutes"; a rule is switched off by a row with "rule" and its name, and the value off.`,
		Example: `  repose exceptions rules`,
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			lines := []ruleLine{}
			for _, i := range book.Rules() {
				l := ruleLine{i.Name, i.Strength.String(), i.Meaning, i.Benign, i.Settle, i.FalseAlarms, []settingLine{}}
				for _, s := range i.Settings {
					l.Settings = append(l.Settings, settingLine{string(s.Name), s.Holds.String(), s.Default, s.Meaning})
				}
				lines = append(lines, l)
			}
			if a.json {
				return printJSON(a.Out, struct {
					Schema int        `json:"schema"`
					Rules  []ruleLine `json:"rules"`
				}{report.Schema, lines})
			}
			for _, l := range lines {
				a.printRule(l)
			}
			return nil
		},
	}
	c.Flags().BoolVar(&a.json, "json", false, "print one JSON document instead of text")
	return c
}

func (a *app) printRule(l ruleLine) {
	rate := "never wrong about what the records say"
	if l.FalseAlarms > 0 {
		rate = fmt.Sprintf("at most %g false in a clean month of 1,000 loads, in the mean", l.FalseAlarms)
	}
	fmt.Fprintf(a.Out, "%s (%s; %s)\n  %s\n  Harmless reasons: %s\n  Settled by: %s\n", l.Rule, l.Strength, rate, l.Meaning, l.Benign, l.Settle)
	for _, s := range l.Settings {
		fmt.Fprintf(a.Out, "  %s: %s; %s if you set nothing. %s\n", s.Name, s.Holds, s.Default, s.Meaning)
	}
	fmt.Fprintln(a.Out)
}
