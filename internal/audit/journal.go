package audit

import (
	"cmp"
	"slices"
	"time"

	"repose/ledger"
)

// Manual is an entry that a person made, and no instrument. The facts that a book may lack are nil or zero, and the rules
// that need them are silent then.
type Manual struct {
	ID, Kind string
	By       string    // as records name who wrote them
	Recorded time.Time // when it was written
	At       time.Time // the instant that it is about
	Reason   string
	From, To string      // accounts, as [ledger.Account.String] writes them
	Mass     ledger.Mass // solids, zero or more
	Reverses string      // ID of the entry that it takes back
	Closed   time.Time   // when the period of At was closed; zero where it is open

	Pile       string       // the pile that it is about
	PileAfter  *ledger.Mass // solids that the book has in the pile after it
	SurveyMass *ledger.Mass // solids that the survey found; nil also where a rule of the yard, and nobody's choice, took it
	Limit      *ledger.Mass // the yard's limit for the difference
	NextSurvey time.Time    // the end of the first survey of the pile after At
}

// Options are what the rules go by. A zero field stands for its default, after the colon; the defaults are our own
// judgement, no standard sets them.
type Options struct {
	EdgeDays   int         // working days at a month's edges: 2
	Round      ledger.Mass // a mass that is a multiple of it is round: 100 t
	Reason     int         // characters that a reason has at least: 10
	Seldom     int         // entries in 12 months below which a writer is seldom: 3
	SeldomPair int         // entries in 12 months below which a pair of accounts is: 3
	Reversal   int         // days within which an entry is taken back soon: 3
	Split      int         // days within which entries are taken together: 3

	// Approval is the mass from which on an entry needs approval. Zero is none.
	Approval ledger.Mass

	// The night by the yard's clock, in hours, where no staffed hours are known: from 20 until 5. Both zero stand for that.
	NightFrom, NightUntil int
}

func (o Options) orDefault() Options {
	o.EdgeDays = cmp.Or(o.EdgeDays, 2)
	o.Round = cmp.Or(o.Round, 100*ledger.Tonne)
	o.Reason = cmp.Or(o.Reason, 10)
	o.Seldom = cmp.Or(o.Seldom, 3)
	o.SeldomPair = cmp.Or(o.SeldomPair, 3)
	o.Reversal = cmp.Or(o.Reversal, 3)
	o.Split = cmp.Or(o.Split, 3)
	if o.NightFrom == 0 && o.NightUntil == 0 {
		o.NightFrom, o.NightUntil = 20, 5
	}
	return o
}

// Journal is the manual entries of a yard. Entries written from From up to, not including, Until are screened; those of the
// 12 months before say what is usual and should be there.
type Journal struct {
	Entries     []Manual
	From, Until time.Time
	Calendar    Calendar
	Options     Options
}

// Flag says that a rule of the screen caught an entry. It says what to look at, and of nobody that it is wrong.
type Flag struct{ Rule, ID, Text string }

// Screen returns what the rules catch, in the order in which the entries were written, then of the rules.
func (j Journal) Screen() []Flag {
	s := j.screener()
	flags := []Flag{}
	for i, m := range s.entries {
		if m.Recorded.Before(j.From) || !m.Recorded.Before(j.Until) {
			continue
		}
		for _, r := range journalRules {
			if text := r.look(s, i); text != "" {
				flags = append(flags, Flag{r.name, m.ID, text})
			}
		}
	}
	return flags
}

// JournalRules returns the names of the rules in order, so that a report can also name those that caught nothing.
func JournalRules() []string {
	names := make([]string, len(journalRules))
	for i, r := range journalRules {
		names[i] = r.name
	}
	return names
}

// screener holds the entries in order of writing, and for each writer and pair of accounts the places of theirs.
type screener struct {
	entries  []Manual
	writer   []int // by entry: which writer
	byWriter [][]int
	byPair   map[accountPair][]int
	byID     map[string]int
	calendar Calendar
	options  Options
}

type accountPair struct{ from, to string }

func (m Manual) pair() accountPair { return accountPair{m.From, m.To} }

func (j Journal) screener() *screener {
	s := &screener{entries: slices.Clone(j.Entries), byPair: map[accountPair][]int{}, byID: map[string]int{},
		calendar: j.Calendar, options: j.Options.orDefault()}
	slices.SortFunc(s.entries, func(a, b Manual) int { return cmp.Or(a.Recorded.Compare(b.Recorded), cmp.Compare(a.ID, b.ID)) })
	for i, m := range s.entries {
		w := slices.IndexFunc(s.byWriter, func(places []int) bool { return ledger.SamePerson(s.entries[places[0]].By, m.By) })
		if w < 0 {
			w = len(s.byWriter)
			s.byWriter = append(s.byWriter, nil)
		}
		s.writer = append(s.writer, w)
		s.byWriter[w] = append(s.byWriter[w], i)
		s.byPair[m.pair()] = append(s.byPair[m.pair()], i)
		s.byID[m.ID] = i
	}
	return s
}

// upTo returns those of some places, in order, that were written after an instant and not after entry i.
func (s *screener) upTo(i int, places []int, after time.Time) []int {
	end, _ := slices.BinarySearch(places, i+1)
	start, _ := slices.BinarySearchFunc(places[:end], after, func(place int, t time.Time) int {
		if s.entries[place].Recorded.After(t) {
			return 1
		}
		return -1
	})
	return places[start:end]
}
