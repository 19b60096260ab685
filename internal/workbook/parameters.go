package workbook

import (
	"repose/ledger"

	"github.com/shopspring/decimal"
)

// param names a figure or word that formulas refer to instead of holding it. The words of the statuses of
// exceptions follow paramStatus, and those of the movements paramMovement in the order of ledger.Column.
type param int

const (
	paramGrams param = iota
	paramSeconds
	paramMillion
	paramOne
	paramWhole
	paramDigits
	paramPlaces
	paramTolerance
	paramStart
	paramOfBook
	paramJoinAnd
	paramJoinOr
	paramWidth
	paramInside
	paramDetection
	paramInterval
	paramMassRounding
	paramRatioRounding
	paramWordInside
	paramWordOutside
	paramWordRaised
	paramWordQuiet
	paramNoFile
	paramStatus
	paramMovement = paramStatus + param(ledger.ExceptionWaived)

	// Of months that were put into money.
	paramMinor       = paramMovement + param(ledger.Columns)
	paramMoneyPlaces = paramMinor + 1
)

// parameters is the table of them.
type parameters struct{ table *table }

// ref returns the reference to a parameter's cell.
func (p *parameters) ref(id param) string { return p.table.cell("value", int(id)).String() }

// movement returns the reference to the word for the movements of a column.
func (p *parameters) movement(col ledger.Column) string { return p.ref(paramMovement + param(col)) }

// status returns the reference to the word for a status of exceptions.
func (p *parameters) status(s ledger.ExceptionStatus) string {
	return p.ref(paramStatus + param(s-ledger.ExceptionOpen))
}

// exceptionStatuses are the statuses of exceptions, in order.
func exceptionStatuses() []ledger.ExceptionStatus {
	return []ledger.ExceptionStatus{ledger.ExceptionOpen, ledger.ExceptionExplained, ledger.ExceptionSettled, ledger.ExceptionWaived}
}

// movementWord is the word under which the entries of a column stand. A transfer is one entry, and goes
// out of one pile and into another.
func movementWord(col ledger.Column) string {
	if col == ledger.ColumnTransferIn || col == ledger.ColumnTransferOut {
		return "transfer"
	}
	return col.String()
}

// movementName is a word with a column that it stands for.
type movementName struct {
	text   string
	column ledger.Column
}

// movementWords returns the words, each once.
func movementWords() []movementName {
	var words []movementName
	for c := range ledger.Columns {
		if c != ledger.ColumnTransferOut {
			words = append(words, movementName{movementWord(c), c})
		}
	}
	return words
}

// Words in which the joining of a limit's two parts is stated, where only one part is set.
const joinSingle = "one part"

