package workbook

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"repose/ledger"
)

// readEntries reads the entries of the month once: each is counted, and its rows are written.
func (d *closeBook) readEntries(ctx context.Context) error {
	d.nameAccounts()
	rows, err := d.book.newLongRows(d.entryColumns(), firstBlockRow+1) // below the heading's rows and the total
	if err != nil {
		return err
	}
	w := &entryWriter{d: d, rows: rows, products: make(map[string]string, len(d.piles)), accounts: make(map[ledger.Account]accountCells),
		flags: make(map[ledger.Flags]value), sources: make(map[string]sourceCells)}
	for _, p := range d.piles {
		w.products[p.key] = p.product
	}
	r, err := newTallyReader(d.month)
	if err != nil {
		return err
	}
	for e, err := range readAhead(d.close.Entries) {
		if err == nil {
			err = r.add(e)
		}
		if err == nil {
			err = w.add(e, r.tally.entries)
		}
		if err == nil && r.tally.entries%checkEvery == 0 {
			err = ctx.Err()
		}
		if err != nil {
			return err
		}
	}
	d.tally, d.written = r.end(), rows
	return errors.Join(ctx.Err(), rows.end())
}

// nameAccounts gives the accounts that hold something their keys before any entry asks for one, so that of names that
// differ by case alone the same one gets a number whatever the order of the entries.
func (d *closeBook) nameAccounts() {
	for _, b := range []ledger.Balances{d.month.Opening.Balances, d.month.Closing.Balances} {
		for _, a := range b.Accounts() {
			d.names.account(a, d.month.Yard.Code)
		}
	}
}

// entryWriter writes the rows of entries. What many of them share is worked out once.
type entryWriter struct {
	d        *closeBook
	rows     *longRows
	products map[string]string // of piles, by their keys
	accounts map[ledger.Account]accountCells
	flags    map[ledger.Flags]value
	sources  map[string]sourceCells // by SHA-256 of the file
	row      [entryCells]value
}

// entryCells is the number of cells of a row of an entry.
const entryCells = 22

type accountCells struct{ name, product value }

type sourceCells struct{ key, name value }

// add writes a row for each leg of an entry, and one for an entry without legs. The place counts from 1.
func (w *entryWriter) add(e *ledger.Entry, place int) error {
	w.head(e, place)
	w.tail(e)
	if len(e.Legs) == 0 {
		for i := 5; i < 14; i++ {
			w.row[i] = value{}
		}
		w.row[11] = percent(e.Moisture.Percent())
		return w.write(e)
	}
	for i := range e.Legs {
		w.leg(e, &e.Legs[i])
		if err := w.write(e); err != nil {
			return err
		}
	}
	return nil
}

func (w *entryWriter) write(e *ledger.Entry) error {
	if err := w.rows.add(w.row[:]); err != nil {
		return fmt.Errorf("entry %s: %w", e.Record.ID(), err)
	}
	return nil
}

// head sets the cells that say which entry a leg belongs to.
func (w *entryWriter) head(e *ledger.Entry, place int) {
	w.row[0], w.row[1], w.row[2], w.row[3] = integer(int64(place)), label(e.Record.ID()), instant(e.At()), text(w.rows.clock.ahead(e.At()))
	w.row[4] = value{}
	if isLate(e, w.d.start) {
		w.row[4] = text(ledger.PeriodOf(e.At(), w.d.month.Zone).String())
	}
}

// leg sets the cells of what moves.
func (w *entryWriter) leg(e *ledger.Entry, l *ledger.Leg) {
	from, to := w.account(l.From), w.account(l.To)
	w.row[5], w.row[6], w.row[7], w.row[8], w.row[9] = from.name, to.name, text(movementOf(*l)), from.product, to.product
	w.row[10], w.row[11], w.row[12], w.row[13] = mass(l.AsIs()), percent(e.Moisture.Percent()), mass(l.Solids), mass(l.Water)
}

// tail sets the cells that say what an entry rests on.
func (w *entryWriter) tail(e *ledger.Entry) {
	flags, ok := w.flags[e.Flags]
	if !ok {
		flags = orBlank(strings.Join(e.Flags.Names(), "; "))
		w.flags[e.Flags] = flags
	}
	src := e.Record.Source
	file := w.source(src.File)
	ticket, truck, customer := papers(e.Record.Fact)
	w.row[14], w.row[15], w.row[16], w.row[17] = flags, orBlank(ticket), orBlank(truck), orBlank(customer)
	w.row[18], w.row[19], w.row[20], w.row[21] = file.key, file.name, orBlank(src.Sheet), value{}
	if src.Row > 0 {
		w.row[21] = integer(int64(src.Row))
	}
}

// account returns the cells of an account: its name, and its product where it is a pile.
func (w *entryWriter) account(a ledger.Account) accountCells {
	c, ok := w.accounts[a]
	if !ok {
		key := w.d.names.account(a, w.d.month.Yard.Code)
		c = accountCells{text(key), orBlank(w.products[key])}
		w.accounts[a] = c
	}
	return c
}

// source returns the cells of the file that a record came from.
func (w *entryWriter) source(file string) sourceCells {
	c, ok := w.sources[file]
	if !ok {
		key, name := fileUnlisted, shortHash(file)
		if file == "" {
			key = fileNone
		} else if i, listed := w.d.files[file]; listed {
			key, name = w.d.fileKey(i), w.d.close.Files[i].Name
		}
		c = sourceCells{text(key), orBlank(name)}
		w.sources[file] = c
	}
	return c
}

func (d *closeBook) fileKey(i int) string { return d.names.key(wordFile, strconv.Itoa(i+1)) }

// orBlank is label, and a blank cell where there is nothing to show.
func orBlank(s string) value {
	if s == "" {
		return value{}
	}
	return label(s)
}

// papers returns what a movement's ticket says beside the mass.
func papers(f ledger.Fact) (ticket, truck, customer string) {
	switch f := f.(type) {
	case ledger.Load:
		return f.Ticket, f.Truck, f.Customer
	case ledger.Transfer:
		return f.Ticket, f.Truck, ""
	case ledger.Return:
		return f.Ticket, "", ""
	}
	return "", "", ""
}
