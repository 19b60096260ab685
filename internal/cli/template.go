package cli

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"repose/internal/intake"
	"repose/internal/term"
	"repose/internal/workbook"
)

func newTemplate(a *app) *cobra.Command {
	var force bool
	c := &cobra.Command{
		Use:   "template FILE.xlsx",
		Short: "Write an empty intake workbook",
		Long: `Writes an Excel workbook with every table that repose takes in: headers with their units, notes on every
column and drop-downs where a column knows its words. Fill in the sheets that you need and take the
workbook in; empty sheets are no trouble.`,
		Example: `  repose template yard.xlsx
  repose intake yard.xlsx`,
		Args: exactly(1, "the file to write, such as yard.xlsx"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runTemplate(cmd.Context(), a, args[0], force)
		},
	}
	c.Flags().BoolVar(&force, "force", false, "overwrite the file")
	return c
}

func runTemplate(ctx context.Context, a *app, path string, force bool) error {
	if path == "" {
		return usage(errors.New("want a file name"))
	}
	tables := templateTables()
	if err := term.WriteFile(path, force, func(w io.Writer) error { return workbook.WriteTemplate(ctx, w, tables) }); err != nil {
		return overwriteHint(err)
	}
	_, err := fmt.Fprintf(a.Out, "Wrote %s: %d tables. Fill in the sheets that you need; repose intake %s takes them in.\n", path, len(tables), path)
	return err
}

// templateTables puts the catalogue of tables into the workbook's terms.
func templateTables() []workbook.TemplateTable {
	var out []workbook.TemplateTable
	for _, t := range intake.Tables() {
		table := workbook.TemplateTable{Name: t.Name, Note: t.Note}
		for _, c := range t.Columns {
			table.Columns = append(table.Columns, workbook.TemplateColumn{Head: c.Heading(), Required: c.Need != intake.Optional,
				Note: c.Note, Choices: c.Words, Holds: templateFormat(c.Holds)})
		}
		out = append(out, table)
	}
	return out
}

// templateFormat says how a spreadsheet shows what a column holds.
func templateFormat(d intake.Dimension) workbook.TemplateFormat {
	switch d {
	case intake.Count, intake.Number, intake.Mass, intake.BareMass, intake.Volume, intake.Area, intake.Density,
		intake.Moisture, intake.Percent, intake.DryPercent, intake.PercentPoint:
		return workbook.TemplateNumber
	case intake.Time:
		return workbook.TemplateInstant
	case intake.Date, intake.LastDate:
		return workbook.TemplateDate
	}
	return workbook.TemplateText
}
