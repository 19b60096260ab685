package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync/atomic"

	"github.com/spf13/cobra"

	"repose/internal/report"
	"repose/internal/simyard"
	numbers "repose/internal/stat/simyard"
	"repose/internal/term"
)

// simulateOptions are the flags of simulate.
type simulateOptions struct {
	seed    uint64
	months  int
	start   string
	scale   float64
	load    int
	faults  []string
	files   string
	reps    int
	history int
	heldOut bool
}

// simulatedStart is the first month of a simulated yard: long enough ago that its months can be closed.
const simulatedStart = "2025-01"

func newSimulate(a *app) *cobra.Command {
	var o simulateOptions
	c := &cobra.Command{
		Use:   "simulate (--files DIR | --reps N)",
		Short: "An invented yard with known truth",
		Long: `With --files, writes the tables of an invented yard into a folder, and beside them truth.json: what truly
lay in the piles, what every instrument, test and survey got wrong, and what was made to go wrong. The
tables can be taken in like any yard's.

A fault is written KIND:WHERE:MONTHS:SIZE, months counted from 1:

  loss:B:6:800t                800 t leave pile B in month 6 without a record
  loss:B:5-12:200t             200 t a month in months 5 to 12
  swap:C>B:7:1000t             1000 t loaded from C are recorded from B
  loader:L1:4-:+3%             loader L1 reads 3 % high from month 4 on
  belt:B1:4-:-3%               belt B1 reads 3 % low from month 4 on
  density:E:8-:+6%             the density used for E is 6 % too high from month 8 on
  survey:A:6:+5%               the survey of A in month 6 is 5 % high
  missed-transfer:F>E:9:2200t  2200 t are carried from F to E without a record
  lumped:L1:5:3                one record of L1 in month 5 holds three truckloads
  missing:L1:7:4               four tickets of L1 in month 7 are not in the tables

Faults of single records make the tables fuller: passes, tares, purposes, a totaliser. In month 7:

  repeated-number:L1:7:2       two tickets bear the number of the one before
  out-of-order:L1:7:2          two pairs of tickets run against time
  void-after-exit:L1:7:2       two loads are void though the deck weighed their trucks
  void-reissued:L1:7:2         two loads are void and stand again under the next number
  near-twin:L1:7:2             two loads stand again under the next number
  no-deck-ticket:L1:7:2        two loads never crossed the deck
  no-loader-load:L1:7:2        two deck tickets have no load, and no number is missing
  bucket-pass:L1:7:2           two loads have a bucket counted twice; -2: not counted
  unit-slip:D1:7:30            30 tickets in a row in short tons called t; -30: the reverse
  wrong-pile:C>B:7:2           two loads from C are recorded from B
  wrong-product:C>B:7:2        two loads from C are recorded with the product of B
  wrong-truck:L1:7:2           two loads name a truck that was elsewhere
  split-load:L1:7:2            two trucks stand on two records each
  old-tare:D1:7:1              one truck's tare is never weighed again
  same-tare:D1:7:3             three trucks share one exact tare
  outside-hours:L1:7:2         two loads after closing
  night-pickup:L1:7:2          two loads to customers late in the night
  one-sided:C>D:7:2            two transfers do not say where they went
  below-zero:D:7:1             a load keyed tens of times too large takes the book of D below zero
  belt-idle:B1:7:40t           B1 counts 40 t at night, with nothing on it
  feed-as-new:B2:7:1           B2 runs while stone is fed to the crusher
  totaliser-reset:B2:7:1       the totaliser of B2 is set to zero without a note
  stale-density:E:7:400d       the density of E is 400 days old at the survey, or more
  stale-moisture:A:7:90d       the moisture of A is 90 days old at the month's end, or more
  stale-base:B:7:900d          the survey of B is taken from a base of 900 days before
  survey-while-loading:A:7:2   two loads leave A while it is surveyed
  toe-jump:C:7:+25%            the toe area of C is 25 % too large, its volume right
  wet-for-dry:A:7:1            a moisture of A is entered on the wet basis
  round-weights:L1:7:40        40 tickets in a row in whole t
  outage-pad:L1:7:5            five tickets in a row from a pad, without deck tickets

With --reps, simulates a yard's year so many times for each of several faults and prints how often, how
soon and how rightly each is found, beside what percentage rules would have found. The same seed gives the
same figures, whatever the number of processors. Tool and truth share one model of errors here: real yards
need not keep to it.`,
		Example: `  repose simulate --files sim --seed 7 --fault loss:B:6:800t
  repose intake sim --book sim.book
  repose causes --book sim.book
  repose simulate --reps 500`,
		Args: exactly(0, "none"),
		RunE: func(cmd *cobra.Command, _ []string) error { return runSimulate(cmd.Context(), a, o) },
	}
	d := simyard.Default(1)
	f := c.Flags()
	f.StringVar(&o.files, "files", "", "write the tables of one yard into this `folder`")
	f.IntVar(&o.reps, "reps", 0, "simulate so `many` years for each fault")
	f.Uint64Var(&o.seed, "seed", d.Seed, "`number` from which all chance is drawn")
	f.StringArrayVar(&o.faults, "fault", nil, "something that goes wrong, as above (with --files; may be given more than once)")
	f.IntVar(&o.months, "months", d.Months, "`months` of the yard (with --files)")
	f.StringVar(&o.start, "start", simulatedStart, "first `month` (with --files)")
	f.Float64Var(&o.scale, "scale", d.Scale, "true errors in `units` of the stated ones")
	f.IntVar(&o.load, "load", d.LoadT, "mass of a truckload in `t` (with --files)")
	f.IntVar(&o.history, "history", 0, "clean `months` before the year, from which the scale of the errors is learnt (with --reps)")
	f.BoolVar(&o.heldOut, "held-out", false, "other faults, on which nothing of the method was chosen (with --reps)")
	f.BoolVar(&a.json, "json", false, "print one JSON document instead of text (with --reps)")
	return c
}

