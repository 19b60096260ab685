package value

// Column is one way in which a product comes into stock or leaves it, as the roll-forward in money shows them. Signs
// are those of the roll-forward in tonnes: into the stock positive.
type Column uint8

// The columns, in the order in which a month takes them. Those up to ColumnExpected come at their own cost, the others
// at the average.
const (
	ColumnOpened     Column = iota // the first stock of a pile, with what it cost
	ColumnMade                     // by the plant, at its share of the cost of making
	ColumnBought                   // and brought to the yard
	ColumnRemade                   // cost alone: of stone that went back to the plant and was made again
	ColumnTransferIn               // from another product, at what it cost there
	ColumnExpected                 // normal shrinkage, negative: no cost goes with it, and the average rises
	ColumnReturned
	ColumnSold
	ColumnInternal // used in the yard itself
	ColumnFree
	ColumnTransferOut
	ColumnFed         // back to the plant
	ColumnExplained   // abnormal shrinkage whose cause is known
	ColumnUnexplained // abnormal shrinkage
	Columns           // how many there are
)

var columnNames = [Columns]string{"opened", "made", "bought", "made again", "transfer in", "expected shrinkage",
	"returned", "sold", "internal use", "free issue", "transfer out", "fed", "explained shrinkage", "unexplained shrinkage"}

// String returns the column's heading.
func (c Column) String() string {
	if c >= Columns {
		return ""
	}
	return columnNames[c]
}

// AtOwnCost reports whether the column's quantities bring their own cost, and do not take the average.
func (c Column) AtOwnCost() bool { return c <= ColumnExpected }

// derived reports whether the column follows from the others of a month, and cannot be said.
func (c Column) derived() bool {
	return c == ColumnRemade || c == ColumnTransferIn || c == ColumnTransferOut
}
