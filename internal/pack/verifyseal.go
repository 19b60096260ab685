package pack

import (
	"bytes"
	"hash/maphash"
	"io"
	"strings"

	"repose/ledger"
)

// theClose is the place of the close's record.
func (c *checker) theClose() place { return at(recordsName, int(c.end.Seq)+1) }

// checkSeals holds both seals to the hashes that their closes state, and reads what the month opened with.
func (c *checker) checkSeals() {
	if c.end == nil {
		return
	}
	c.found.SealSHA256 = c.disk[sealName].sum
	c.checkSealSum(sealName, c.end)
	before := c.history.before(c.end)
	_, held := c.disk[sealBeforeName]
	switch {
	case before == nil && held:
		c.dispute([]place{at(sealBeforeName, 0), at(recordsName, 0)}, "no close before this one stood, so there is no seal of it")
	case before == nil:
		c.flows = newFlows(ledger.Balances{})
	case held && c.checkSealSum(sealBeforeName, before):
		f := c.open(sealBeforeName)
		if f == nil {
			return
		}
		defer f.Close()
		state, err := sealedState(newLines(f))
		if err != nil {
			c.fault(at(sealBeforeName, 0), "%v", err)
			return
		}
		c.flows = newFlows(state.Balances)
	case !held && !c.there[sealBeforeName]:
		c.dispute([]place{at(sealBeforeName, 0), at(recordsName, 0)}, "it is missing: the month opened with the balances of %s", before.ID())
	}
}

// checkSealSum compares a seal with the hash in the record of its close.
func (c *checker) checkSealSum(name string, of *ledger.Record) bool {
	f, ok := c.disk[name]
	if !ok {
		return false
	}
	want := of.Fact.(ledger.Close).SealSHA256
	if f.sum != want {
		c.dispute([]place{at(name, 0), at(recordsName, int(of.Seq)+1)}, "the seal has SHA-256 %s, and the record of its close states %.70q", f.sum, want)
	}
	return f.sum == want
}

// sealCheck goes through the seal and entries.csv side by side.
type sealCheck struct {
	*checker
	flows   *flows
	table   *lines // nil where there is none, or no more of it
	state   []string
	entries int
	broken  bool // an entry could not be read or posted: sums mean nothing
	buf     []byte
}

// checkEntries holds entries.csv and balances.csv to the seal, and the seal to itself.
func (c *checker) checkEntries() {
	if c.end == nil {
		return
	}
	s := &sealCheck{checker: c, flows: c.flows}
	if s.flows == nil {
		s.flows = newFlows(ledger.Balances{})
	}
	if f := c.open(entriesName); f != nil {
		defer f.Close()
		s.table = newLines(f)
		s.checkRow(appendEntriesHeader(nil), at(sealName, 0))
	}
	if !c.each(sealName, s.line) {
		return
	}
	if s.table != nil {
		if row, err := s.table.next(); err != io.EOF {
			c.dispute([]place{at(entriesName, s.table.n), at(sealName, 0)}, "the seal has no further entry: %s", excerpt(row))
		}
	}
	c.found.Entries = s.entries
	s.checkSums()
}

// line checks the next line of the seal.
func (s *sealCheck) line(n int, text []byte) bool {
	here := at(sealName, n)
	if state, ok := cutKind(text, stateKind); ok {
		s.state = append(s.state, string(state))
	}
	entry, ok := cutKind(text, entryKind)
	if !ok {
		return true
	}
	s.entries++
	if len(s.state) > 0 || s.entries != n {
		s.fault(here, "an entry after other lines")
	}
	p, err := parsePosting(s.entries, entry)
	if err != nil {
		s.fault(here, "%v", err)
		s.broken = true
		return true
	}
	m := s.checkRecord(&p, here)
	if err := s.flows.post(&p); err != nil {
		s.fault(here, "entry of %.100q: %v", p.id, err)
		s.broken = true
	}
	for i := range p.rows() {
		s.buf = p.appendRow(s.buf[:0], i)
		if origin := s.checkRow(s.buf, here); origin != nil && m != nil && m.origin != maphash.Bytes(s.seed, origin) {
			s.dispute([]place{at(entriesName, s.table.n), at(recordsName, int(p.seq)+1)}, "the instant or the source is not that of record %d: %s", p.seq, excerpt(origin))
		}
	}
	return true
}

// checkRecord holds an entry to the record that it names, and returns the record's mark, or nil.
func (s *sealCheck) checkRecord(p *posting, here place) *mark {
	m := s.markOf(p.seq)
	if m == nil || !m.known {
		s.dispute([]place{here, at(recordsName, 0)}, "record %d, to which it points, is not in the log", p.seq)
		return nil
	}
	if m.id != maphash.String(s.seed, p.id) {
		s.dispute([]place{here, at(recordsName, int(p.seq)+1)}, "record %d is not %.100q", p.seq, p.id)
	}
	if id := strings.SplitN(p.id, ":", 3); p.seq >= s.end.Seq || len(id) < 3 || id[1] != s.end.Yard {
		s.fault(here, "%.100q is not of the yard, or not older than the close", p.id)
	}
	return m
}

// checkRow compares the beginning of the next row of entries.csv, and returns the rest of it.
func (s *sealCheck) checkRow(want []byte, sealed place) (rest []byte) {
	if s.table == nil {
		return nil
	}
	row, err := s.table.next()
	here := at(entriesName, s.table.n)
	switch {
	case err == errOpenLine:
		s.fault(here, "%v", err)
	case err != nil:
		s.dispute([]place{here, sealed}, "there are no more rows: want %s", excerpt(want))
		s.table = nil
		return nil
	}
	if s.table.n == 1 {
		row = append(row[:len(row):len(row)], '\n') // the header is whole
	}
	rest, ok := bytes.CutPrefix(row, want)
	if !ok {
		s.dispute([]place{here, sealed}, "want %s as the seal has it, found %s", excerpt(want), excerpt(row))
		return nil
	}
	return rest
}

// checkSums compares the number of entries, the closing balances and balances.csv.
func (s *sealCheck) checkSums() {
	end := s.end.Fact.(ledger.Close)
	if s.entries != end.Entries {
		s.dispute([]place{at(sealName, 0), s.theClose()}, "it has %d entries, and the close states %d", s.entries, end.Entries)
	}
	state, err := ledger.ParseState(s.state)
	if err != nil {
		s.fault(at(sealName, 0), "%v", err)
		return
	}
	if s.broken || s.checker.flows == nil {
		return
	}
	if err := checkClosing(s.flows.closing, state.Balances); err != nil {
		s.dispute([]place{at(sealName, 0), at(sealBeforeName, 0)}, "%v", err)
	}
	var b bytes.Buffer
	_ = s.flows.write(&b) // a buffer takes everything
	s.compare(balancesName, b.Bytes(), at(sealName, 0), at(sealBeforeName, 0))
}
