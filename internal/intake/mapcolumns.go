package intake

import (
	"maps"
	"slices"
	"strconv"
	"strings"

	"repose/internal/table"
)

// mappedColumn is one column that a map makes: of our table, or of the yard's own where tag is set.
type mappedColumn struct {
	key      string // as the map writes it
	spec     *Column
	tag      string
	from     string // their header
	clock    string // their header of the time of day, where from is the date's
	constant string // in place of both
	unit     unit
	words    map[string]string
	ours     []string // what words translates to
}

// The sections of a map.
const (
	sectionColumns   = "columns"
	sectionConstants = "constants"
	sectionValues    = "values"
)

// newColumn resolves a key of [columns] or [constants], which may name a unit in square brackets.
func (m *Map) newColumn(key, section string, check mapCheck) (c mappedColumn, unitName string, ok bool) {
	c.key = key
	if name, ok := tagName(key); ok {
		if c.tag = name; name == "" {
			check(quote(key), "a name of your own after "+strconv.Quote(TagPrefix), section, key)
		}
		return c, "", name != ""
	}
	h := parseHeading(key)
	if c.spec = m.table.find(h.name); c.spec == nil {
		names := m.table.columnNames()
		check(quote(key), "a column of "+m.table.Name+": "+strings.Join(names, ", ")+didYouMean(h.name, names), section, key)
		return c, "", false
	}
	same := func(d mappedColumn) bool { return d.spec == c.spec }
	if slices.ContainsFunc(m.columns, same) {
		check(quote(key)+" a second time", "each column once, in [columns] or in [constants]", section, key)
		return c, "", false
	}
	return c, h.unit, true
}

// setColumns resolves [columns].
func (m *Map) setColumns(check mapCheck) {
	for _, key := range slices.Sorted(maps.Keys(m.text.Columns)) {
		c, unitName, ok := m.newColumn(key, sectionColumns, check)
		if !ok {
			continue
		}
		t := m.text.Columns[key]
		if unitName != "" {
			check(quote(key), parseHeading(key).name+` = { from = "header", unit = "`+unitName+`" }`, sectionColumns, key)
			continue
		}
		c.from = t.From
		if t.Date != "" || t.Time != "" {
			isTime := c.spec != nil && (c.spec.Holds == Time || c.spec.Holds == Date || c.spec.Holds == LastDate)
			if !isTime || t.Date == "" || t.Time == "" || t.From != "" || t.Unit != "" {
				check(quote(key)+" of a date and a time", `{ date = "header", time = "header" }, for a column that holds a time`, sectionColumns, key)
				continue
			}
			c.from, c.clock = t.Date, t.Time
		}
		if strings.TrimSpace(c.from) == "" {
			check(quote(key)+" of no header", `"header", { from = "header", unit = "kg" } or { date = "header", time = "header" }`, sectionColumns, key)
			continue
		}
		if t.Unit == "" && c.spec != nil && c.spec.Holds.Units() != nil {
			t.Unit = parseHeading(c.from).unit // their header may name the unit as ours do
		}
		if m.setUnit(&c, t.Unit, sectionColumns, check) {
			m.columns = append(m.columns, c)
		}
	}
}

// setUnit resolves the unit of a column.
func (m *Map) setUnit(c *mappedColumn, name, section string, check mapCheck) (ok bool) {
	if c.spec == nil {
		if name != "" {
			check("the unit "+quote(name), "no unit, as the column is kept as it is", section, c.key)
		}
		return name == ""
	}
	if c.unit, ok = c.spec.Holds.parseUnit(name); ok {
		return true
	}
	found := "the unit " + quote(name)
	if name == "" {
		found = quote(c.key) + " without a unit"
	}
	units := c.spec.Holds.Units()
	switch {
	case units == nil:
		check(found, "no unit, as "+c.spec.Name+" has none", section, c.key)
	case c.constant != "":
		check(found, wantedUnits(c.spec), section, c.key)
	default:
		check(found, "{ from = "+strconv.Quote(c.from)+", unit = one of "+quoteAll(units)+" }", section, c.key)
	}
	return false
}

