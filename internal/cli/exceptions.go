package cli

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/ledger"
)

// exceptionOptions is what the register's command line says.
type exceptionOptions struct {
	filter   report.ExceptionFilter
	by       string
	explains string
	from     string
}

func newExceptions(a *app) *cobra.Command {
	var o exceptionOptions
	c := &cobra.Command{
		Use:   "exceptions [PERIOD | ID]",
		Short: "What the records themselves show wrong: the register, and settling it",
		Long: `Looks through the records of a month for what they themselves show: numbers that are missing, trucks that
crossed the deck scale and stand in no loader's records, loads that were entered twice, piles below zero,
tests that are too old. Without a period it takes the months that are not closed yet.

Every exception keeps its ID from run to run. Once settled it stays in the register, with its reason, even
where the records do not show it any more. An ID shows one in full, with the records around it.

Certain means that the records contradict themselves; likely, a comparison that chance passes at a stated
rate; pattern, a habit that means no single record. --explains lists what could be missing from a pile.
Records, piles and instruments are named, never people. Nothing here proves that anybody did anything.

Exit code 3 says that an exception is open.`,
		Example: `  repose exceptions 2026-10
  repose exceptions 2026-10 --status open --rule "missing number"
  repose exceptions 2026-10 --by hour
  repose exceptions 2610-4KX9T2MB
  repose exceptions --explains TEN
  repose exceptions settle 2610-4KX9T2MB --how explain --reason "the pad's last three sheets were spoilt"`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runExceptions(cmd.Context(), a, optional(args), o)
		},
	}
	f := c.Flags()
	f.StringVar(&o.filter.Status, "status", "", "only those that are `open`, explained, settled or waived")
	f.StringVar(&o.filter.Rule, "rule", "", "only those of a `rule`")
	f.StringVar(&o.filter.Strength, "strength", "", "only those that are `certain`, likely or pattern")
	f.StringVar(&o.filter.Pile, "pile", "", "only those about a pile's `code`, or that would explain it")
	f.StringVar(&o.filter.Instrument, "instrument", "", "only those of a belt, loader or deck `code`")
	f.StringVar(&o.filter.Product, "product", "", "only those of a `product`")
	f.StringVar(&o.filter.Truck, "truck", "", "only those of a truck's `code` in the records")
	f.StringVar(&o.filter.Customer, "customer", "", "only those of a customer's `code` in the records")
	f.StringVar(&o.by, "by", "", "count them by a `column`: "+strings.Join(report.GroupColumns, ", "))
	f.StringVar(&o.explains, "explains", "", "what could be missing from a `pile`, beside what its balances say")
	f.StringVar(&o.from, "from", "", "the first `month`, where several are wanted")
	c.AddCommand(newSettle(a), newRules(a))
	return a.reading(c)
}

func runExceptions(ctx context.Context, a *app, what string, o exceptionOptions) error {
	if err := o.check(); err != nil {
		return err
	}
	return a.read(ctx, func(store *sqlite.Book, r *book.Reader) error {
		y, err := r.Yard(a.yard)
		if err != nil {
			return err
		}
		if what != "" && !isPeriod(what) {
			return showException(ctx, a, r, y.Code, what)
		}
		periods, err := a.exceptionPeriods(ctx, r, y.Code, what, o.from)
		if err != nil || len(periods) == 0 {
			return errors.Join(err, noPeriods(periods))
		}
		if o.explains != "" {
			return explainPile(ctx, a, r, y.Code, o.explains, periods)
		}
		x, err := r.ExceptionRegister(ctx, y.Code, periods)
		if err != nil {
			return err
		}
		x.Keep(o.filter)
		if err := printExceptions(a, r, x, o.by); err != nil {
			return err
		}
		if x.Open() {
			return errFound
		}
		return nil
	})
}

// check refuses words that no exception could have.
func (o exceptionOptions) check() error {
	if o.by != "" && !slices.Contains(report.GroupColumns, o.by) {
		return usage(fmt.Errorf("--by %q: want one of %s", o.by, strings.Join(report.GroupColumns, ", ")))
	}
	if o.filter.Status != "" {
		if _, err := ledger.ParseExceptionStatus(o.filter.Status); err != nil {
			return usage(err)
		}
	}
	if o.filter.Rule != "" && !slices.ContainsFunc(ruleNames(), func(n string) bool { return strings.EqualFold(n, o.filter.Rule) }) {
		return usage(fmt.Errorf("--rule %q: want one of %s", o.filter.Rule, strings.Join(ruleNames(), ", ")))
	}
	return nil
}

func ruleNames() []string {
	var names []string
	for _, i := range book.Rules() {
		names = append(names, i.Name)
	}
	return names
}

func isPeriod(s string) bool {
	_, err := ledger.ParsePeriod(s)
	return err == nil
}

func noPeriods(periods []ledger.Period) error {
	if len(periods) == 0 {
		return errors.New("the yard has no records yet")
	}
	return nil
}

