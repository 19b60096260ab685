package report

import (
	"fmt"
	"io"
	"time"

	"repose/internal/audit"
	"repose/ledger"
)

// Rolls carries counted stock from surveys to the end of a month: forward from the surveys of the month, and back from
// those of the next.
type Rolls struct {
	Schema int        `json:"schema"`
	Yard   string     `json:"yard"`
	Period string     `json:"period"`
	Lines  []RollLine `json:"rolls"`
	zone   *time.Location
}

// RollLine is one roll.
type RollLine struct {
	Pile   string     `json:"pile"`
	Survey string     `json:"survey"`
	Way    string     `json:"way"` // forward, back
	At     time.Time  `json:"survey_at"`
	Found  Tonnes     `json:"survey_solids_t"`
	Moves  []RollMove `json:"moves"`
	AtEnd  Tonnes     `json:"rolled_solids_t"`
	Book   Tonnes     `json:"book_solids_t"` // at the month's end
	Excess Tonnes     `json:"book_less_rolled_t"`
}

// RollMove is what moved in one way, as it changes the running figure.
type RollMove struct {
	What    string `json:"what"`
	Solids  Tonnes `json:"solids_t"`
	Records int    `json:"records"`
}

// NewRolls returns an empty list.
func NewRolls(yard string, p ledger.Period, zone *time.Location) *Rolls {
	return &Rolls{Schema: Schema, Yard: yard, Period: p.String(), Lines: []RollLine{}, zone: zone}
}

// Add adds a roll. book is the pile's closing figure.
func (r *Rolls) Add(survey string, x *audit.Roll, book ledger.Mass) {
	l := RollLine{Pile: x.Pile, Survey: survey, Way: "forward", At: x.From.At, Found: Tonnes(x.Start), Moves: []RollMove{}, AtEnd: Tonnes(x.End), Book: Tonnes(book), Excess: Tonnes(book - x.End)}
	if x.Back() {
		l.Way = "back"
	}
	for _, m := range x.Lines {
		l.Moves = append(l.Moves, RollMove{m.Column.String(), Tonnes(m.Solids), m.Records})
	}
	r.Lines = append(r.Lines, l)
}

// WriteText writes the rolls in a unit of mass.
func (r *Rolls) WriteText(w io.Writer, u Unit) error {
	fmt.Fprintf(w, "From surveys to the end of %s, yard %s; solids in %s\n\n", r.Period, r.Yard, u.Mass)
	t := NewTable("pile", "survey", "way", "from", "what", ">solids", ">records")
	for _, l := range r.Lines {
		t.Row(l.Pile, l.Survey, l.Way, l.At.In(r.zone).Format("2006-01-02 15:04"), "found", u.Format(l.Found.Mass()), "")
		for _, m := range l.Moves {
			t.Row("", "", "", "", m.What, u.Format(m.Solids.Mass()), fmt.Sprint(m.Records))
		}
		t.Row("", "", "", "", "at the end of the month", u.Format(l.AtEnd.Mass()), "")
		t.Row("", "", "", "", "book less that", u.Format(l.Excess.Mass()), "")
	}
	_, err := t.WriteTo(w)
	return err
}
