package report

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"repose/ledger"
)

// Totals is what a yard's month made, loaded out and moved, by columns of the records.
type Totals struct {
	Schema int           `json:"schema"`
	Yard   string        `json:"yard"`
	Period string        `json:"period"`
	At     *time.Time    `json:"at,omitempty"` // where only what happened by then is in it
	By     []string      `json:"by"`
	Groups []TotalsGroup `json:"groups"`
	Total  []TotalsGroup `json:"total"` // one for every movement
}

// TotalsGroup is the sum of the records that agree in the columns.
type TotalsGroup struct {
	Movement string            `json:"movement"` // made, loaded out, moved, fed, returned, opened
	By       map[string]string `json:"by"`
	Records  int               `json:"records"`
	AsIs     Tonnes            `json:"as_weighed_t"`
	Solids   Tonnes            `json:"solids_t"`
	values   []string
}

var movementNames = map[ledger.Kind]string{
	ledger.KindProductionRecord: "made", ledger.KindLoadRecord: "loaded out", ledger.KindTransferRecord: "moved",
	ledger.KindFeedRecord: "fed", ledger.KindReturnRecord: "returned", ledger.KindOpeningRecord: "opened",
}

// TotalsBuilder sums entries into groups.
type TotalsBuilder struct {
	reg    *ledger.Register
	by     []string
	groups map[string]*TotalsGroup
	sums   map[string]*TotalsGroup
}

// NewTotals returns a builder that groups by the named columns or tags; names do not mind case.
func NewTotals(reg *ledger.Register, by []string) *TotalsBuilder {
	names := make([]string, len(by))
	for i, b := range by {
		names[i] = strings.ToLower(strings.Join(strings.Fields(b), " "))
	}
	return &TotalsBuilder{reg, names, map[string]*TotalsGroup{}, map[string]*TotalsGroup{}}
}

// Add counts an entry, if it is a movement.
func (b *TotalsBuilder) Add(e *ledger.Entry) error {
	movement, ok := movementNames[e.Record.Fact.Kind()]
	if !ok || len(e.Legs) == 0 {
		return nil
	}
	values := make([]string, len(b.by))
	for i, name := range b.by {
		values[i] = b.value(e, name)
	}
	group := entryIn(b.groups, movement, values)
	sum := entryIn(b.sums, movement, nil)
	group.Records++
	sum.Records++
	for _, l := range e.Legs {
		group.AsIs += Tonnes(l.AsIs())
		group.Solids += Tonnes(l.Solids)
		sum.AsIs += Tonnes(l.AsIs())
		sum.Solids += Tonnes(l.Solids)
	}
	return nil
}

func entryIn(groups map[string]*TotalsGroup, movement string, values []string) *TotalsGroup {
	key := movement + "\x00" + strings.Join(values, "\x00")
	g, ok := groups[key]
	if !ok {
		g = &TotalsGroup{Movement: movement, values: values}
		groups[key] = g
	}
	return g
}

// value returns the record's own value of a column or tag. A record without a product is of the product
// of its pile.
func (b *TotalsBuilder) value(e *ledger.Entry, name string) string {
	fields := e.Record.Fields()
	find := func(name string) string {
		for _, f := range fields {
			if strings.EqualFold(f.Name, name) {
				return f.Value
			}
		}
		return ""
	}
	v := find(name)
	if v == "" {
		v = find("tag " + name)
	}
	if v == "" && name == "pile" {
		v = find("from pile")
	}
	if v == "" && name == "product" {
		code := cmp.Or(find("pile"), find("from pile"))
		v = b.reg.Pile(ledger.PileID{Yard: e.Record.Yard, Code: code}, e.At()).Product
	}
	return v
}

// Report returns the groups in order of movement and columns.
func (b *TotalsBuilder) Report(m *ledger.Month) *Totals {
	t := &Totals{Schema: Schema, Yard: m.Yard.Code, Period: m.Period.String(), By: b.by,
		Groups: collect(b.groups, b.by), Total: collect(b.sums, nil)}
	return t
}

func collect(groups map[string]*TotalsGroup, by []string) []TotalsGroup {
	out := []TotalsGroup{}
	for _, g := range groups {
		g.By = map[string]string{}
		for i, name := range by {
			g.By[name] = g.values[i]
		}
		out = append(out, *g)
	}
	slices.SortFunc(out, func(x, y TotalsGroup) int {
		return cmp.Or(cmp.Compare(x.Movement, y.Movement), slices.Compare(x.values, y.values))
	})
	return out
}

// WriteText writes the totals for the screen in a unit of mass.
func (t *Totals) WriteText(w io.Writer, u Unit) error {
	if _, err := fmt.Fprintf(w, "Totals, yard %s, %s, in %s\n\n", t.Yard, t.Period, u.Mass); err != nil {
		return err
	}
	heads := append([]string{"movement"}, t.By...)
	table := NewTable(append(heads, ">records", ">as weighed", ">solids")...)
	row := func(g TotalsGroup, values []string) {
		cells := append([]string{g.Movement}, values...)
		table.Row(append(cells, fmt.Sprint(g.Records), u.Format(g.AsIs.Mass()), u.Format(g.Solids.Mass()))...)
	}
	for _, g := range t.Groups {
		row(g, g.values)
	}
	if len(t.By) > 0 {
		for _, g := range t.Total {
			row(g, append([]string{"all"}, make([]string, len(t.By)-1)...))
		}
	}
	_, err := table.WriteTo(w)
	return err
}
