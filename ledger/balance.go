package ledger

import (
	"cmp"
	"fmt"
	"slices"
	"time"
)

// Balance is one pile from one survey, or from its opening, to the next survey: what measurement error
// is reckoned on. A seal keeps the balances of its month, so that the history of a yard can be had
// without reading its movements again.
type Balance struct {
	Pile        PileID
	Product     string
	Survey      string // ID of the survey at its end
	At          time.Time
	Found       Mass   // solids by that survey
	Book        Mass   // before any adjustment
	DensityTest string // key of the test that turned volume into mass
	InWindow    Mass   // solids that moved while the pile was being surveyed
	Base        Base   // the survey or opening at its beginning, with what moved since by streams
	Outcome     Outcome
}

// Residual is the base, plus what came, less what went, less the survey; positive means that stone is
// missing.
func (b *Balance) Residual() Mass { return b.Base.Solids + b.Base.In - b.Base.Out - b.Found }

// Balance returns the comparison as a balance; ok is false where there was nothing to start from or no
// density.
func (c *Comparison) Balance() (b Balance, ok bool) {
	return Balance{Pile: c.Pile, Product: c.Product, Survey: c.Record.ID(), At: c.Survey.End, Found: c.Found.Solids,
		Book: c.Book.Solids, DensityTest: c.Density.Key(), InWindow: c.windowSolids(), Base: c.Base, Outcome: c.Outcome}, c.HasBase && c.HasDensity
}

// ParseBalances reads back the balances of a sealed month from its lines of surveys and of streams, in
// the order in which the surveys ended. Surveys that were no balances are left out.
func ParseBalances(surveys, streams []string) ([]Balance, error) {
	var balances []Balance
	place := map[string]int{}
	for _, line := range surveys {
		b, ok, err := parseBalance(line)
		if err != nil {
			return nil, fmt.Errorf("sealed survey %.60q: %w", line, err)
		}
		if ok {
			place[b.Survey] = len(balances)
			balances = append(balances, b)
		}
	}
	for _, line := range streams {
		d, err := parseBody([]byte(line))
		if err != nil {
			return nil, fmt.Errorf("sealed stream %.60q: %w", line, err)
		}
		stream, total := d.stream()
		if d.err != nil {
			return nil, fmt.Errorf("sealed stream %.60q: %w", line, d.err)
		}
		if i, ok := place[d.text("survey")]; ok {
			balances[i].Base.Streams[stream] = total
		}
	}
	return balances, nil
}

func parseBalance(line string) (b Balance, ok bool, err error) {
	d, err := parseBody([]byte(line))
	if err != nil {
		return b, false, err
	}
	if d.text("density_test") == "" || d.text("base") == "" {
		return b, false, nil
	}
	account, err := ParseAccount(d.text("pile"))
	if err != nil {
		return b, false, err
	}
	b = Balance{Pile: PileID{account.Yard, account.Name}, Product: d.text("product"), Survey: d.text("survey"), At: d.time("at"),
		Found: d.mass("survey_solids_g"), Book: d.mass("book_solids_g"), DensityTest: d.text("density_test"), InWindow: d.mass("in_window_g"),
		Base: Base{Record: d.text("base"), At: d.time("base_at"), Solids: d.mass("base_solids_g"), In: d.mass("in_since_g"), Out: d.mass("out_since_g"),
			Explained: d.optionalMass("explained_since_g"), Expected: d.optionalMass("expected_since_g"), Streams: Streams{}},
		Outcome: Outcome(indexFold(outcomeNames[:], d.text("outcome")))}
	return b, true, d.err
}

// SortBalances puts balances in the order of their surveys' ends and of their piles.
func SortBalances(balances []Balance) {
	slices.SortFunc(balances, func(x, y Balance) int {
		return cmp.Or(x.At.Compare(y.At), cmp.Compare(x.Pile.Code, y.Pile.Code), cmp.Compare(x.Survey, y.Survey))
	})
}
