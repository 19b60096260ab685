// Package table reads tabular files, CSV and the sheets of an .xlsx workbook,
// as a stream of rows of text in which every cell keeps its position.
//
// [OpenCSV] reads one table. [OpenWorkbook] opens a workbook, and
// [Workbook.Open] one of its sheets. Both give a [Reader]: the header row
// first, then the rows below it until [io.EOF]:
//
//	for {
//		row, err := r.Next()
//		if err == io.EOF {
//			break
//		}
//		var bad *table.Error
//		if errors.As(err, &bad) {
//			report(bad) // this row is bad: go on to the next
//			continue
//		}
//		if err != nil {
//			return err // the file could not be read
//		}
//		use(row)
//	}
//
// # Text of a cell
//
// Text stands as it does in the file, with its spaces. "Empty" means
// throughout: nothing, or nothing but white space.
//
// A number of a workbook becomes plain decimal text without an exponent,
// rounded to 15 significant digits: a spreadsheet calculates in binary and
// shows 15 digits at most, so the 24.310000000000002 in its file is the 24.31
// that its user typed. A number shown as a percentage becomes "4.5%", not the
// 0.045 stored, as it would if the sheet were saved as CSV.
//
// A number shown as a date or a time becomes 2006-01-02 15:04:05, rounded to
// the nearest second, in no time zone. It becomes 2006-01-02 if its format
// shows no time and it holds none, and 15:04:05 if its format shows no date
// and it is less than a day. A duration, shown in a format such as [h]:mm,
// becomes 15:04:05 too, where the hours may pass 23.
//
// A formula gives the result stored with it. One without a stored result is
// an error of its row, for to a reader it would look like an empty cell.
//
// # Hostile files
//
// No input makes this package panic, nor use more memory than its [Limits]
// allow, and only shared strings make memory grow with the length of a sheet.
// The XML is read, not validated: a workbook that departs from the standard in
// ways that do not touch the text of its cells is read all the same.
package table
