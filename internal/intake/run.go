package intake

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"

	"repose/internal/table"
	"repose/ledger"
)

// Run reads files into records and gives them to the sink: of every table in the catalogue's order, first
// the rows that stand for themselves, then those that replace a record. progress may be nil.
//
// What is wrong with rows comes as *RowErrors once all files are read, beside a report of what was read;
// any other error ends the call. The caller must then undo what the sink took in.
func Run(ctx context.Context, files []File, known Known, sink Sink, progress func(Progress)) (rep Report, err error) {
	reg, err := newRegister(known)
	if err != nil {
		return rep, err
	}
	in := &intake{ctx: ctx, known: reg, names: newInterner(), sink: sink, progress: progress,
		workbooks: map[Content]*table.Workbook{}}
	defer func() {
		for _, c := range in.open {
			if cerr := c.Close(); err == nil {
				err = cerr
			}
		}
	}()
	if err := in.addFiles(files); err != nil {
		return in.report(), err
	}
	in.entered = newEntry(sink)
	err = in.readTables()
	if err == nil {
		err = in.flush()
	}
	if ended := in.entered.end(); ended != nil {
		err = ended // what the sink says comes first: reading may have stopped because of it
	}
	if err != nil {
		return in.report(), err
	}
	return in.report(), in.errs.err()
}

// intake is one call of Run.
type intake struct {
	ctx      context.Context
	known    *register
	names    *interner
	sink     Sink
	progress func(Progress)

	open      []Content
	workbooks map[Content]*table.Workbook
	parts     []*part
	passed    []Passed
	errs      RowErrors

	corrections []correction // rows of the table being read that replace a record

	batch   *batch // being filled
	entered *entry // the other end, which gives batches to the sink
}

// part is one table of a file.
type part struct {
	file    File
	content Content
	table   *Table
	name    string // of the file, for positions
	sheet   string
	report  TableReport
}

// correction is a row that replaces a record. It waits until every file of its table is read, so that the
// order of files and rows plays no part in which of two records of one key comes first.
type correction struct {
	part *part
	rec  ledger.Record
}

func (in *intake) report() Report {
	rep := Report{PassedOver: in.passed}
	for _, p := range in.parts {
		rep.Tables = append(rep.Tables, p.report)
	}
	return rep
}

// addFiles gives the bytes of the files and of their maps to the sink and puts their tables in order.
func (in *intake) addFiles(files []File) error {
	tables := catalogue(Tables())
	count := map[string]int{}
	for _, f := range files {
		count[base(f.Path)]++
	}
	maps := map[*Map]bool{}
	for _, f := range files {
		if err := in.ctx.Err(); err != nil {
			return err
		}
		mapSHA := ""
		if f.Map != nil {
			mapSHA = f.Map.sha256
			if !maps[f.Map] {
				maps[f.Map] = true
				if _, _, err := in.sink.AddFile(f.Map.name, bytes.NewReader(f.Map.raw), ""); err != nil {
					return fmt.Errorf("%s: %w", f.Map.name, err)
				}
			}
		}
		c, err := f.Open()
		if err != nil {
			return err
		}
		in.open = append(in.open, c)
		sha, isNew, err := in.sink.AddFile(base(f.Path), io.NewSectionReader(c, 0, c.Size()), mapSHA)
		if err != nil {
			return fmt.Errorf("%s: %w", f.Path, err)
		}
		name := base(f.Path)
		if count[name] > 1 {
			name = f.Path // the base name alone would not tell them apart
		}
		for _, p := range f.Parts {
			t := tables.find(p.Table)
			if t == nil {
				return fmt.Errorf("%s: table %q: want one of %s", f.Path, p.Table, tables.names())
			}
			rep := TableReport{File: base(f.Path), Sheet: p.Sheet, Path: f.Path, SHA256: sha, NewFile: isNew, Table: p.Table}
			if f.Map != nil {
				rep.Map = f.Map.name
			}
			in.parts = append(in.parts, &part{f, c, t, name, p.Sheet, rep})
		}
		for _, sheet := range f.PassedOver {
			in.passed = append(in.passed, Passed{base(f.Path), sheet})
		}
	}
	order := func(p *part) int {
		return slices.IndexFunc(tables, func(t Table) bool { return t.Name == p.table.Name })
	}
	slices.SortStableFunc(in.parts, func(a, b *part) int { return order(a) - order(b) })
	return nil
}

// readTables reads all parts, and the corrections of a table after the last part of it.
func (in *intake) readTables() error {
	for i, p := range in.parts {
		if err := in.read(p, i); err != nil {
			return err
		}
		if i+1 < len(in.parts) && in.parts[i+1].table == p.table {
			continue
		}
		for _, c := range in.corrections {
			if err := in.append(c.part, &c.rec); err != nil {
				return err
			}
		}
		in.corrections = nil
	}
	return nil
}

// reader opens the table of a part. A workbook is opened once for all its sheets.
func (in *intake) reader(p *part) (*table.Reader, error) {
	lay := table.Layout{}
	if p.file.Map != nil {
		lay = p.file.Map.layout
	}
	if p.sheet == "" {
		return table.OpenCSV(p.name, io.NewSectionReader(p.content, 0, p.content.Size()), lay)
	}
	w, ok := in.workbooks[p.content]
	if !ok {
		var err error
		if w, err = table.OpenWorkbook(p.name, p.content, p.content.Size()); err != nil {
			return nil, err
		}
		in.workbooks[p.content] = w
	}
	return w.Open(p.sheet, lay)
}