func (d *closeBook) declareParameters(s *sheet) {
	tolerance := decimal.New(d.sumTolerance(), 0).Add(decimal.New(5, -1)).Shift(-6)
	rows := [][]value{
		paramGrams:     {text("Grams in a tonne"), integer(1_000_000), text("differences of masses are shown in grams")},
		paramSeconds:   {text("Seconds in a day"), integer(86_400), text("differences of times are shown in seconds")},
		paramMillion:   {text("Millionths in one"), integer(1_000_000), text("differences of fractions are shown in millionths")},
		paramOne:       {text("One"), integer(1), text("differences of counts are shown as they are")},
		paramWhole:     {text("The whole"), ratio(1), text("dry density = moist density x compaction / (whole + moisture)")},
		paramDigits:    {text("Decimals of a difference"), integer(0), text("differences are rounded to whole steps")},
		paramPlaces:    {text("Decimals of a tonne"), integer(6), text("closing figures are rounded to the gram, which takes out what binary fractions leave behind")},
		paramTolerance: {text("Tolerance of a sum over entries, t"), number(tolerance), text("half a gram, and what the rounding of as many additions can come to")},
		paramStart:     {text("Start of the month"), instant(d.month.Start()), text("times are added up from here")},
		paramOfBook:    {text("Limit of the book"), text(ledger.LimitOfBook.String()), text("the per cent part of a limit is of the book figure; otherwise of the throughput")},
		paramJoinAnd:   {text("Parts joined by and"), text(ledger.LimitAnd.String()), text("the limit is the larger part")},
		paramJoinOr:    {text("Parts joined by or"), text(ledger.LimitOr.String()), text("the limit is the smaller part; otherwise the sum")},

		paramWidth:         {text("Uncertainties in half a width"), number(decimal.NewFromFloat(widthFactor)), text("half the 95 % width of a residual, or of a sum of residuals, in standard uncertainties")},
		paramInside:        {text("Uncertainties inside error"), number(decimal.NewFromFloat(insideLimit)), text("a residual of at most so many standard uncertainties is inside measurement error")},
		paramDetection:     {text("Uncertainties of a loss that shows"), number(decimal.NewFromFloat(detectionFactor)), text("twice the 95 % quantile of the normal distribution: shows in 95 of 100 cases, with one false alarm in 20")},
		paramInterval:      {text("Uncertainties in half an interval"), number(decimal.NewFromFloat(intervalFactor)), text("97.5 % quantile of the normal distribution: the 95 % interval of the size of a cause")},
		paramMassRounding:  {text("Rounding of a stated mass, t"), number(decimal.NewFromFloat(massRounding * roundingSlack)), text("the statistics state masses to the kilogram: half of one, and a gram")},
		paramRatioRounding: {text("Rounding of a stated ratio"), number(decimal.NewFromFloat(ratioRounding * roundingSlack)), text("the statistics state ratios to four places: half of the last, and a little")},
		paramWordInside:    {text("Verdict within the error"), text(verdictInside), text("what a residual inside measurement error is called")},
		paramWordOutside:   {text("Verdict beyond the error"), text(verdictOutside), text("what a residual outside it is called")},
		paramWordRaised:    {text("Alarm above the threshold"), text(alarmRaised), text("what a statistic above its threshold is called")},
		paramWordQuiet:     {text("Alarm below the threshold"), text(alarmQuiet), text("what any other is called")},

		paramNoFile: {text("File of a record without one"), text(fileNone), text("entries of records that settled an exception, which no file has")},
	}
	for _, status := range exceptionStatuses() {
		rows = append(rows, []value{text("Status " + status.String()), text(status.String()), text("exceptions are counted by it")})
	}
	for col := range ledger.Columns {
		rows = append(rows, []value{text("Movement of the column " + col.String()), text(movementWord(col)), text("roll-forward and lead add up the entries that have this word")})
	}
	if m := d.money; m != nil {
		rows = append(rows, []value{text("Minor units in one of the currency"), integer(int64(m.measure().perUnit)), text("differences of amounts are shown in minor units")},
			[]value{text("Decimals of the currency"), integer(int64(m.places)), text("sums of amounts are rounded to the minor unit, which takes out what binary fractions leave behind")})
	}
	d.params = &parameters{s.table(tableSpec{
		name: "Parameters", title: "Figures and words that formulas refer to", count: len(rows), rows: rowsOf(rows...), main: true, frozen: 1,
		columns: []column{
			{key: "name", head: "Name", kind: kindText, width: 34, note: "what the figure or word is"},
			{key: "value", head: "Value", kind: kindAny, role: roleInput, width: 22, note: "the cell that formulas refer to; a changed value changes them all"},
			{key: "use", head: "Use", kind: kindText, width: 70, note: "where formulas need it"},
		},
	})}
}

// sumTolerance is how many grams the sum of a column of entries may be off by the rounding of additions.
func (d *closeBook) sumTolerance() int64 {
	total := d.tally.moved.AsIs()
	for _, p := range d.piles {
		total += p.Opening.AsIs().Abs()
	}
	return d.tally.sumError(float64(total))
}
