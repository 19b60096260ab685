package audit

import (
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"repose/ledger"
)

// journalRule is one rule of the screen: it returns what it caught of an entry, or "".
type journalRule struct {
	name string
	look func(s *screener, i int) string
}

// journalRules are the rules in the order of their flags. They answer AS 2401.62 and the characteristics of AU-C 240.49:
// period's end, after it, round numbers, little explanation, unusual writers and accounts. The rules about piles, surveys
// and limits are our own.
var journalRules = [...]journalRule{
	{"month's edge", edgeOfMonth},
	{"after close", afterClose},
	{"round mass", roundMass},
	{"no reason", noReason},
	{"seldom writer", seldomWriter},
	{"out of hours", outOfHours},
	{"seldom accounts", seldomAccounts},
	{"exactly zero", exactlyZero},
	{"exactly survey", exactlySurvey},
	{"exactly limit", exactlyLimit},
	{"soon reversed", soonReversed},
	{"split", split},
	{"before survey", beforeSurvey},
}

// edgeOfMonth catches what was written while fewer than two working days of the month had gone by, or were left.
func edgeOfMonth(s *screener, i int) string {
	date := s.calendar.dateOf(s.entries[i].Recorded)
	edge := ""
	switch n := s.options.EdgeDays; {
	case s.calendar.worksBefore(date) < n:
		edge = "first"
	case s.calendar.worksAfter(date) < n:
		edge = "last"
	default:
		return ""
	}
	return fmt.Sprintf("written on %s, in the %s %d working days of the month", date.Format(time.DateOnly), edge, s.options.EdgeDays)
}

func afterClose(s *screener, i int) string {
	m := s.entries[i]
	if m.Closed.IsZero() || !m.Recorded.After(m.Closed) {
		return ""
	}
	return fmt.Sprintf("written at %s, after its period was closed at %s", s.clock(m.Recorded), s.clock(m.Closed))
}

// roundMass names the larger multiple, five times the rounding, where it is one: 500 t beside 100 t.
func roundMass(s *screener, i int) string {
	m, unit := s.entries[i].Mass, s.options.Round
	if m == 0 || m%unit != 0 {
		return ""
	}
	if m%(5*unit) == 0 {
		unit *= 5
	}
	return fmt.Sprintf("%v is a multiple of %v", m, unit)
}

func noReason(s *screener, i int) string {
	reason := strings.TrimSpace(s.entries[i].Reason)
	switch n := utf8.RuneCountInString(reason); {
	case n == 0:
		return "no reason"
	case n < s.options.Reason:
		return fmt.Sprintf("the reason %q has %d characters, want at least %d", reason, n, s.options.Reason)
	}
	return ""
}

func seldomWriter(s *screener, i int) string {
	n := len(s.upTo(i, s.byWriter[s.writer[i]], s.yearBefore(i)))
	if n >= s.options.Seldom {
		return ""
	}
	return fmt.Sprintf("number %d of its writer in 12 months, usual from %d on", n, s.options.Seldom)
}

func seldomAccounts(s *screener, i int) string {
	m := s.entries[i]
	if m.pair() == (accountPair{}) {
		return ""
	}
	n := len(s.upTo(i, s.byPair[m.pair()], s.yearBefore(i)))
	if n >= s.options.SeldomPair {
		return ""
	}
	return fmt.Sprintf("number %d from %s to %s in 12 months, usual from %d on", n, m.From, m.To, s.options.SeldomPair)
}

func (s *screener) yearBefore(i int) time.Time { return s.entries[i].Recorded.AddDate(-1, 0, 0) }

// outOfHours goes by the staffed hours of the day, their ends included; where nobody states any, by working days and
// the night.
func outOfHours(s *screener, i int) string {
	at := s.entries[i].Recorded
	from, until, ok := s.calendar.hours(at)
	hour := s.calendar.local(at).Hour()
	why := ""
	switch {
	case ok && from.IsZero():
		why = "a day without staff"
	case ok && (at.Before(from) || at.After(until)):
		why = "outside the staffed hours"
	case ok:
		return ""
	case !s.calendar.works(s.calendar.dateOf(at)):
		why = "no working day"
	case inNight(hour, s.options.NightFrom, s.options.NightUntil):
		why = "at night"
	default:
		return ""
	}
	return fmt.Sprintf("written on %s %s, %s", s.calendar.local(at).Weekday(), s.clock(at), why)
}

