package workbook

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
)

// form is a header row with empty columns below it that know what may be typed into them.
type form struct{ columns []TemplateColumn }

// form declares the columns of a bare sheet.
func (s *sheet) form(columns []TemplateColumn) error {
	if len(columns) == 0 {
		return errors.New("no columns")
	}
	seen := make(map[string]bool)
	for _, c := range columns {
		head := strings.ToLower(c.Head)
		if head == "" || head != strings.ToLower(cleanLine(c.Head)) || seen[head] {
			return fmt.Errorf("head %q: want heads of one line, each once", c.Head)
		}
		seen[head] = true
	}
	s.add(&form{columns})
	return nil
}

func (f *form) extent(int) (row, cols int) { return 1, len(f.columns) }

// begin sets what must be settled before the first row: formats of whole columns, widths, frozen heads.
func (f *form) begin(w *sheetWriter) error {
	for i, c := range slices.Backward(f.columns) { // as in open
		id, err := w.styles.id(styleKey{role: roleForm, kind: c.Holds.kind()})
		if err != nil {
			return err
		}
		if err := w.stream.SetColStyle(i+1, i+1, id); err != nil {
			return err
		}
		width := float64(max(utf8.RuneCountInString(c.Head), len(c.Example), 10) + 3)
		if err := w.stream.SetColWidth(i+1, i+1, min(width, 40)); err != nil {
			return err
		}
	}
	return w.stream.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft",
		Selection: []excelize.Selection{{SQRef: "A2", ActiveCell: "A2", Pane: "bottomLeft"}}})
}

// emit writes the header, and offers below it the choices and a prompt with the column's note.
func (f *form) emit(_ context.Context, w *sheetWriter, _ int) error {
	for i, c := range f.columns {
		role := roleOptional
		if c.Required {
			role = roleHeader
		}
		id, err := w.styles.id(styleKey{role: role, kind: kindText})
		if err != nil {
			return err
		}
		if err := w.put(i, text(c.Head), id); err != nil {
			return err
		}
		if err := f.rule(w, i); err != nil {
			return fmt.Errorf("column %q: %w", c.Head, err)
		}
	}
	return w.flushRow(1, len(f.columns), 0)
}

// A prompt is short: 32 characters of title and 255 of text, by the file format.
const (
	maxPromptTitle = 32
	maxPrompt      = 255
)

func (f *form) rule(w *sheetWriter, i int) error {
	c := f.columns[i]
	rule := excelize.NewDataValidation(true)
	rule.SetSqref(areaRef{col: i + 1, first: 2, last: maxSheetRows}.plain())
	need := "May be empty: "
	if c.Required {
		need = "Needed: "
	}
	rule.SetInput(clip(c.Head, maxPromptTitle), clip(need+cleanLine(c.Note), maxPrompt))
	if len(c.Choices) > 0 {
		if strings.Contains(strings.Join(c.Choices, ""), ",") {
			return errors.New("want choices without commas")
		}
		if err := rule.SetDropList(c.Choices); err != nil {
			return err
		}
		rule.SetError(excelize.DataValidationErrorStyleStop, "Not in the list", "Choose one of the listed words.")
	}
	return w.file.AddDataValidation(w.sheet, rule)
}
