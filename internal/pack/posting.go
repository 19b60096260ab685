package pack

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"repose/ledger"
)

// The kinds of line of a seal that a check reads. Each line is a kind, a blank and a JSON object.
const (
	entryKind = "entry"
	stateKind = "state"
)

// posting is a sealed entry, as the seal and entries.csv have it.
type posting struct {
	n        int // place in the seal, from 1
	seq      int64
	id       string // of the record
	flags    ledger.Flags
	moisture string // per cent of dry mass; empty where none was needed
	legs     []ledger.Leg
}

func postingOf(n int, e *ledger.Entry) posting {
	p := posting{n: n, seq: e.Record.Seq, id: e.Record.ID(), flags: e.Flags, legs: e.Legs}
	if pct := e.Moisture.Percent(); !pct.IsZero() {
		p.moisture = pct.String()
	}
	return p
}

// sealedEntry is the JSON of an entry in a seal.
type sealedEntry struct {
	Seq      int64        `json:"seq"`
	Record   string       `json:"record"`
	Flags    ledger.Flags `json:"flags"`
	Moisture string       `json:"moisture_pct_dry"`
	Legs     []struct {
		From   string `json:"from"`
		To     string `json:"to"`
		Solids string `json:"solids_g"`
		Water  string `json:"water_g"`
	} `json:"legs"`
}

// parsePosting reads the JSON of an entry.
func parsePosting(n int, text []byte) (posting, error) {
	var e sealedEntry
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&e); err != nil {
		return posting{}, fmt.Errorf("not an entry: %w", err)
	}
	p := posting{n: n, seq: e.Seq, id: e.Record, flags: e.Flags, moisture: e.Moisture}
	for _, l := range e.Legs {
		from, err := ledger.ParseAccount(l.From)
		if err != nil {
			return p, err
		}
		to, err := ledger.ParseAccount(l.To)
		if err != nil {
			return p, err
		}
		solids, err := strconv.ParseInt(l.Solids, 10, 64)
		if err != nil {
			return p, err
		}
		water, err := strconv.ParseInt(l.Water, 10, 64)
		if err != nil {
			return p, err
		}
		if solids < 0 || water < 0 {
			return p, errors.New("a leg with a negative mass")
		}
		leg, err := ledger.NewLeg(from, to, ledger.Amount{Solids: ledger.Mass(solids), Water: ledger.Mass(water)})
		if err != nil {
			return p, err
		}
		p.legs = append(p.legs, leg)
	}
	return p, nil
}

// seqOf reads the place in the log off the front of an entry's JSON, without the rest.
func seqOf(text []byte) (int64, bool) {
	rest, ok := bytes.CutPrefix(text, []byte(`{"seq":`))
	end := bytes.IndexByte(rest, ',')
	if !ok || end < 0 {
		return 0, false
	}
	seq, err := strconv.ParseInt(string(rest[:end]), 10, 64)
	return seq, err == nil
}

// The columns of entries.csv: first what the seal says of a leg, then where the record came from.
var (
	postingColumns = [...]string{"entry", "leg", "seq", "record", "flags", "moisture_pct_dry", "from", "to", "solids_g", "water_g"}
	originColumns  = [...]string{"at", "file", "sheet", "row"}
)

// rows returns how many rows the entry has: one a leg, and one for an entry that only says something.
func (p *posting) rows() int { return max(len(p.legs), 1) }

// appendRow appends what the seal says in row i of the entry, up to and with the comma before the record's origin.
func (p *posting) appendRow(b []byte, i int) []byte {
	cells := [len(postingColumns)]Cell{Int(int64(p.n)), Int(0), Int(p.seq), Text(p.id), Text(strings.Join(p.flags.Names(), ", ")),
		Number(p.moisture), {}, {}, Int(0), Int(0)}
	if i < len(p.legs) {
		l := p.legs[i]
		cells[1], cells[6], cells[7] = Int(int64(i+1)), Text(l.From.String()), Text(l.To.String())
		cells[8], cells[9] = Grams(l.Solids), Grams(l.Water)
	}
	return append(appendCells(b, cells[:]), ',')
}

// appendOrigin appends the rest of a row: the instant of the record, in UTC, and where it was read.
func appendOrigin(b []byte, rec *ledger.Record) []byte {
	cells := [len(originColumns)]Cell{1: Text(rec.Source.File), 2: Text(rec.Source.Sheet)}
	if !rec.At.IsZero() {
		cells[0] = Text(rec.At.UTC().Format("2006-01-02T15:04:05.999999999Z"))
	}
	if rec.Source.Row > 0 {
		cells[3] = Int(int64(rec.Source.Row))
	}
	return appendRow(b, cells[:])
}

func appendEntriesHeader(b []byte) []byte {
	return appendRow(b, texts(append(postingColumns[:], originColumns[:]...)...))
}
