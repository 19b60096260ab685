package simyard_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"
	"testing"

	"repose/internal/simyard"
)

// row is one row of a table by heading.
type row map[string]string

func (r row) number(t testing.TB, heading string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r[heading], 64)
	if err != nil {
		t.Fatalf("%s of %v: %v", heading, r, err)
	}
	return v
}

func generate(t testing.TB, cfg simyard.Config) *simyard.Yard {
	t.Helper()
	y, err := simyard.Generate(cfg)
	if err != nil {
		t.Fatal(err)
	}
	return y
}

// coarse is a yard with few loads, for tests that need many yards.
func coarse(seed uint64, faults ...string) simyard.Config {
	cfg := simyard.Default(seed)
	cfg.LoadT = 400
	return with(cfg, faults...)
}

func with(cfg simyard.Config, faults ...string) simyard.Config {
	for _, text := range faults {
		f, err := simyard.ParseFault(text)
		if err != nil {
			panic(err) // of the test's own text
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	return cfg
}

func content(t testing.TB, y *simyard.Yard, name string) []byte {
	t.Helper()
	for _, f := range y.Files {
		if f.Name == name {
			return f.Content
		}
	}
	t.Fatalf("no file %q", name)
	return nil
}

// rows reads a table without the package that wrote it.
func rows(t testing.TB, y *simyard.Yard, name string) []row {
	t.Helper()
	all, err := csv.NewReader(bytes.NewReader(content(t, y, name))).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	var list []row
	for _, cells := range all[1:] {
		r := row{}
		for i, h := range all[0] {
			r[h] = cells[i]
		}
		list = append(list, r)
	}
	if len(list) == 0 {
		t.Fatalf("%s has no rows", name)
	}
	return list
}

// cell is a pile and the month that ends with its survey of that number; 0 is the opening one.
type cell struct {
	pile  string
	month int
}

// balances is a deliberately simple second way from the tables to the balances: floating point, and no
// register. Masses are t of solids.
type balances struct {
	months         map[string]int // by what a time begins with, such as 2026-01
	moisture       map[cell]float64
	surveyed       map[cell]float64
	made, sold     map[cell]float64
	arrived, moved map[cell]float64
}

func balancesOf(t testing.TB, y *simyard.Yard) *balances {
	t.Helper()
	b := &balances{map[string]int{}, map[cell]float64{}, map[cell]float64{}, map[cell]float64{}, map[cell]float64{},
		map[cell]float64{}, map[cell]float64{}}
	for _, r := range rows(t, y, "moistures.csv") { // one a pile and month, the opening day's first
		if _, ok := b.months[r["taken"][:7]]; !ok {
			b.months[r["taken"][:7]] = len(b.months)
		}
		b.moisture[b.cell(r["pile"], r["taken"])] = r.number(t, "moisture [% dry]") / 100
	}
	tests := rows(t, y, "densities.csv")
	for _, r := range rows(t, y, "surveys.csv") {
		dry := math.NaN()
		for _, d := range tests {
			if d["pile"] == r["pile"] && d["taken"] < r["end"] {
				dry = d.number(t, "bulk density [t/m3]")
			}
		}
		b.surveyed[b.cell(r["pile"], r["end"])] = r.number(t, "volume [m3]") * dry
	}
	for _, r := range rows(t, y, "production.csv") {
		c := b.cell(r["pile"], r["time"])
		b.made[c] += r.number(t, "net [t]") / (1 + b.moisture[c])
	}
	for _, r := range rows(t, y, "loads.csv") {
		c := b.cell(r["pile"], r["time"])
		b.sold[c] += r.number(t, "net [t]") / (1 + b.moisture[c])
	}
	for _, r := range rows(t, y, "transfers.csv") {
		from, to := b.cell(r["from pile"], r["time"]), b.cell(r["to pile"], r["time"])
		solids := r.number(t, "net [t]") / (1 + b.moisture[from])
		b.moved[from] += solids
		b.arrived[to] += solids
	}
	return b
}

func (b *balances) cell(pile, at string) cell { return cell{pile, b.months[at[:7]]} }

// residual is the survey before, with what came and without what went, less the survey that ends the month.
func (b *balances) residual(c cell) float64 {
	before := cell{c.pile, c.month - 1}
	return b.surveyed[before] + b.made[c] + b.arrived[c] - b.sold[c] - b.moved[c] - b.surveyed[c]
}

func tonnes(g simyard.Grams) float64 { return float64(g) / 1e6 }
func fraction(e simyard.PPB) float64 { return float64(e) / 1e9 }