// setConstants resolves [constants].
func (m *Map) setConstants(check mapCheck) {
	for _, key := range slices.Sorted(maps.Keys(m.text.Constants)) {
		c, unitName, ok := m.newColumn(key, sectionConstants, check)
		if !ok {
			continue
		}
		if c.constant = strings.TrimSpace(m.text.Constants[key]); c.constant == "" {
			check(quote(key)+" of nothing", "what every row holds", sectionConstants, key)
			continue
		}
		if m.setUnit(&c, unitName, sectionConstants, check) {
			m.columns = append(m.columns, c)
		}
	}
}

// setValues resolves [values.COLUMN].
func (m *Map) setValues(check mapCheck) {
	for _, key := range slices.Sorted(maps.Keys(m.text.Values)) {
		spec := m.table.find(key)
		i := slices.IndexFunc(m.columns, func(c mappedColumn) bool { return spec != nil && c.spec == spec && c.from != "" })
		if i < 0 || spec.Holds != Word && spec.Holds != Code && spec.Holds != Text && spec.Holds != Day {
			check("values of "+quote(key), "a column named in [columns] that holds words", sectionValues, key)
			continue
		}
		c := &m.columns[i]
		c.words = map[string]string{}
		for _, theirs := range slices.Sorted(maps.Keys(m.text.Values[key])) {
			ours := strings.TrimSpace(m.text.Values[key][theirs])
			if spec.Holds == Word && indexFolded(spec.Words, ours) < 0 {
				check(quote(ours), "one of "+quoteAll(spec.Words), sectionValues, key, theirs)
				continue
			}
			c.words[strings.TrimSpace(theirs)] = ours
			c.ours = append(c.ours, ours)
		}
	}
}

// checkNeeds looks for columns that every file of the table must have and the map does not make.
func (m *Map) checkNeeds(check mapCheck) {
	makes := func(spec *Column) bool {
		return slices.ContainsFunc(m.columns, func(c mappedColumn) bool { return c.spec == spec })
	}
	for i := range m.table.Columns {
		if c := &m.table.Columns[i]; c.Need != Optional && !makes(c) {
			check("no column "+quote(c.Name), "one in [columns] or [constants]", sectionColumns)
		}
	}
	for _, group := range m.table.OneOf {
		if !slices.ContainsFunc(group, func(name string) bool { return makes(m.table.find(name)) }) {
			check("none of the columns "+quoteAll(group), "one of them in [columns] or [constants]", sectionColumns)
		}
	}
}

// bindMap ties a file by a map.
func bindMap(m *Map, r *table.Reader) *binding {
	b := newBinding(m.table, r)
	b.mapped, b.numbers, b.layout, b.repeated = m, m.numbers, m.dates, m.repeated
	header := r.Header().Cells
	used := make([]bool, len(header))
	for i := range m.columns {
		m.columns[i].bind(b, header, used)
	}
	for i, cell := range header {
		if !used[i] && strings.TrimSpace(cell) != "" {
			b.ignored = append(b.ignored, strings.TrimSpace(cell))
		}
	}
	return b
}

// bind ties one column of the map to the header.
func (c *mappedColumn) bind(b *binding, header []string, used []bool) {
	find := func(name string) int {
		if name == "" {
			return -1
		}
		at := -1
		for i, cell := range header {
			if fold(cell) != fold(name) {
				continue
			}
			if at >= 0 {
				b.fail(i, quote(cell)+" a second time", "one column of that name, as "+b.mapped.name+" takes "+c.key+" from it")
			}
			at = i
			used[i] = true
		}
		if at < 0 {
			b.fail(-1, "the columns "+quoteAll(header), quote(name)+", from which "+b.mapped.name+" takes "+c.key+didYouMean(name, header))
		}
		return at
	}
	at, clockAt := find(c.from), find(c.clock)
	if c.spec == nil {
		b.addTag(boundTag{name: c.tag, at: at, constant: c.constant}, at)
		return
	}
	b.columns[c.spec.field] = boundColumn{spec: c.spec, at: at, clockAt: clockAt, constant: c.constant, key: c.key,
		unit: c.unit, words: c.words, ours: c.ours}
}
