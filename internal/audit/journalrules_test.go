package audit

import (
	"fmt"
	"slices"
	"testing"
	"time"
)

// change sets up a case: the entry X and the journal that it will be added to.
type change func(*Manual, *Journal)

// ruleCase is a seeded entry that trips rules, or a near miss that trips none.
type ruleCase struct {
	name   string
	change change
	rules  []string
	text   string // of the first
}

// Each rule trips on a seeded entry, alone, and not on a near miss. The entry is added to the quiet month as X, written on
// Wednesday, 21 October, at 10:00 by the yard's clock, which is 16:00 UTC.
func TestJournalRules(t *testing.T) {
	silent := JournalRules()
	for _, c := range slices.Concat(whenCases(), hourCases(), wordCases(), usualCases(), pileCases(), pairCases()) {
		j, x := quiet(t), Manual{ID: "X", Kind: "correction", By: "clerk 1", Recorded: utc("2026-10-21 16:00"), At: utc("2026-10-19 16:00"),
			Reason: "Ticket keyed to the wrong pile.", From: pileOne, To: sales, Mass: tons(31.7), Pile: "P1"}
		c.change(&x, &j)
		j.Entries = append(j.Entries, x)
		var rules, texts []string
		for _, f := range j.Screen() {
			if f.ID == "X" {
				rules, texts = append(rules, f.Rule), append(texts, f.Text)
				silent = slices.DeleteFunc(silent, func(name string) bool { return name == f.Rule })
			}
		}
		same(t, c.name, c.rules, rules)
		if c.text != "" && (len(texts) == 0 || texts[0] != c.text) {
			t.Errorf("%s: %q, want %q", c.name, texts, c.text)
		}
	}
	same(t, "rules that no entry tripped", []string{}, silent)
}

// whenCases are about the day of writing, by the yard's clock and its holidays, and about the close.
func whenCases() []ruleCase {
	return []ruleCase{
		{"nothing", func(*Manual, *Journal) {}, nil, ""},

		{"second working day", written("2026-10-02 10:00"), []string{"month's edge"}, "written on 2026-10-02, in the first 2 working days of the month"},
		{"third working day", written("2026-10-05 10:00"), nil, ""},
		{"last but one working day", written("2026-10-29 10:00"), []string{"month's edge"}, "written on 2026-10-29, in the last 2 working days of the month"},
		{"last but two", written("2026-10-28 10:00"), nil, ""},
		{"last evening, by UTC of the next month", written("2026-10-30 19:59"), []string{"month's edge"}, "written on 2026-10-30, in the last 2 working days of the month"},
		{"third to last, but a holiday follows", both(staffed(6, 18, 23, 29), written("2026-10-28 10:00")), []string{"month's edge"}, "written on 2026-10-28, in the last 2 working days of the month"},

		{"a second after the close", closed("2026-10-21 15:59"), []string{"after close"}, "written at 2026-10-21 10:00, after its period was closed at 2026-10-21 09:59"},
		{"at the close", closed("2026-10-21 16:00"), nil, ""},
	}
}