// inNight reports whether an hour lies in a night that may pass midnight.
func inNight(hour, from, until int) bool {
	if from <= until {
		return from <= hour && hour < until
	}
	return hour >= from || hour < until
}

func exactlyZero(s *screener, i int) string {
	m := s.entries[i]
	if m.PileAfter == nil || *m.PileAfter != 0 || m.Mass == 0 {
		return ""
	}
	return fmt.Sprintf("leaves exactly nothing in pile %s", m.Pile)
}

func exactlySurvey(s *screener, i int) string {
	m := s.entries[i]
	if m.PileAfter == nil || m.SurveyMass == nil || *m.PileAfter != *m.SurveyMass || m.Mass == 0 {
		return ""
	}
	return fmt.Sprintf("leaves in pile %s exactly what the survey found, %v", m.Pile, *m.SurveyMass)
}

func exactlyLimit(s *screener, i int) string {
	m := s.entries[i]
	if m.PileAfter == nil || m.SurveyMass == nil || m.Limit == nil || *m.Limit == 0 || m.Mass == 0 {
		return ""
	}
	if d := *m.PileAfter - *m.SurveyMass; d.Abs() != *m.Limit {
		return ""
	}
	return fmt.Sprintf("leaves pile %s exactly the limit of %v away from the survey", m.Pile, *m.Limit)
}

// soonReversed catches the later of two entries that undo each other: by name, or as the same mass between the same
// accounts the other way.
func soonReversed(s *screener, i int) string {
	m := s.entries[i]
	after := daysBefore(m.Recorded, s.options.Reversal)
	if e, ok := s.byID[m.Reverses]; ok && m.Reverses != "" && e < i && s.entries[e].Recorded.After(after) {
		return fmt.Sprintf("takes back %s, written at %s", m.Reverses, s.clock(s.entries[e].Recorded))
	}
	if m.Mass == 0 {
		return ""
	}
	for _, e := range s.upTo(i, s.byPair[accountPair{m.To, m.From}], after) {
		if o := s.entries[e]; e != i && o.Mass == m.Mass {
			return fmt.Sprintf("moves back the %v of %s, written at %s", m.Mass, o.ID, s.clock(o.Recorded))
		}
	}
	return ""
}

// daysBefore returns the instant after which an entry lies within so many days of 24 hours, exactly so many included.
func daysBefore(t time.Time, days int) time.Time { return t.Add(-time.Duration(days)*24*time.Hour - 1) }

// split catches the entry with which one writer's entries between the same two accounts, each below the approval limit,
// reach it together.
func split(s *screener, i int) string {
	m, limit := s.entries[i], s.options.Approval
	if limit == 0 || m.Mass == 0 || m.Mass >= limit {
		return ""
	}
	after := daysBefore(m.Recorded, s.options.Split)
	sum, ids := m.Mass, []string(nil)
	for _, e := range s.upTo(i, s.byPair[m.pair()], after) {
		if o := s.entries[e]; e != i && s.writer[e] == s.writer[i] && o.Mass < limit {
			sum += o.Mass
			ids = append(ids, o.ID)
		}
	}
	if len(ids) == 0 || sum < limit {
		return ""
	}
	return fmt.Sprintf("with %s makes %v; an entry of %v would need approval", strings.Join(ids, ", "), sum, limit)
}

// beforeSurvey catches what goes out of a pile on the day before its survey ends, or on that day before it does.
func beforeSurvey(s *screener, i int) string {
	m := s.entries[i]
	if m.NextSurvey.IsZero() || !strings.HasPrefix(m.From, ledger.KindPile.String()+":") || m.At.After(m.NextSurvey) {
		return ""
	}
	if s.calendar.dateOf(m.At).AddDate(0, 0, 1).Before(s.calendar.dateOf(m.NextSurvey)) {
		return ""
	}
	return fmt.Sprintf("takes %v out of %s at %s; its survey ended at %s", m.Mass, m.From, s.clock(m.At), s.clock(m.NextSurvey))
}

// clock writes an instant by the yard's clock.
func (s *screener) clock(t time.Time) string { return s.calendar.local(t).Format("2006-01-02 15:04") }
