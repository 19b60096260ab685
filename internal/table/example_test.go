package table_test

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"repose/internal/table"
)

// One reading finds every bad row, with its position.
func ExampleReader_Next() {
	const file = "pile;net [t]\nnorth;24,31\nsouth;18,90;;late\neast;7,5\n"
	r, err := table.OpenCSV("loads.csv", strings.NewReader(file), table.Layout{Delimiter: ';'})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(r.Header().Cells)
	for {
		row, err := r.Next()
		if err == io.EOF {
			break
		}
		var bad *table.Error
		if errors.As(err, &bad) {
			fmt.Println(bad)
			continue
		}
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Println(row.Number, row.Cells)
	}
	// Output:
	// [pile net [t]]
	// 2 [north 24,31]
	// loads.csv:3:4: found "late" beyond the last column, wanted at most 2 cells, as in the header
	// 4 [east 7,5]
}