// bind opens a part and ties its columns. It returns no binding where what is wrong with the header has
// been noted.
func (in *intake) bind(p *part) (*table.Reader, *binding, error) {
	r, err := in.reader(p)
	if err != nil {
		return nil, nil, in.note(err)
	}
	var b *binding
	if p.file.Map != nil {
		b = bindMap(p.file.Map, r)
	} else {
		b = bindHeader(p.table, r)
	}
	p.report.Ignored = b.ignored
	if p.table.ofYard() && !b.columns[fYard].bound() && in.known.only == nil && !in.known.faulty[ledger.KindYardRecord] {
		b.fail(-1, "no column \"yard\"", in.known.wantedYard())
	}
	in.errs.add(b.errs...)
	if len(b.errs) > 0 {
		return nil, nil, nil
	}
	return r, b, nil
}

// note keeps an error about a row or a file and returns nil, or returns an error that ends the call.
func (in *intake) note(err error) error {
	var bad *table.Error
	if !errors.As(err, &bad) {
		return err
	}
	in.errs.add(bad)
	return nil
}

// progressRows is how often progress is called and the context asked.
const progressRows = 8192

// read reads one part.
func (in *intake) read(p *part, done int) error {
	before := in.errs.Total
	r, b, err := in.bind(p)
	if err != nil {
		return err
	}
	if b != nil {
		if err := in.readRows(p, r, &row{binding: b, known: in.known, names: in.names}, done); err != nil {
			return err
		}
	}
	if in.errs.Total > before {
		in.errs.sort(before)
		in.known.faulty[p.table.Kind] = true
	}
	return nil
}

// readRows reads the rows of a part, and settles those of a repeated hour after the last.
func (in *intake) readRows(p *part, reader *table.Reader, r *row, done int) error {
	twice := map[series][]turn{}
	for n := 0; ; n++ {
		if n%progressRows == 0 {
			if err := in.ctx.Err(); err != nil {
				return err
			}
			if in.progress != nil {
				in.progress(Progress{File: reader.Name(), Rows: n, Done: done, Of: len(in.parts)})
			}
		}
		cells, err := reader.Next()
		if err == io.EOF {
			return in.settleRows(p, reader.Name(), twice)
		}
		p.report.Rows++
		if err != nil {
			p.report.Rejected++
			if err := in.note(err); err != nil {
				return err
			}
			continue
		}
		r.start(cells)
		rec, ok := r.record()
		if !ok {
			p.report.Rejected++
			in.errs.add(r.bad...)
			continue
		}
		rec.Source = ledger.Source{File: p.report.SHA256, Sheet: p.sheet, Row: cells.Number}
		p.report.WetMoistures += r.wet
		if r.suspense {
			p.report.Suspense++
		}
		if r.twice != nil {
			s, t := r.turnOf(rec)
			twice[s] = append(twice[s], t)
			if t.moment.repeated() {
				continue
			}
		}
		if err := in.take(p, &rec); err != nil {
			return err
		}
	}
}

// settleRows takes in the rows whose time the clock showed twice, in the order of the file.
func (in *intake) settleRows(p *part, name string, twice map[series][]turn) error {
	var turns []turn
	for _, list := range twice {
		settle(list)
		for _, t := range list {
			if t.moment.repeated() {
				turns = append(turns, t)
			}
		}
	}
	slices.SortFunc(turns, func(a, b turn) int { return a.row - b.row })
	for i := range turns {
		rec, bad := turns[i].record(name)
		if bad != nil {
			p.report.Rejected++
			in.errs.add(bad)
			continue
		}
		p.report.RepeatedHours++
		if err := in.take(p, &rec); err != nil {
			return err
		}
	}
	return nil
}

// take takes in a row, or puts it off where it replaces a record.
func (in *intake) take(p *part, rec *ledger.Record) error {
	if err := in.known.note(rec); err != nil {
		return err
	}
	if rec.Replaces != "" {
		in.corrections = append(in.corrections, correction{p, *rec})
		return nil
	}
	return in.append(p, rec)
}

// append puts a record on its way to the sink, unless the call has failed already.
func (in *intake) append(p *part, rec *ledger.Record) error {
	if in.errs.Total > 0 {
		return nil
	}
	if in.batch == nil {
		in.batch = in.entered.fresh()
	}
	in.batch.parts = append(in.batch.parts, p)
	in.batch.recs = append(in.batch.recs, *rec)
	if len(in.batch.recs) < batchRows {
		return nil
	}
	return in.flush()
}

// flush sends the records that are waiting.
func (in *intake) flush() error {
	b := in.batch
	if b == nil {
		return nil
	}
	in.batch = nil
	return in.entered.send(b)
}

// position returns the name that positions in the part begin with.
func (p *part) position() string {
	if p.sheet == "" {
		return p.name
	}
	return p.name + "[" + p.sheet + "]"
}