// hourCases are about nights, weekends and staffed hours.
func hourCases() []ruleCase {
	return []ruleCase{
		{"at night", written("2026-10-21 20:00"), []string{"out of hours"}, "written on Wednesday 2026-10-21 20:00, at night"},
		{"before night", written("2026-10-21 19:59"), nil, ""},
		{"early in the morning", written("2026-10-21 04:59"), []string{"out of hours"}, "written on Wednesday 2026-10-21 04:59, at night"},
		{"in the morning", written("2026-10-21 05:00"), nil, ""},
		{"on a Saturday", written("2026-10-24 10:00"), []string{"out of hours"}, "written on Saturday 2026-10-24 10:00, no working day"},
		{"on a Saturday that is a workday", both(written("2026-10-24 10:00"), func(_ *Manual, j *Journal) {
			j.Calendar.Workdays = []time.Weekday{time.Tuesday, time.Wednesday, time.Thursday, time.Friday, time.Saturday}
		}), nil, ""},
		{"on a staffed Saturday", both(staffed(6, 18, 23), written("2026-10-24 10:00")), nil, ""},
		{"after the staffed hours", both(staffed(6, 18, 23), written("2026-10-21 18:01")), []string{"out of hours"}, "written on Wednesday 2026-10-21 18:01, outside the staffed hours"},
		{"as they end", both(staffed(6, 18, 23), written("2026-10-21 18:00")), nil, ""},
		{"a staffed night", both(staffed(0, 23, 23), written("2026-10-21 21:00")), nil, ""},
		{"a holiday", both(staffed(6, 18, 23), written("2026-10-23 10:00")), []string{"out of hours"}, "written on Friday 2026-10-23 10:00, a day without staff"},
		{"a short night", both(written("2026-10-21 03:00"), night(0, 3)), nil, ""},
		{"in a short night", both(written("2026-10-21 02:59"), night(0, 3)), []string{"out of hours"}, "written on Wednesday 2026-10-21 02:59, at night"},
		{"at midnight of a short night", both(written("2026-10-21 00:00"), night(0, 3)), []string{"out of hours"}, "written on Wednesday 2026-10-21 00:00, at night"},
		{"no night at all", both(written("2026-10-21 02:59"), night(5, 5)), nil, ""},
	}
}

// wordCases are about masses and reasons.
func wordCases() []ruleCase {
	return []ruleCase{
		{"300 t", mass(300), []string{"round mass"}, "300.000 t is a multiple of 100.000 t"},
		{"1,500 t", mass(1500), []string{"round mass"}, "1500.000 t is a multiple of 500.000 t"},
		{"300.001 t", mass(300.001), nil, ""},
		{"50 t", mass(50), nil, ""},
		{"100 short tons", both(func(x *Manual, j *Journal) { x.Mass, j.Options.Round = 2*90_718_474, 90_718_474 }), []string{"round mass"}, "181.436948 t is a multiple of 90.718474 t"},

		{"no reason", reason(" "), []string{"no reason"}, "no reason"},
		{"nine characters", reason(" straßen ä\t"), []string{"no reason"}, `the reason "straßen ä" has 9 characters, want at least 10`},
		{"ten characters", reason("ten (10) x"), nil, ""},
	}
}

// usualCases are about writers and accounts.
func usualCases() []ruleCase {
	return []ruleCase{
		{"a new writer", by("clerk 3"), []string{"seldom writer"}, "number 1 of its writer in 12 months, usual from 3 on"},
		{"the second in a year", both(by("clerk 3"), another(24*30*time.Hour, func(*Manual) {})), []string{"seldom writer"}, "number 2 of its writer in 12 months, usual from 3 on"},
		{"the third in a year", both(by("clerk 3"), another(24*30*time.Hour, func(*Manual) {}), another(24*60*time.Hour, func(*Manual) {})), nil, ""},
		{"the third, over a year", both(by("clerk 3"), another(24*30*time.Hour, func(*Manual) {}), another(24*365*time.Hour, func(*Manual) {})), []string{"seldom writer"}, "number 2 of its writer in 12 months, usual from 3 on"},
		{"the same writer by another account", by("Clerk 1 (laptop)"), nil, ""},

		{"seldom accounts", usually(internal, pileOne, 1), []string{"seldom accounts"}, "number 2 from out:Y:internal to pile:Y:P1 in 12 months, usual from 3 on"},
		{"usual accounts", usually(internal, pileOne, 2), nil, ""},
		{"no accounts", usually("", "", 0), nil, ""},
	}
}

