package workbook

import (
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"
)

// markWords sets formats that go by the word in a cell: a check that is well or broken, and the column's
// words of alarm.
func (w *sheetWriter) markWords(c column, cells string) error {
	alarms, calms := c.alarm, []string(nil)
	if c.kind == kindCheck || c.kind == kindAny {
		alarms, calms = append([]string{wordBroken}, alarms...), []string{wordOK}
	}
	if err := w.mark(cells, alarms, overlayAlarm); err != nil {
		return err
	}
	return w.mark(cells, calms, overlayCalm)
}

func (w *sheetWriter) mark(cells string, words []string, look overlay) error {
	if len(words) == 0 {
		return nil
	}
	format, err := w.styles.over(look)
	if err != nil {
		return err
	}
	rules := make([]excelize.ConditionalFormatOptions, len(words))
	for i, word := range words {
		rules[i] = excelize.ConditionalFormatOptions{Type: "cell", Criteria: "==", Value: quoted(word), Format: &format}
	}
	return w.file.SetConditionalFormat(w.sheet, cells, rules)
}

// maxChoices is the longest list of choices within a sheet, commas included.
const maxChoices = 255

// offerChoices lets a person choose from a list, and refuses what is not in it.
func (w *sheetWriter) offerChoices(c column, cells string) error {
	if len(c.choices) == 0 && len(c.choicesFrom.areas) == 0 {
		return nil
	}
	rule := excelize.NewDataValidation(true)
	rule.SetSqref(cells)
	rule.SetError(excelize.DataValidationErrorStyleStop, "Not in the list", "Choose one of the listed entries.")
	if len(c.choices) == 0 {
		if len(c.choicesFrom.areas) > 1 {
			return fmt.Errorf("column %q: choices from a table of several sheets", c.key)
		}
		rule.SetSqrefDropList(c.choicesFrom.areas[0].String())
		return w.file.AddDataValidation(w.sheet, rule)
	}
	list := strings.Join(c.choices, ",")
	if units(list) > maxChoices || strings.Count(list, ",") != len(c.choices)-1 {
		return fmt.Errorf("column %q: want choices without commas, %d characters in all", c.key, maxChoices)
	}
	if err := rule.SetDropList(c.choices); err != nil {
		return err
	}
	return w.file.AddDataValidation(w.sheet, rule)
}
