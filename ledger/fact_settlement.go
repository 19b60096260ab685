package ledger

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// ExceptionStatus says how an exception of the register stands. The zero value is no status.
type ExceptionStatus uint8

// The statuses.
const (
	ExceptionOpen      ExceptionStatus = iota + 1
	ExceptionExplained                 // words say why it is as it is; no stone moved because of it
	ExceptionSettled                   // records were written that set the book right
	ExceptionWaived                    // left as it is, on somebody's word
)

var exceptionStatusNames = [...]string{ExceptionOpen: "open", ExceptionExplained: "explained", ExceptionSettled: "settled",
	ExceptionWaived: "waived"}

// String returns open, explained, settled or waived.
func (s ExceptionStatus) String() string { return nameOf(exceptionStatusNames[:], int(s)) }

// ParseExceptionStatus reads what String writes.
func ParseExceptionStatus(s string) (ExceptionStatus, error) {
	if i := indexFold(exceptionStatusNames[:], s); i > 0 {
		return ExceptionStatus(i), nil
	}
	return 0, fmt.Errorf("%q is not a status; want one of %s", s, listNames(exceptionStatusNames[:]))
}

// Settlement states how an exception of the register was dealt with. It repeats what the exception was, so that
// the register still shows it when the records no longer do.
type Settlement struct {
	Exception string // its ID
	Rule      string
	Status    ExceptionStatus
	How       string // what was done, in a word or two
	Reason    string

	Pile    string // code; empty where it is about none
	Mass    Mass   // as weighed
	At      time.Time
	Seen    string
	Records []string // IDs of the records that it is about
	Wrote   []string // IDs of the records that settled it
	Decided time.Time
}

// Correction moves stone in the book because of an exception, without a weighing of its own: between piles, out
// of a pile by estimate, or between what a survey left unexplained and an explanation.
type Correction struct {
	Exception string // the one that it settles
	Number    int    // among the corrections of that exception, from 1
	At        time.Time
	From, To  End
	Pile      string // whose moisture parts the mass
	Net       Mass   // as weighed
	Estimated bool
	Reason    string
}

// End is where a correction takes stone from or puts it: an account of its yard.
type End struct {
	Kind AccountKind // pile, out or shrinkage
	Name string      // code, purpose, "unexplained" or "explained CAUSE"
}

// String returns kind:name.
func (e End) String() string { return e.Kind.String() + ":" + e.Name }

// ParseEnd reads what String writes.
func ParseEnd(s string) (End, error) {
	kind, name, _ := strings.Cut(s, ":")
	i := indexFold(accountKindNames[:], kind)
	e := End{AccountKind(max(i, 0)), name}
	return e, e.validate()
}

// validate keeps corrections to accounts that a person may move stone between.
func (e End) validate() error {
	ok := false
	switch e.Kind {
	case KindPile:
		ok = IsCode(e.Name)
	case KindOut:
		_, err := ParsePurpose(e.Name)
		ok = err == nil
	case KindShrinkage:
		cause, explained := strings.CutPrefix(e.Name, explainedPrefix)
		ok = e.Name == ShrinkageUnexplained || explained && IsCode(cause)
	}
	if !ok {
		return fmt.Errorf("%q: want a pile, a purpose of going out, or shrinkage, unexplained or explained", e)
	}
	return nil
}

// ExplainedBy returns the shrinkage account of a cause.
func ExplainedBy(cause string) End { return End{KindShrinkage, explainedPrefix + cause} }

func (Settlement) Kind() Kind { return KindSettlementRecord }
func (Correction) Kind() Kind { return KindCorrectionRecord }

// Key is the exception's ID.
func (s Settlement) Key() string { return s.Exception }

// Key is the exception's ID and the number of the correction.
func (c Correction) Key() string { return joinKey(c.Exception, strconv.Itoa(c.Number)) }

func (Settlement) at() time.Time   { return time.Time{} }
func (c Correction) at() time.Time { return c.At }

func (s Settlement) validate() error {
	switch {
	case s.Exception == "" || s.Rule == "" || s.Status == 0:
		return errors.New("settlement: want an exception, its rule and a status")
	case strings.TrimSpace(s.Reason) == "" || s.Decided.IsZero():
		return errors.New("settlement: want a reason and when it was decided")
	}
	return nil
}

func (c Correction) validate() error {
	switch {
	case c.Exception == "" || c.Number < 1:
		return errors.New("correction: want the exception that it settles and a number")
	case c.From == c.To:
		return fmt.Errorf("correction from %v to itself", c.From)
	case plugs(c.From, c.To) || plugs(c.To, c.From):
		return errors.New("correction between a pile and unexplained shrinkage: only a survey may do that")
	case c.Net == 0:
		return errors.New("correction: want a mass above zero")
	}
	return errors.Join(c.From.validate(), c.To.validate(), checkCode("pile", c.Pile), checkMovement(c.At, c.Net))
}

// plugs reports whether stone would go from a pile into what nobody can explain, which would set the book to any
// figure one likes.
func plugs(from, to End) bool {
	return from.Kind == KindPile && to.Kind == KindShrinkage && to.Name == ShrinkageUnexplained
}

func (s Settlement) fields(w *fieldWriter) {
	w.text("exception", s.Exception)
	w.text("rule", s.Rule)
	w.text("status", s.Status.String())
	w.text("how", s.How)
	w.text("reason", s.Reason)
	w.text("pile", s.Pile)
	w.mass("mass_g", s.Mass)
	w.time("time", s.At)
	w.text("seen", s.Seen)
	w.text("records", strings.Join(s.Records, "\n"))
	w.text("wrote", strings.Join(s.Wrote, "\n"))
	w.time("decided", s.Decided)
}

func (c Correction) fields(w *fieldWriter) {
	w.text("exception", c.Exception)
	w.count("number", c.Number)
	w.time("time", c.At)
	w.text("from", c.From.String())
	w.text("to", c.To.String())
	w.text("pile", c.Pile)
	w.mass("net_g", c.Net)
	if c.Estimated {
		w.text("basis", basisEstimate)
	}
	w.text("reason", c.Reason)
}

// basisEstimate marks a correction whose mass nobody weighed.
const basisEstimate = "estimate"

func readSettlement(d *fieldReader) Fact {
	status, err := ParseExceptionStatus(d.text("status"))
	if err != nil {
		d.fail("status", err)
	}
	lines := func(name string) []string {
		return strings.FieldsFunc(d.text(name), func(r rune) bool { return r == '\n' })
	}
	return Settlement{Exception: d.text("exception"), Rule: d.text("rule"), Status: status, How: d.text("how"), Reason: d.text("reason"),
		Pile: d.text("pile"), Mass: d.optionalMass("mass_g"), At: d.time("time"), Seen: d.text("seen"), Records: lines("records"), Wrote: lines("wrote"), Decided: d.time("decided")}
}

func readCorrection(d *fieldReader) Fact {
	end := func(name string) End {
		e, err := ParseEnd(d.text(name))
		if err != nil {
			d.fail(name, err)
		}
		return e
	}
	return Correction{Exception: d.text("exception"), Number: d.count("number"), At: d.time("time"), From: end("from"), To: end("to"),
		Pile: d.text("pile"), Net: d.mass("net_g"), Estimated: d.text("basis") == basisEstimate, Reason: d.text("reason")}
}