// pileCases are about what a pile is left with, and about surveys.
func pileCases() []ruleCase {
	return []ruleCase{
		{"to nothing", leaves(0, 50, 10), []string{"exactly zero"}, "leaves exactly nothing in pile P1"},
		{"nearly to nothing", leaves(0.001, 50, 10), nil, ""},
		{"to the survey", leaves(50, 50, 10), []string{"exactly survey"}, "leaves in pile P1 exactly what the survey found, 50.000 t"},
		{"nearly to the survey", leaves(50.001, 50, 10), nil, ""},
		{"to the limit", leaves(60, 50, 10), []string{"exactly limit"}, "leaves pile P1 exactly the limit of 10.000 t away from the survey"},
		{"to the limit from below", leaves(40, 50, 10), []string{"exactly limit"}, "leaves pile P1 exactly the limit of 10.000 t away from the survey"},
		{"nearly to the limit", leaves(59.999, 50, 10), nil, ""},
		{"no limit", leaves(49, 50, 0), nil, ""},
		{"words that move nothing", both(mass(0), leaves(50, 50, 10)), nil, ""},
		{"words beside the limit", both(mass(0), leaves(60, 50, 10)), nil, ""},
		{"no survey", func(m *Manual, _ *Journal) { m.PileAfter = new(tons(50)) }, nil, ""},
		{"a survey and no limit", func(m *Manual, _ *Journal) { m.PileAfter, m.SurveyMass = new(tons(60)), new(tons(50)) }, nil, ""},
		{"a limit and no survey", func(m *Manual, _ *Journal) { m.PileAfter, m.Limit = new(tons(60)), new(tons(10)) }, nil, ""},

		{"the day before the survey", survey("19 06:00", "21 05:59"), []string{"before survey"}, "takes 31.700 t out of pile:Y:P1 at 2026-10-19 00:00; its survey ended at 2026-10-20 23:59"},
		{"an hour before the survey", survey("20 16:00", "20 17:00"), []string{"before survey"}, "takes 31.700 t out of pile:Y:P1 at 2026-10-20 10:00; its survey ended at 2026-10-20 11:00"},
		{"two days before the survey", survey("19 05:59", "20 16:00"), nil, ""},
		{"after the survey", survey("20 16:01", "20 16:00"), nil, ""},
		{"into the pile before the survey", both(usually(sales, pileOne, 3), survey("19 16:00", "20 16:00")), nil, ""},
	}
}

// pairCases are about entries that undo one another or belong together.
func pairCases() []ruleCase {
	return []ruleCase{
		{"moved back", both(usually(sales, pileOne, 3), another(three, turned)), []string{"soon reversed"}, "moves back the 31.700 t of W, written at 2026-10-18 10:00"},
		{"moved back late", both(usually(sales, pileOne, 3), another(three+time.Minute, turned)), nil, ""},
		{"another mass moved back", both(usually(sales, pileOne, 3), another(three, func(m *Manual) { turned(m); m.Mass++ })), nil, ""},
		{"the same way again", another(three, func(*Manual) {}), nil, ""},
		{"taken back by name", both(another(three, func(m *Manual) { m.Mass *= 2 }), func(x *Manual, _ *Journal) { x.Reverses = "W" }), []string{"soon reversed"}, "takes back W, written at 2026-10-18 10:00"},
		{"taken back by name, late", both(another(three+time.Minute, func(*Manual) {}), func(x *Manual, _ *Journal) { x.Reverses = "W" }), nil, ""},

		{"in two parts", approval(63.4, three, func(*Manual) {}), []string{"split"}, "with W makes 63.400 t; an entry of 63.400 t would need approval"},
		{"below the limit together", approval(63.401, three, func(*Manual) {}), nil, ""},
		{"in two parts, days apart", approval(63.4, three+time.Minute, func(*Manual) {}), nil, ""},
		{"of two writers", approval(63.4, three, func(m *Manual) { m.By = "clerk 2" }), nil, ""},
		{"to two accounts", both(usually(pileOne, internal, 3), approval(63.4, three, func(m *Manual) { m.To = sales })), nil, ""},
		{"large enough to be approved", approval(31.7, three, func(m *Manual) { m.Mass = tons(10) }), nil, ""},
		{"beside an approved one", approval(31.8, three, func(m *Manual) { m.Mass = tons(31.8) }), nil, ""},
		{"words beside two parts", both(approval(63.4, time.Hour, func(*Manual) {}), another(time.Hour, func(m *Manual) { m.ID = "V" }), mass(0)), nil, ""},
	}
}

