package bench

import (
	"context"
	"fmt"
	"strconv"
	"strings"
)

// sheetFile is the workbook of case e. Its name says which table its only sheet is.
const sheetFile = "loads.xlsx"

// sheets runs case e.
func (b *Bench) sheets(ctx context.Context, rep *Report) error {
	n := strconv.Itoa(b.Sizes.SheetRows)
	b.say("writing a sheet of %s loads", n)
	if _, _, err := b.peer(ctx, "sheet", b.path(yearFolder, "loads.csv"), b.path(sheetFile), n); err != nil {
		return err
	}
	rows := func(role string) side {
		return func() (Figures, error) {
			out, f, err := b.peer(ctx, role, b.path(sheetFile))
			if err == nil && strings.TrimSpace(string(out)) != n {
				err = fmt.Errorf("%s read %q rows, want %s", role, out, n)
			}
			return f, err
		}
	}
	dry := func() (Figures, error) { return b.takeIn(ctx, baseBook, b.Sizes.SheetRows, "--dry-run", sheetFile) }
	for _, c := range []struct {
		line   Line
		ours   side
		theirs side
	}{
		{Line{What: "intake --dry-run of a sheet of " + n + " loads", Peer: "excelize row iterator, raw values", Target: 1.3,
			Note: "all checks, and the log written and rolled back"}, dry, rows("rows")},
		{Line{What: "internal/table alone on that sheet", Peer: "excelize row iterator, raw values"}, rows("table"), rows("rows")},
		{Line{What: "internal/table alone on that sheet", Peer: "excelize row iterator, values as shown", Note: "dates and numbers as text, as internal/table gives them"}, rows("table"), rows("shown")},
	} {
		c.line.Case = "e"
		if err := rep.add(b.compare(c.line, c.ours, c.theirs)); err != nil {
			return err
		}
	}
	return nil
}
