package bench

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// movementTables are the tables that grow with the records; all others are registers, tests and surveys.
var movementTables = []string{"loads.csv", "deck.csv", "production.csv"}

// headers are the tables that an operator sends, and their header rows.
var headers = map[string]string{
	"yards.csv":       "yard,name,time zone",
	"products.csv":    "product,reference moisture [% dry]",
	"piles.csv":       "yard,pile,product",
	"instruments.csv": "yard,instrument,kind,from,systematic [%],random [%],certificate",
	"policy.csv":      "yard,name,value,from",
	"opening.csv":     "yard,pile,time,mass [t],moisture [% dry]",
	"moistures.csv":   "yard,pile,taken,moisture [% dry],tests",
	"densities.csv":   "yard,pile,taken,bulk density [t/m3],moisture [% dry],tests",
	"surveys.csv":     "yard,survey,pile,start,end,volume [m3],volume u [%],method",
	"production.csv":  "time,yard,belt,pile,net [t]",
	"loads.csv":       "time,yard,loader,ticket,pile,product,truck,customer,passes,net [t],purpose,status",
	"deck.csv":        "time,yard,deck,ticket,truck,customer,product,gross [t],tare [t],net [t],status",
}

// tables are the files being written.
type tables struct {
	files   map[string]*os.File
	buffers map[string]*bufio.Writer
}

func createTables(dir string) (*tables, error) {
	t := &tables{map[string]*os.File{}, map[string]*bufio.Writer{}}
	for name, header := range headers {
		f, err := os.Create(filepath.Join(dir, name))
		if err != nil {
			return nil, errors.Join(err, t.close())
		}
		t.files[name], t.buffers[name] = f, bufio.NewWriterSize(f, 1<<16)
		t.add(name, "%s\n", header)
	}
	return t, nil
}

// add writes to a table. An error stays with its buffer until close.
func (t *tables) add(name, format string, args ...any) { fmt.Fprintf(t.buffers[name], format, args...) }

func (t *tables) close() error {
	var err error
	for name, f := range t.files {
		err = errors.Join(err, t.buffers[name].Flush(), f.Close())
	}
	return err
}

// Write writes the tables of the operator into a folder. No bad row is among them, series of numbers are complete, and
// nothing in them keeps a month from being closed.
func (s Size) Write(dir string) (err error) {
	if err := s.check(); err != nil {
		return err
	}
	t, err := createTables(dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, t.close()) }()
	o := newOperator(s)
	o.writeRegisters(t)
	for m := range s.Months {
		d := o.dice(m)
		o.writeTests(t, m)
		o.writeProduction(t, m, d)
		o.writeLoads(t, m, d)
		o.writeSurveys(t, m, d)
	}
	return nil
}
