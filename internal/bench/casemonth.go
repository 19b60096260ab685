package bench

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strconv"
	"time"
)

// Files of case d.
const (
	monthFolder = "month"
	monthBook   = "month.book"
	workbookOut = "workbook.xlsx"
)

// month runs case d: one month of one yard with very many loads.
func (b *Bench) month(ctx context.Context, rep *Report) error {
	s := b.Sizes.Month
	if err := b.write(s, monthFolder); err != nil {
		return err
	}
	rows := s.Loads + s.Readings
	period := s.period(0)
	err := rep.add(b.compare(Line{Case: "d", What: fmt.Sprintf("intake of the month of %d loads", s.Loads), Note: "no peer; 300 MB at most"}, func() (Figures, error) {
		if err := b.remove(monthBook); err != nil {
			return Figures{}, err
		}
		_, f, err := b.repose(ctx, monthBook, "intake", monthFolder)
		return f, err
	}, nil))
	if err != nil {
		return err
	}
	for _, what := range []string{"reconcile", "close"} {
		line := Line{Case: "d", What: what + " of that month", Note: "no peer; 300 MB at most"}
		if err := rep.add(b.compare(line, func() (Figures, error) { return b.lastMonth(ctx, what, period, monthBook) }, nil)); err != nil {
			return err
		}
	}
	write := func() (Figures, error) {
		_, f, err := b.repose(ctx, monthBook, "workbook", period, "-o", workbookOut, "--force")
		return f, err
	}
	line := Line{Case: "d", What: fmt.Sprintf("workbook of %d entries", rows), Peer: "excelize stream writer, as many cells", Target: 1, Note: "300 MB at most"}
	line, err = b.compare(line, write, func() (Figures, error) {
		_, f, err := b.peer(ctx, "cells", b.path("cells.xlsx"), strconv.Itoa(rows))
		return f, err
	})
	if err := rep.add(line, err); err != nil {
		return err
	}
	return rep.add(b.recalculated(ctx, line))
}

// recalculated has the spreadsheet engine read the workbook and work its formulas out again, once, and holds it against
// what writing the workbook took.
func (b *Bench) recalculated(ctx context.Context, written Line) (Line, error) {
	line := Line{Case: "d", What: written.What, Ours: written.Ours, Peer: "spreadsheet engine recalculating it", Target: 1, Note: note(b.Office, "once")}
	if b.Office.Path == "" {
		return line, nil
	}
	b.say("d: recalculating, for %v at most", b.Limit)
	limited, stop := context.WithTimeout(ctx, b.Limit)
	defer stop()
	f, err := b.recalculate(limited)
	if errors.Is(limited.Err(), context.DeadlineExceeded) {
		line.Note = fmt.Sprintf("the peer had not ended after %v", b.Limit.Round(time.Second))
		return line, nil
	}
	if err != nil {
		return line, err
	}
	line.Theirs = summarise([]Figures{f})
	line.Ratio, line.CPURatio = ratio(line.Ours.Wall, line.Theirs.Wall), ratio(line.Ours.CPU, line.Theirs.CPU)
	return line, nil
}

// officeProfile tells LibreOffice to work out every formula of a workbook that it opens, in place of trusting the results
// that the file carries.
const officeProfile = `<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>
`

// recalculate converts the workbook's first sheet to CSV: little is written, so what it takes is reading and calculating.
func (b *Bench) recalculate(ctx context.Context) (Figures, error) {
	const profile, out = "office", "office-out"
	if err := b.remove(profile, out); err != nil {
		return Figures{}, err
	}
	if err := os.MkdirAll(b.path(profile, "user"), 0o755); err != nil {
		return Figures{}, err
	}
	if err := os.WriteFile(b.path(profile, "user", "registrymodifications.xcu"), []byte(officeProfile), 0o600); err != nil {
		return Figures{}, err
	}
	_, f, err := b.run(ctx, run{command: b.Office, args: []string{"--headless", "--norestore", "-env:UserInstallation=file://" + b.path(profile),
		"--convert-to", "csv:Text - txt - csv (StarCalc):44,34,76,1", "--outdir", b.path(out), workbookOut}})
	if err != nil {
		return f, err
	}
	written, err := os.ReadDir(b.path(out))
	if err == nil && len(written) == 0 {
		err = errors.New("the spreadsheet engine wrote nothing")
	}
	return f, err
}
