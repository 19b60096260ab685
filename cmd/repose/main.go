// Repose keeps the book of what lies in the piles of a quarry yard, sets it against surveys, and closes
// each month in a workbook that an auditor can take apart.
package main

import (
	"os"

	_ "time/tzdata" // yards keep their clocks on machines without a zone database

	"repose/internal/cli"
)

func main() { os.Exit(cli.Main()) }