// exceptionPeriods returns the months that are asked for: one, or from one on, or those that are not closed.
func (a *app) exceptionPeriods(ctx context.Context, r *book.Reader, yard, period, from string) ([]ledger.Period, error) {
	open, err := r.OpenPeriods(ctx, yard, a.now())
	if err != nil || period == "" && from == "" || len(open) == 0 {
		return open, err
	}
	last := open[len(open)-1]
	if period != "" {
		if last, err = parsePeriod(period); err != nil {
			return nil, err
		}
	}
	first := last
	if from != "" {
		if first, err = parsePeriod(from); err != nil {
			return nil, err
		}
	}
	var periods []ledger.Period
	for p := first; !last.Before(p); p = p.Next() {
		periods = append(periods, p)
	}
	if len(periods) == 0 {
		return nil, usage(fmt.Errorf("--from %s: after %s", first, last))
	}
	return periods, nil
}

func printExceptions(a *app, r *book.Reader, x *report.Exceptions, by string) error {
	switch {
	case a.json && by != "":
		return printJSON(a.Out, struct {
			Schema int                     `json:"schema"`
			By     string                  `json:"by"`
			Groups []report.ExceptionGroup `json:"groups"`
		}{report.Schema, by, x.GroupBy(by)})
	case by != "":
		return x.WriteGroups(a.Out, by, a.unit(r))
	}
	return a.print(r, x)
}

func explainPile(ctx context.Context, a *app, r *book.Reader, yard, pile string, periods []ledger.Period) error {
	if !r.Register().Known(ledger.PileID{Yard: yard, Code: pile}) {
		return fmt.Errorf("pile %q is not in the register of yard %s", pile, yard)
	}
	c, err := r.Candidates(ctx, yard, pile, periods)
	if err != nil {
		return err
	}
	err = a.print(r, c)
	if err == nil && len(c.Items)+len(c.Elsewhere) > 0 {
		return errFound
	}
	return err
}

// shownRecord is a record beside an exception.
type shownRecord struct {
	ID     string            `json:"id"`
	At     time.Time         `json:"at"`
	Named  bool              `json:"named"` // by the exception; else it is a neighbour
	Fields map[string]string `json:"fields"`
}

func showException(ctx context.Context, a *app, r *book.Reader, yard, id string) error {
	e, near, err := r.Exception(ctx, yard, strings.ToUpper(id))
	if err != nil {
		return err
	}
	line := book.ExceptionLine(e)
	var records []shownRecord
	for _, n := range near {
		s := shownRecord{n.Record.ID(), n.Record.At, n.Named, map[string]string{}}
		for _, f := range n.Record.Fields() {
			s.Fields[f.Name] = f.Value
		}
		records = append(records, s)
	}
	if a.json {
		err = printJSON(a.Out, struct {
			Schema    int                  `json:"schema"`
			Exception report.ExceptionLine `json:"exception"`
			Records   []shownRecord        `json:"records"`
		}{report.Schema, line, records})
	} else {
		a.printException(r, yard, e, near)
	}
	if err == nil && e.Status == ledger.ExceptionOpen {
		return errFound
	}
	return err
}

func (a *app) printException(r *book.Reader, yard string, e book.Exception, near []book.Neighbour) {
	zone, _ := r.Register().Zone(yard)
	x := report.NewExceptions(yard, nil, zone)
	x.Exceptions = []report.ExceptionLine{book.ExceptionLine(e)}
	x.WriteDetail(a.Out, a.unit(r))
	for _, i := range book.Rules() {
		if i.Name == e.Rule {
			fmt.Fprintf(a.Out, "\nWhat it means: %s\nHarmless reasons first: %s\nWhat settles it: %s\n", i.Meaning, i.Benign, i.Settle)
		}
	}
	for i, n := range near {
		if i == 0 {
			fmt.Fprintln(a.Out, "\nIts records (>) and what the same instrument recorded around them:")
		}
		mark := " "
		if n.Named {
			mark = ">"
		}
		fmt.Fprintf(a.Out, "%s %s  %s  %s\n", mark, n.Record.At.In(zone).Format("2006-01-02 15:04:05"), n.Record.ID(), fieldsInLine(n.Record))
	}
}

// fieldsInLine writes what a record states, without what its ID says already.
func fieldsInLine(rec *ledger.Record) string {
	var parts []string
	for _, f := range rec.Fields() {
		switch f.Name {
		case "time", "loader", "ticket", "deck", "belt", "survey", "start", "end":
		default:
			parts = append(parts, readable(f))
		}
	}
	return strings.Join(parts, ", ")
}

// readable writes a field for the screen: a mass in tonnes, which the record holds in grams.
func readable(f ledger.Field) string {
	name, isGrams := strings.CutSuffix(f.Name, "_g")
	if grams, err := strconv.ParseInt(f.Value, 10, 64); err == nil && isGrams {
		return name + " " + ledger.Mass(grams).String()
	}
	return f.Name + " " + f.Value
}
