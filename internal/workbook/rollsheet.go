package workbook

import (
	"slices"

	"repose/ledger"
)

func (d *closeBook) declareRollForward(s *sheet) {
	titles := [2]string{"Solids by pile", "Water by pile"}
	abouts := [2]string{
		"Opening, what came in (positive), what went out (negative), closing: each column adds up the entries of its movement.",
		"The same for water, with what the weather did.",
	}
	d.roll = make(map[string]*table)
	for i, f := range facets() {
		lines := make([]flowLine, len(d.piles))
		for j, p := range d.piles {
			lines[j] = flowLine{[]value{text(p.key), text(p.product)}, p.Opening, p.closing, p.flows, p.Closing}
		}
		t, total := d.declareFlows(s, flowTable{facet: f, name: f.name, title: titles[i], about: abouts[i], in: "to", out: "from", lines: lines, main: i == 0,
			keys: []column{
				{key: "pile", head: "Pile", kind: kindText, isKey: true, width: 17, note: "the pile, by the name of its account in Entries"},
				{key: "product", head: "Product", kind: kindText, isKey: true, width: 15, note: "what lies in it at the month's end"},
			}})
		d.roll[f.name] = t
		d.checkRoll(t, f, total)
	}
	d.declareAccounts(s)
}

// checkRoll holds a roll-forward to the ledger's: each pile's closing and each column's total.
func (d *closeBook) checkRoll(t *table, f facet, total []ledger.Mass) {
	tolerance := d.sumTolerance()
	for i, p := range d.piles {
		d.check(checkRow{"Roll-forward: closing " + f.word + " of " + p.key, inTonnes,
			computed(t.cell("closing", i).String(), mass(f.of(p.closing))), mass(f.of(p.Closing)), tolerance, t.cell("closing", i)})
	}
	var sum flowLine
	for _, l := range d.close.RollForward {
		sum.opening, sum.own = plus(sum.opening, l.Opening), plus(sum.own, l.Closing)
		for c := range l.Flows {
			sum.flows[c] = plus(sum.flows[c], l.Flows[c])
		}
	}
	against := func(key, name string, found ledger.Mass, own ledger.Amount) {
		d.check(checkRow{"Roll-forward: total " + f.word + ", " + name, inTonnes,
			computed(t.totalCell(key).String(), mass(found)), mass(f.of(own)), tolerance, t.totalCell(key)})
	}
	against("opening", "opening", total[0], sum.opening)
	for i, c := range f.columns {
		against(flowKey(c), c.String(), total[i+1], sum.flows[c])
	}
	against("closing", "closing", total[len(f.columns)+1], sum.own)
}

// declareAccounts declares the balance of every account, from both ends of every entry.
func (d *closeBook) declareAccounts(s *sheet) {
	var rows [][]value
	total := make([]ledger.Mass, 10)
	broken, tolerance := 0, ledger.Mass(d.sumTolerance())
	for _, a := range d.accounts() {
		row, figures := []value{text(a.key)}, a.figures()
		for i, m := range figures {
			row = append(row, mass(m))
			total[i] += m
		}
		agrees := (figures[3]-figures[4]).Abs() <= tolerance && (figures[8]-figures[9]).Abs() <= tolerance
		if !agrees {
			broken++
		}
		rows = append(rows, append(row, check(agrees)))
	}
	t := s.table(tableSpec{name: "Accounts", title: "All accounts", columns: d.accountColumns(),
		about: "Every entry goes from one account to another, so that the sum over all accounts is zero: nothing comes from nowhere.",
		count: len(rows), rows: rowsOf(rows...), total: sumRow(1, total, 1), places: d.params.ref(paramPlaces)})
	for i, f := range facets() {
		d.check(checkRow{"Accounts: " + f.word + " over all accounts sum to zero", inTonnes,
			computed(t.totalCell(f.word+"_closing").String(), mass(total[5*i+3])), mass(0), 2 * int64(tolerance), t.totalCell(f.word + "_closing")})
	}
	d.check(checkRow{"Accounts: accounts whose closing is not the ledger's", inCounts,
		computed(notOK(t, "account", "agrees"), integer(int64(broken))),
		integer(0), 0, t.cell("agrees", 0)})
}

func (d *closeBook) accountColumns() []column {
	e := d.entries
	flow := func(amount, end string) string { return sumIfs(e.column(amount), where(e.column(end), "{account}")) }
	agrees := ""
	columns := []column{{key: "account", head: "Account", kind: kindText, isKey: true, wrap: true, width: 20, note: "kind of account and name, as in Entries"}}
	for _, f := range facets() {
		block := []column{
			d.massColumn(f.word+"_opening", "Opening "+f.word, "closing of the month before; negative for accounts that stone came from"),
			d.massColumn(f.word+"_in", headline(f.word)+" in", "entries to the account"),
			d.massColumn(f.word+"_out", headline(f.word)+" out", "entries from the account"),
			d.massColumn(f.word+"_closing", "Closing "+f.word, "opening, plus in, less out; the sum over all accounts is zero"),
			d.controlColumn(f.word+"_own", "Ledger's own "+f.word, "control: the closing that the ledger states"),
		}
		block[1].formula, block[2].formula = flow(f.word, "to"), flow(f.word, "from")
		block[3].formula = "ROUND({" + f.word + "_opening}+{" + f.word + "_in}-{" + f.word + "_out}," + d.params.ref(paramPlaces) + ")"
		columns = append(columns, block...)
		agrees += ",ABS({" + f.word + "_closing}-{" + f.word + "_own})<=" + d.params.ref(paramTolerance)
	}
	return append(columns, column{key: "agrees", head: "Agrees", kind: kindCheck, width: 10, formula: "AND(" + agrees[1:] + ")",
		note: "OK where both closings are the ledger's own, to the tolerance in Policies"})
}

// accountLine is an account over the month.
type accountLine struct {
	key                       string
	opening, in, out, closing ledger.Amount
	own                       ledger.Amount // closing, as the ledger states it
}

// figures returns opening, in, out, closing and the ledger's own, of solids and then of water.
func (a accountLine) figures() []ledger.Mass {
	var all []ledger.Mass
	for _, f := range facets() {
		for _, v := range []ledger.Amount{a.opening, a.in, a.out, a.closing, a.own} {
			all = append(all, f.of(v))
		}
	}
	return all
}

// accounts returns every account that holds or moved anything, in order.
func (d *closeBook) accounts() []accountLine {
	m := d.month
	list := slices.Concat(m.Opening.Balances.Accounts(), m.Closing.Balances.Accounts(), d.tally.movedAccounts())
	slices.SortFunc(list, ledger.Account.Compare)
	var lines []accountLine
	for _, a := range slices.Compact(list) {
		l := accountLine{key: d.names.account(a, m.Yard.Code), opening: m.Opening.Balances[a], own: m.Closing.Balances[a]}
		if t := d.tally.accounts[a]; t != nil {
			l.in, l.out = t.in, t.out
		}
		l.closing = plus(plus(l.opening, l.in), l.out.Neg())
		lines = append(lines, l)
	}
	return lines
}
