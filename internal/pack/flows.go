package pack

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"

	"repose/ledger"
)

// flows follows the accounts through a month.
type flows struct {
	opening, in, out, closing ledger.Balances

	rows  int           // of entries.csv
	moved ledger.Amount // sum over all legs
}

func newFlows(opening ledger.Balances) *flows {
	return &flows{opening: opening, in: ledger.Balances{}, out: ledger.Balances{}, closing: maps.Clone(opening)}
}

// post carries out an entry.
func (f *flows) post(p *posting) (err error) {
	f.rows += p.rows()
	for _, l := range p.legs {
		if err := f.closing.Post(l); err != nil {
			return err
		}
		if f.in[l.To], err = f.in[l.To].Add(l.Amount); err != nil {
			return fmt.Errorf("account %v, in: %w", l.To, err)
		}
		if f.out[l.From], err = f.out[l.From].Add(l.Amount); err != nil {
			return fmt.Errorf("account %v, out: %w", l.From, err)
		}
		if f.moved, err = f.moved.Add(l.Amount); err != nil {
			return fmt.Errorf("sum of all legs: %w", err)
		}
	}
	return nil
}

// piles returns what lies in the piles at the end.
func (f *flows) piles() (sum ledger.Amount) {
	for a, v := range f.closing {
		if a.Kind == ledger.KindPile {
			sum.Solids += v.Solids
			sum.Water += v.Water
		}
	}
	return sum
}

// write writes balances.csv: every account that held or moved anything.
func (f *flows) write(w io.Writer) error {
	all := map[ledger.Account]bool{}
	for _, b := range []ledger.Balances{f.opening, f.in, f.out} {
		for a := range b {
			all[a] = true
		}
	}
	csv := NewCSV(w)
	err := csv.Row(texts("account", "opening_solids_g", "opening_water_g", "in_solids_g", "in_water_g", "out_solids_g", "out_water_g",
		"closing_solids_g", "closing_water_g")...)
	for _, a := range slices.SortedFunc(maps.Keys(all), ledger.Account.Compare) {
		if err != nil {
			return err
		}
		row := []Cell{Text(a.String())}
		for _, b := range []ledger.Balances{f.opening, f.in, f.out, f.closing} {
			row = append(row, Grams(b[a].Solids), Grams(b[a].Water))
		}
		err = csv.Row(row...)
	}
	return err
}

// sealedState reads the closing state off a seal.
func sealedState(seal *lines) (ledger.State, error) {
	var state []string
	for {
		line, err := seal.next()
		if err == io.EOF {
			return ledger.ParseState(state)
		}
		if err != nil {
			return ledger.State{}, err
		}
		if text, ok := cutKind(line, stateKind); ok {
			state = append(state, string(text))
		}
	}
}

// checkClosing compares balances with those that a seal states.
func checkClosing(got, sealed ledger.Balances) error {
	if !maps.Equal(got, sealed) {
		return errors.New("what the month opened with and its entries do not give its closing balances")
	}
	if sum := sealed.Sum(); !sum.IsZero() {
		return fmt.Errorf("its closing balances sum to %v of solids and %v of water, want zero", sum.Solids, sum.Water)
	}
	return nil
}

// cutKind takes the kind off the front of a sealed line; ok is false for a line of another kind.
func cutKind(line []byte, kind string) (text []byte, ok bool) {
	if len(line) > len(kind) && string(line[:len(kind)]) == kind && line[len(kind)] == ' ' {
		return line[len(kind)+1:], true
	}
	return nil, false
}
