package ledger

import "strings"

// noteReplacement records which record a correction takes the place of: the one of that key, or, where
// the key is its own, the revision before. The first record of its key replaces nothing under that key.
func (r *Register) noteReplacement(rec *Record) {
	if rec.Replaces == "" || rec.Replaces == rec.Fact.Key() && rec.Revision == 0 {
		return
	}
	target := Record{Yard: rec.Yard, Fact: keyedAs{rec.Fact, rec.Replaces}}
	if rec.Replaces == rec.Fact.Key() {
		target.Revision = rec.Revision - 1
	}
	name := target.name()
	r.superseded[name.rest] = append(r.superseded[name.rest], replacement{name, rec.ID()})
	r.replacedID[rec.ID()] = target.ID()
}

// replacement says which record the record of an ID has taken the place of.
type replacement struct {
	of recordName
	by string
}

// recordName says what an ID says. Its key is cut at its first slash, so that no string has to be made of a load or a deck ticket:
// every record is looked up by what follows it.
type recordName struct {
	kind        Kind
	yard        string
	first, rest string
	isCut       bool
	revision    int
}

func (r *Record) name() recordName {
	n := recordName{kind: r.Fact.Kind(), yard: r.Yard, isCut: true, revision: r.Revision}
	switch f := r.Fact.(type) {
	case Load:
		n.first, n.rest = f.Loader, f.Ticket // a code has no slash
	case DeckTicket:
		n.first, n.rest = f.Deck, f.Ticket
	default:
		n.first, n.rest, n.isCut = strings.Cut(f.Key(), "/")
	}
	return n
}

// keyedAs is a fact under another key, to make the ID of the record that has it.
type keyedAs struct {
	Fact
	key string
}

func (k keyedAs) Key() string { return k.key }

// Superseded reports whether another record has taken this one's place.
func (r *Register) Superseded(rec *Record) bool { return r.ReplacedBy(rec) != "" }

// ReplacedBy returns the ID of the record that has taken this one's place, or "".
func (r *Register) ReplacedBy(rec *Record) (id string) {
	if len(r.superseded) == 0 {
		return "" // most books; a key is a string to be made
	}
	name := rec.name()
	for _, x := range r.superseded[name.rest] {
		if x.of == name {
			id = x.by // the last of several
		}
	}
	return id
}

// Replaced returns the ID of the record whose place this one has taken, or "".
func (r *Register) Replaced(rec *Record) string {
	if rec.Replaces == "" {
		return ""
	}
	return r.replacedID[rec.ID()]
}
