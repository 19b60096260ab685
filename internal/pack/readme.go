package pack

import (
	_ "embed"
	"io"
	"text/template"

	"repose/ledger"
)

//go:embed readme.txt
var readmeText string

// page is what README.txt says of one pack.
type page struct {
	statement
	Rows                    int // of entries.csv, without its header
	Files                   int // in the folder
	Originals, Packed       int // files that were taken in, and those of them in the folder
	SolidsG, WaterG         ledger.Mass
	PileSolidsG, PileWaterG ledger.Mass
	PileSolids, PileAsIs    ledger.Mass
	Tables                  []string
	CloseLine               int64 // of records.jsonl
	HasOpening              bool
}

func (p *packer) page(s statement) page {
	piles := p.flows.piles()
	s.By, s.Program = escapeControls(s.By), escapeControls(s.Program)
	pg := page{statement: s, Rows: p.flows.rows, Originals: len(p.files), Packed: len(packed(p.files)),
		Files:   len(p.list) + len([...]string{readmeName, contentsName, sumsName}),
		SolidsG: p.flows.moved.Solids, WaterG: p.flows.moved.Water, PileSolidsG: piles.Solids, PileWaterG: piles.Water,
		PileSolids: piles.Solids, PileAsIs: piles.AsIs(), CloseLine: s.LogSize + 1, HasOpening: p.before != nil}
	for _, t := range p.contents.Tables {
		path, _ := tablePath(t.Name)
		pg.Tables = append(pg.Tables, path)
	}
	return pg
}

// writeReadme writes README.txt. Its wording may change from one version of the program to the next: a check holds it to
// its sum and to nothing else.
func writeReadme(w io.Writer, p page) error {
	t, err := template.New(readmeName).Parse(readmeText)
	if err != nil {
		return err
	}
	return t.Execute(w, p)
}
