package match

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"repose/ledger"
)

// least is what has to be found and may be claimed wrongly, as fractions.
type least struct {
	pairs, falseClaims, lumped, falseSure float64
}

// check compares the scores of some seeds together with what is wanted.
func (want least) check(t *testing.T, seeds int, alter func(y *yard), edit func(in *Input)) {
	t.Helper()
	var s score
	for seed := range seeds {
		y := base(uint64(seed))
		alter(&y)
		in, w := y.build()
		edit(&in)
		s.add(in, w, Match(in))
	}
	t.Log(s.String())
	if got := float64(s.found) / float64(s.pairs); got < want.pairs {
		t.Errorf("found %.4f of the pairs, want %.4f", got, want.pairs)
	}
	if got := float64(s.false) / float64(s.claimed); got > want.falseClaims {
		t.Errorf("%.5f of the claims are false, want %.5f at most", got, want.falseClaims)
	}
	if got := float64(s.lumpedFound) / float64(s.lumped); got < want.lumped {
		t.Errorf("found %.4f of the lumped records, want %.4f", got, want.lumped)
	}
	if got := float64(s.sureFalse) / float64(s.sure); got > want.falseSure {
		t.Errorf("%.5f of the sure pairs are false, want %.5f at most", got, want.falseSure)
	}
}

func seeds(n int) int {
	if testing.Short() {
		return n / 3
	}
	return n
}

func asItIs(*Input) {}

// TestTruthIsFound is the yard of the requirement: two loaders and a deck scale, 30 to 60 trucks an hour at the peak, 2 %
// of loads and of tickets missing, 1 % of the loader records lumped, clocks 3 minutes apart, tasks that interleave.
func TestTruthIsFound(t *testing.T) {
	t.Run("with labels", func(t *testing.T) {
		least{0.99, 0.001, 0.95, 0.001}.check(t, 24, func(*yard) {}, asItIs)
	})
	t.Run("without labels", func(t *testing.T) {
		least{0.975, 0.02, 0.8, 0.001}.check(t, 24, func(y *yard) { y.noLabels = true }, asItIs)
	})
}

// TestOddYards is what goes wrong with whole tables.
func TestOddYards(t *testing.T) {
	tests := []struct {
		name  string
		want  least
		alter func(y *yard)
		edit  func(in *Input)
	}{
		{"clocks an hour apart", least{0.99, 0.001, 0.9, 0.001}, func(y *yard) { y.clock = -time.Hour }, asItIs},
		{"clocks an hour apart, no labels", least{0.97, 0.02, 0.75, 0.001}, func(y *yard) { y.clock, y.noLabels = time.Hour, true }, asItIs},
		{"two deck scales", least{0.99, 0.001, 0.9, 0.001}, func(y *yard) { y.decks = 2 }, asItIs},
		{"one day", least{0.99, 0.005, 0.8, 0.001}, func(y *yard) { y.days = 1 }, asItIs},
		{"60 % missing", least{0.97, 0.005, 0, 0.001}, func(y *yard) { y.missing = 0.6 }, asItIs},
		{"a tenth of the records wrong", least{0.99, 0.003, 0.85, 0.001}, func(y *yard) { y.wrong = 0.033 }, asItIs},
		{"loaders in short tons, no labels", least{0.97, 0.02, 0.75, 0.001}, func(y *yard) { y.noLabels = true }, inShortTons},
		{"labels of two systems", least{0.97, 0.02, 0.75, 0.001}, func(*yard) {}, relabelled},
		{"neither labels nor products", least{0.9, 0.08, 0.4, 0.01}, func(y *yard) { y.noLabels = true }, func(in *Input) {
			in.Product = func(*ledger.Record) string { return "" }
		}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) { test.want.check(t, seeds(12), test.alter, test.edit) })
	}
}

// inShortTons makes loaders show short tons that were taken for tonnes.
func inShortTons(in *Input) {
	for i, r := range in.Loads {
		f := r.Fact.(ledger.Load)
		f.Net = ledger.Mass(float64(f.Net) / 0.90718474)
		in.Loads[i] = rec(f)
	}
}

// relabelled makes the deck know the trucks by other names.
func relabelled(in *Input) {
	for i, r := range in.Deck {
		f := r.Fact.(ledger.DeckTicket)
		f.Truck = "plate " + f.Truck
		in.Deck[i] = rec(f)
	}
}

// Labels are typed: case and blanks are no difference.
func TestLabelsAreTyped(t *testing.T) {
	y := base(2)
	in, _ := y.build()
	want := Match(in)
	for i, r := range in.Deck {
		f := r.Fact.(ledger.DeckTicket)
		f.Truck, f.Product = " "+strings.ToLower(f.Truck), f.Product+" "
		in.Deck[i] = rec(f)
	}
	if got := Match(in); summary(got) != summary(want) {
		t.Error("labels in other case give another result")
	}
}

// TestHabitsAreLearned compares what is learned with what truly happened.
func TestHabitsAreLearned(t *testing.T) {
	for seed := range uint64(4) {
		y := base(seed)
		y.noLabels = seed >= 2
		y.minutes = false
		in, w := y.build()
		var lags [2][]float64
		for i, held := range w.ofLoad {
			if l := w.loads[held[0]]; len(held) == 1 && l.ticket >= 0 {
				lags[l.loader] = append(lags[l.loader], in.Deck[l.ticket].At.Sub(in.Loads[i].At).Seconds())
			}
		}
		got := Match(in).Learned
		if len(got) != 2 {
			t.Fatalf("seed %d: learned %d pairings, want 2", seed, len(got))
		}
		for k, l := range got {
			slices.Sort(lags[k])
			lag := lags[k][len(lags[k])/2]
			if math.Abs(l.Lag.Seconds()-lag) > 15 {
				t.Errorf("seed %d, %s: lag %v, want %v s within 15 s", seed, l.Loader, l.Lag, lag)
			}
			if bias := []float64{0.012, -0.015}[k]; math.Abs(l.Bias-bias) > 0.0015 {
				t.Errorf("seed %d, %s: bias %.4f, want %.4f within 0.0015", seed, l.Loader, l.Bias, bias)
			}
			if l.SD < 0.0065 || l.SD > 0.0095 {
				t.Errorf("seed %d, %s: standard deviation %.4f, want about 0.008", seed, l.Loader, l.SD)
			}
			if l.Bucket < 4800*ledger.Kilogram || l.Bucket > 5200*ledger.Kilogram {
				t.Errorf("seed %d, %s: bucket %v, want about 5 t", seed, l.Loader, l.Bucket)
			}
		}
	}
}