const three = 72 * time.Hour

// utc reads an instant of a table.
func utc(s string) time.Time {
	when, err := time.Parse("2006-01-02 15:04", s)
	if err != nil {
		panic(err)
	}
	return when
}

func both(changes ...change) change {
	return func(x *Manual, j *Journal) {
		for _, c := range changes {
			c(x, j)
		}
	}
}

// written dates X by the yard's clock.
func written(when string) change {
	return func(x *Manual, j *Journal) {
		w := utc(when)
		x.Recorded = time.Date(w.Year(), w.Month(), w.Day(), w.Hour(), w.Minute(), 0, 0, j.Calendar.Zone)
	}
}

func closed(when string) change { return func(x *Manual, _ *Journal) { x.Closed = utc(when) } }
func mass(m float64) change     { return func(x *Manual, _ *Journal) { x.Mass = tons(m) } }
func reason(r string) change    { return func(x *Manual, _ *Journal) { x.Reason = r } }
func by(who string) change      { return func(x *Manual, _ *Journal) { x.By = who } }
func turned(m *Manual)          { m.From, m.To = m.To, m.From }

func night(from, until int) change {
	return func(_ *Manual, j *Journal) { j.Options.NightFrom, j.Options.NightUntil = from, until }
}

// leaves says what X leaves in its pile, what the survey found and what the limit is.
func leaves(after, survey, limit float64) change {
	return func(x *Manual, _ *Journal) {
		x.PileAfter, x.SurveyMass, x.Limit = new(tons(after)), new(tons(survey)), new(tons(limit))
	}
}

// another adds an entry like X, written so long before it, and changed.
func another(before time.Duration, alter func(*Manual)) change {
	return func(x *Manual, j *Journal) {
		other := *x
		other.ID, other.Recorded = "W", x.Recorded.Add(-before)
		alter(&other)
		j.Entries = append(j.Entries, other)
	}
}

// approval sets the approval limit and adds an entry like X.
func approval(limit float64, before time.Duration, alter func(*Manual)) change {
	return func(x *Manual, j *Journal) {
		j.Options.Approval = tons(limit)
		another(before, alter)(x, j)
	}
}

// usually gives X two accounts that were used so many times in the months before.
func usually(from, to string, times int) change {
	return func(x *Manual, j *Journal) {
		for i := range times {
			j.Entries = append(j.Entries, Manual{ID: fmt.Sprint("U", i), By: "clerk 2", Recorded: j.From.AddDate(0, -2-i, 0), From: from, To: to, Mass: 1})
		}
		x.From, x.To = from, to
	}
}

// survey dates what X is about, and the end of the next survey, in October 2026.
func survey(move, end string) change {
	return func(x *Manual, _ *Journal) { x.At, x.NextSurvey = utc("2026-10-"+move), utc("2026-10-"+end) }
}

// staffed has the yard staffed at the same hours on all days but for some of October.
func staffed(open, shut int, holidays ...int) change {
	return func(x *Manual, j *Journal) {
		j.Calendar.Staffed = func(t time.Time) (from, until time.Time, ok bool) {
			y, m, d := t.In(j.Calendar.Zone).Date()
			if m == time.October && slices.Contains(holidays, d) {
				return from, until, true
			}
			return time.Date(y, m, d, open, 0, 0, 0, j.Calendar.Zone), time.Date(y, m, d, shut, 0, 0, 0, j.Calendar.Zone), true
		}
	}
}
