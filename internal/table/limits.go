package table

import "io"

// Limits bound what a file may cost to read. A file beyond one of them is
// refused with an [*Error] that names the limit. Start from [DefaultLimits]
// and change what must differ: the zero Limits refuse everything.
type Limits struct {
	// RowBytes bounds the text of one row. A CSV row may pass it by one
	// buffer (64 KiB) before it is noticed. In a workbook it also bounds each
	// tag and each run of text in any part.
	RowBytes int

	// CellChars, Columns and Rows bound a sheet: the UTF-16 code units of a
	// cell's text, the columns and the rows. CSV files have no such limits.
	CellChars, Columns, Rows int

	// Parts bounds the files inside a workbook's zip archive, and so the
	// sheets of a workbook.
	Parts int

	// InflatedBytes bounds the size of all parts together once inflated.
	InflatedBytes uint64

	// A part larger than RatioFromBytes must inflate to less than Ratio times
	// its compressed size. Deflate can reach 1032 times. Ordinary sheets reach
	// 10 to 30; one of equal rows without addresses, 224 (measured).
	Ratio, RatioFromBytes uint64

	// SharedStringsBytes bounds the text of the shared strings, which is held
	// in memory, with 4 bytes more for each of them. It must be below 4 GiB.
	SharedStringsBytes int

	// Formats bounds the number formats and the cell styles of a workbook.
	Formats int
}

// DefaultLimits returns the limits that [OpenCSV] and [OpenWorkbook] use.
//
// Cells, columns, rows and formats are Excel's own limits ("Excel
// specifications and limits", Microsoft support); the others leave room for a
// full sheet of 30 columns and are common practice, no source.
func DefaultLimits() Limits {
	return Limits{
		RowBytes:           4 << 20,
		CellChars:          32_767,
		Columns:            16_384,
		Rows:               1_048_576,
		Parts:              10_000,
		InflatedBytes:      4 << 30,
		Ratio:              500,
		RatioFromBytes:     16 << 20,
		SharedStringsBytes: 256 << 20,
		Formats:            65_490,
	}
}

// OpenCSV is [Limits.OpenCSV] with the default limits.
func OpenCSV(name string, r io.Reader, l Layout) (*Reader, error) {
	return DefaultLimits().OpenCSV(name, r, l)
}

// OpenWorkbook is [Limits.OpenWorkbook] with the default limits.
func OpenWorkbook(name string, r io.ReaderAt, size int64) (*Workbook, error) {
	return DefaultLimits().OpenWorkbook(name, r, size)
}
