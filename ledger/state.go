package ledger

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// Base is what a pile's next survey is measured from: the last survey, or the opening of the book, and
// the solids that came and went since.
type Base struct {
	Record  string // ID of the survey or the opening
	At      time.Time
	Solids  Mass // what the survey found, or the opening stated
	In, Out Mass // since then; what a survey's adjustment moved is in neither

	// Explained and Expected are what went out of the book as shrinkage since the base, with a cause and as allowed
	// for. The balance from survey to survey does not count them: nothing was weighed.
	Explained, Expected Mass

	Streams Streams
}

// Stream is one way into or out of a pile through one instrument. Its weighings share an error for as
// long as the instrument is not calibrated anew.
type Stream struct {
	Way        Column
	Instrument string    // belt, loader or deck; empty where nobody stated one
	Epoch      time.Time // from when on the instrument is as it was; zero where the register does not say
	Other      string    // the other pile of a transfer
}

// Compare orders streams by way, instrument, epoch and other pile.
func (s Stream) Compare(t Stream) int {
	return cmp.Or(cmp.Compare(s.Way, t.Way), cmp.Compare(s.Instrument, t.Instrument), s.Epoch.Compare(t.Epoch), cmp.Compare(s.Other, t.Other))
}

// StreamTotal is what came through a stream: solids, into the pile if positive, in so many weighings.
type StreamTotal struct {
	Solids    Mass
	Weighings int
}

// Streams holds the totals of streams. A nil Streams is empty.
type Streams map[Stream]StreamTotal

// Sorted returns the streams in order.
func (s Streams) Sorted() []Stream { return slices.SortedFunc(maps.Keys(s), Stream.Compare) }

// Throughput is the larger of what came in and what went out since the base.
func (b Base) Throughput() Mass { return max(b.In, b.Out) }

// isSurvey reports whether the base is a survey, and not what the book opened with.
func (b Base) isSurvey() bool { return strings.HasPrefix(b.Record, KindSurveyRecord.String()+":") }

// allowed writes what went out as shrinkage that no survey found, where any did.
func (b Base) allowed(w *fieldWriter, explained, expected string) {
	if b.Explained != 0 {
		w.mass(explained, b.Explained)
	}
	if b.Expected != 0 {
		w.mass(expected, b.Expected)
	}
}

// allow counts shrinkage of the pile that no survey found.
func (b *Base) allow(c Column, solids Mass) {
	if c == ColumnExplained {
		b.Explained += solids
	} else {
		b.Expected += solids
	}
}

// Reading is the last reading of a belt's totaliser.
type Reading struct {
	At    time.Time
	Shown Mass
}

// State is all that one month of a yard hands on to the next.
type State struct {
	Balances Balances
	Readings map[string]Reading // by belt
	Bases    map[PileID]Base
}

// NewState returns the state of a yard whose book is empty.
func NewState() State {
	return State{Balances{}, map[string]Reading{}, map[PileID]Base{}}
}

// Clone returns a copy that shares nothing with s.
func (s State) Clone() State {
	bases := maps.Clone(s.Bases)
	for id, b := range bases {
		b.Streams = maps.Clone(b.Streams)
		bases[id] = b
	}
	return State{maps.Clone(s.Balances), maps.Clone(s.Readings), bases}
}

// Lines returns the state as canonical lines of JSON, sorted, for sealing.
func (s State) Lines() []string {
	var lines []string
	line := func(write func(w *fieldWriter)) { lines = append(lines, sealLine(write)) }
	for _, a := range s.Balances.Accounts() {
		line(func(w *fieldWriter) {
			w.text("balance", a.String())
			w.mass("solids_g", s.Balances[a].Solids)
			w.mass("water_g", s.Balances[a].Water)
		})
	}
	for _, belt := range slices.Sorted(maps.Keys(s.Readings)) {
		line(func(w *fieldWriter) {
			w.text("reading", belt)
			w.time("at", s.Readings[belt].At)
			w.mass("shown_g", s.Readings[belt].Shown)
		})
	}
	piles := slices.SortedFunc(maps.Keys(s.Bases), func(a, b PileID) int {
		return cmp.Or(cmp.Compare(a.Yard, b.Yard), cmp.Compare(a.Code, b.Code))
	})
	for _, id := range piles {
		b := s.Bases[id]
		line(func(w *fieldWriter) {
			w.text("base", id.Account().String())
			w.text("record", b.Record)
			w.time("at", b.At)
			w.mass("solids_g", b.Solids)
			w.mass("in_g", b.In)
			w.mass("out_g", b.Out)
			b.allowed(w, "explained_g", "expected_g")
		})
		for _, stream := range b.Streams.Sorted() {
			line(func(w *fieldWriter) {
				w.text("stream", id.Account().String())
				stream.fields(w, b.Streams[stream])
			})
		}
	}
	return lines
}

// sealLine returns one canonical line of JSON.
func sealLine(write func(w *fieldWriter)) string {
	w := fieldWriter{line: []byte{'{'}, body: 1}
	write(&w)
	return string(append(w.line, '}'))
}

func (s Stream) fields(w *fieldWriter, t StreamTotal) {
	w.text("way", s.Way.String())
	w.text("instrument", s.Instrument)
	w.time("epoch", s.Epoch)
	w.text("other", s.Other)
	w.mass("solids_g", t.Solids)
	w.count("weighings", t.Weighings)
}

func (d *fieldReader) stream() (Stream, StreamTotal) {
	way := slices.Index(columnNames[:], d.text("way"))
	if way < 0 {
		d.fail("way", ErrBody)
	}
	return Stream{Column(way), d.text("instrument"), d.time("epoch"), d.text("other")},
		StreamTotal{d.mass("solids_g"), d.count("weighings")}
}

// ParseState reads what Lines wrote.
func ParseState(lines []string) (State, error) {
	s := NewState()
	for _, line := range lines {
		d, err := parseBody([]byte(line))
		if err != nil {
			return State{}, fmt.Errorf("sealed line %.60q: %w", line, err)
		}
		s.readLine(d)
		if d.err != nil {
			return State{}, fmt.Errorf("sealed line %.60q: %w", line, d.err)
		}
	}
	return s, nil
}

func (s State) readLine(d *fieldReader) {
	account := func(name string) Account {
		a, err := ParseAccount(d.text(name))
		if err != nil {
			d.fail(name, err)
		}
		return a
	}
	switch {
	case d.text("balance") != "":
		s.Balances[account("balance")] = Amount{d.mass("solids_g"), d.mass("water_g")}
	case d.text("reading") != "":
		s.Readings[d.text("reading")] = Reading{d.time("at"), d.mass("shown_g")}
	case d.text("base") != "":
		a := account("base")
		s.Bases[PileID{a.Yard, a.Name}] = Base{Record: d.text("record"), At: d.time("at"), Solids: d.mass("solids_g"), In: d.mass("in_g"),
			Out: d.mass("out_g"), Explained: d.optionalMass("explained_g"), Expected: d.optionalMass("expected_g"), Streams: Streams{}}
	case d.text("stream") != "":
		a := account("stream")
		base, ok := s.Bases[PileID{a.Yard, a.Name}]
		if !ok {
			d.fail("stream", ErrBody)
			return
		}
		stream, total := d.stream()
		base.Streams[stream] = total
	default:
		d.fail("balance, reading, base or stream", ErrBody)
	}
}
