package workbook

import (
	"cmp"
	"fmt"

	"repose/internal/report"
	"repose/ledger"
)

// paperSheet is a sheet of the further papers, with what declares its content.
type paperSheet struct {
	sheet   *sheet
	declare func(*sheet)
}

// paperSheets begins the sheets of the further papers, where anybody asked for them.
func (d *closeBook) paperSheets() []paperSheet {
	p := d.close.Papers
	if p == nil {
		return nil
	}
	b := d.book
	return []paperSheet{
		{b.sheet("Rolls", "From each survey to the end of the month"), func(s *sheet) { d.declareRolls(s, cmp.Or(p.Rolls, &report.Rolls{}).Lines) }},
		{b.sheet("Sensitivity", "What a step of each measured quantity does to the closing stock"), func(s *sheet) { d.declareSensitivity(s, cmp.Or(p.Sensitivity, &report.Sensitivity{}).Piles) }},
		{b.sheet("Cut-off", "Cut-off at the end of the month and at each survey"), func(s *sheet) { d.declareCutOff(s, cmp.Or(p.CutOff, &report.CutOff{}).Cuts) }},
		{b.sheet("Instruments", "Instruments"), func(s *sheet) { d.declareInstruments(s, p.Instruments) }},
		{b.sheet("Adjustments", "What people did to the book, and who approved it"), func(s *sheet) { d.declareActs(s, p.Acts) }},
		{b.sheet("Journal screen", "Entries that people made, looked through by rules"), func(s *sheet) { d.declareScreen(s, cmp.Or(p.Screen, &report.Screen{})) }},
	}
}

// logSheet begins the sheet of the extract of the log, where anybody asked for it.
func (d *closeBook) logSheet() []paperSheet {
	if d.close.Papers == nil {
		return nil
	}
	return []paperSheet{{d.book.sheet("Log extract", "What people wrote in the log"), func(s *sheet) { d.declareLog(s, d.close.Papers.Log) }}}
}

// paperRows are the rows of the cover that say what of the papers calls for attention.
func (d *closeBook) paperRows() [][]value {
	if d.close.Papers == nil {
		return nil
	}
	counted := func(what string, t *table, named, checked string, bad, all int) []value {
		n := t.column(named).call("COUNTA", ",")
		return []value{text(what), computed(notOK(t, named, checked)+`&" of "&`+n, text(fmt.Sprintf("%d of %d", bad, all))), link(t.sheet.name, t.cell(checked, 0))}
	}
	cuts := 0
	for _, c := range cmp.Or(d.close.Papers.CutOff, &report.CutOff{}).Cuts {
		cuts += len(cutLines(&c))
	}
	return [][]value{
		counted("Acts without a second person", d.acts, "record", "two", d.badActs, len(d.close.Papers.Acts)),
		counted("Weighings in another month", d.weighings, "record", "agrees", d.badCuts, cuts),
	}
}

// papersMass is the largest sum of masses that the sheets of the papers show, or more.
func papersMass(p *report.Papers) (sum ledger.Mass) {
	if p == nil {
		return 0
	}
	for _, a := range p.Acts {
		sum += a.Solids.Mass().Abs()
	}
	rolled, cut, flagged, sensitive := ledger.Mass(0), ledger.Mass(0), ledger.Mass(0), ledger.Mass(0)
	for _, l := range cmp.Or(p.Rolls, &report.Rolls{}).Lines {
		rolled += max(l.Found.Mass().Abs(), l.AtEnd.Mass().Abs(), l.Book.Mass().Abs())
	}
	for _, c := range cmp.Or(p.CutOff, &report.CutOff{}).Cuts {
		for _, m := range cutLines(&c) {
			cut += m.Solids.Mass().Abs()
		}
	}
	for _, f := range cmp.Or(p.Screen, &report.Screen{}).Flags {
		flagged += f.Mass.Mass().Abs()
	}
	for _, s := range cmp.Or(p.Sensitivity, &report.Sensitivity{}).Piles {
		sensitive += s.Adjusted.Mass().Abs() * ledger.Mass(max(len(s.Lines), 1)) // each line of a pile states its stock
	}
	return max(sum, rolled, cut, flagged, sensitive)
}