func runSimulate(ctx context.Context, a *app, o simulateOptions) error {
	switch {
	case (o.files == "") == (o.reps == 0):
		return usage(errors.New("want either --files with a folder or --reps with a number"))
	case o.reps < 0:
		return usage(fmt.Errorf("--reps %d: want one or more", o.reps))
	case o.files != "":
		return simulateFiles(a, o)
	}
	return simulateReps(ctx, a, o)
}

func simulateFiles(a *app, o simulateOptions) error {
	cfg := simyard.Default(o.seed)
	cfg.Months, cfg.Start, cfg.Scale, cfg.LoadT = o.months, o.start, o.scale, o.load
	for _, text := range o.faults {
		f, err := simyard.ParseFault(text)
		if err != nil {
			return usage(err)
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	yard, err := simyard.Generate(cfg)
	if err != nil {
		return usage(err)
	}
	if err := os.MkdirAll(o.files, 0o755); err != nil {
		return err
	}
	for _, f := range yard.Files {
		err := term.WriteFile(filepath.Join(o.files, f.Name), false, func(w io.Writer) error {
			_, err := w.Write(f.Content)
			return err
		})
		if err != nil {
			return err
		}
	}
	truth := func(w io.Writer) error { return printJSON(w, yard.Truth) }
	if err := term.WriteFile(filepath.Join(o.files, "truth.json"), false, truth); err != nil {
		return err
	}
	_, err = fmt.Fprintf(a.Out, "Wrote %d tables of an invented yard to %s, and its truth beside them.\n", len(yard.Files), o.files)
	return err
}

// simulated is one scenario in JSON.
type simulated struct {
	Scenario string         `json:"scenario"`
	Reps     int            `json:"reps"`
	Fixed    report.Ratio   `json:"fixed_2_pct_rule"`
	Tuned    report.Ratio   `json:"tuned_pct_rule"`
	Single   report.Ratio   `json:"single_balance"`
	Page     report.Ratio   `json:"page"`
	Chi2     report.Ratio   `json:"month_chi2"`
	Alarm    report.Ratio   `json:"alarm"`
	Delay    report.Ratio   `json:"delay_months"`
	First    rankingFigures `json:"causes_at_alarm"`
	End      rankingFigures `json:"causes_at_end"`
}

type rankingFigures struct {
	Top   report.Ratio `json:"first"`
	Three report.Ratio `json:"in_three"`
	Place report.Ratio `json:"right_place"`
}

func simulateReps(ctx context.Context, a *app, o simulateOptions) error {
	trial := numbers.NewTrial(o.reps, o.seed)
	trial.History = o.history
	if o.history > 0 {
		trial.Yard = numbers.Standard(o.history + 12)
	}
	trial.Yard.ErrorScale = o.scale
	scenarios := numbers.Scenarios(o.history)
	if o.heldOut {
		scenarios = numbers.HeldOut(o.history)
	}
	bar := a.Progress("simulating", int64(o.reps*(len(scenarios)+1)), false)
	defer bar.Done()
	var done atomic.Int64
	trial.Done = func() { bar.Set(done.Add(1)) }
	limits, err := trial.Limits()
	if err != nil {
		return err
	}
	var lines []simulated
	for _, s := range scenarios {
		if err := ctx.Err(); err != nil {
			return err
		}
		outcome, err := trial.Run(s, limits)
		if err != nil {
			return err
		}
		lines = append(lines, simulatedLine(outcome))
	}
	bar.Done()
	if a.json {
		return printJSON(a.Out, struct {
			Schema    int          `json:"schema"`
			Seed      uint64       `json:"seed"`
			TunedPct  report.Ratio `json:"tuned_rule_pct_of_book"`
			Scenarios []simulated  `json:"scenarios"`
		}{report.Schema, o.seed, report.Ratio(100 * limits.Tuned), lines})
	}
	return printSimulated(a.Out, limits, lines)
}

func simulatedLine(o numbers.Outcome) simulated {
	ranking := func(r numbers.Ranking) rankingFigures {
		return rankingFigures{report.Ratio(r.Top), report.Ratio(r.Three), report.Ratio(r.Place)}
	}
	return simulated{Scenario: o.Scenario.Name, Reps: o.Reps, Fixed: report.Ratio(o.Fixed), Tuned: report.Ratio(o.Tuned),
		Single: report.Ratio(o.Single), Page: report.Ratio(o.Page), Chi2: report.Ratio(o.Chi2), Alarm: report.Ratio(o.Alarm),
		Delay: report.Ratio(o.Delay), First: ranking(o.First), End: ranking(o.End)}
}

func printSimulated(w io.Writer, l numbers.Limits, lines []simulated) error {
	fmt.Fprintf(w, "Share of simulated years in which each rule spoke up in the fault's first month or later. A chance\nalarm counts. The tuned rule is the percentage of the book, %.2f %%, that is as rarely wrong as the alarm.\n\n", 100*l.Tuned)
	t := report.NewTable("what went wrong", ">2 % rule", ">tuned %", ">one balance", ">Page", ">chi2", ">alarm", ">months late", ">in three", ">right place")
	for _, s := range lines {
		cells := []string{s.Scenario}
		for _, v := range []report.Ratio{s.Fixed, s.Tuned, s.Single, s.Page, s.Chi2, s.Alarm} {
			cells = append(cells, fmt.Sprintf("%.3f", v))
		}
		if s.Delay == 0 && s.End.Three == 0 {
			t.Row(append(cells, "", "", "")...)
			continue
		}
		t.Row(append(cells, fmt.Sprintf("%.2f", s.Delay), fmt.Sprintf("%.3f", s.End.Three), fmt.Sprintf("%.3f", s.End.Place))...)
	}
	_, err := t.WriteTo(w)
	return err
}
