package intake

import (
	"cmp"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// turnsOf returns the turns of tickets and of what the clock showed in London's repeated hour of
// 2026-10-25, "1:50"; a reading that ends in Z or an offset is known.
func turnsOf(t testing.TB, rows [][2]string) []turn {
	t.Helper()
	c := mustClock(t, "Europe/London")
	turns := make([]turn, len(rows))
	for i, row := range rows {
		turns[i] = turn{ticket: row[0], row: i + 2, moment: c.moment(mustCivil(t, "2026-10-25 0"+row[1]))}
	}
	return turns
}

func TestSettle(t *testing.T) {
	for _, c := range []struct {
		name string
		rows [][2]string
		want string // UTC of each row, or - for unsettled
	}{
		{"a fall between two tickets", [][2]string{{"9", "1:50"}, {"10", "1:10"}}, "00:50 01:10"},
		{"whatever the order of the file", [][2]string{{"10", "1:10"}, {"9", "1:50"}}, "01:10 00:50"},
		{"and what stands before and after", [][2]string{{"8", "1:05"}, {"9", "1:50"}, {"10", "1:10"}, {"11", "1:55"}}, "00:05 00:50 01:10 01:55"},
		{"no fall", [][2]string{{"8", "1:05"}, {"9", "1:50"}}, "- -"},
		{"one row", [][2]string{{"8", "1:05"}}, "-"},
		{"the same minute twice", [][2]string{{"8", "1:05"}, {"9", "1:05"}}, "- -"},
		{"two falls", [][2]string{{"8", "1:50"}, {"9", "1:10"}, {"10", "1:05"}}, "- - -"},
		{"a neighbour in the second pass forces those after it", [][2]string{{"8", "1:05"}, {"9", "1:10+00:00"}, {"10", "1:20"}}, "- 01:10 01:20"},
		{"a neighbour in the first pass forces those before it", [][2]string{{"8", "1:05"}, {"9", "1:10+01:00"}, {"10", "1:20"}}, "00:05 00:10 -"},
		{"a neighbour in the first pass after a later reading", [][2]string{{"8", "1:50+01:00"}, {"9", "1:20"}}, "00:50 01:20"},
		{"neighbours that contradict the order", [][2]string{{"8", "1:50+00:00"}, {"9", "1:20"}}, "- -"},
		{"no tickets: the order of the file", [][2]string{{"", "1:50"}, {"", "1:10"}}, "00:50 01:10"},
		{"a ticket missing: the order of the file", [][2]string{{"10", "1:50"}, {"", "1:55"}, {"9", "1:10"}}, "00:50 00:55 01:10"},
		{"letters in tickets", [][2]string{{"L-100", "1:10"}, {"L-99", "1:50"}}, "01:10 00:50"},
	} {
		t.Run(c.name, func(t *testing.T) {
			turns := turnsOf(t, c.rows)
			settle(turns)
			got := ""
			for _, turn := range turns {
				s := "-"
				if !turn.settled.IsZero() {
					s = turn.settled.Format("15:04")
				}
				got += " " + s
			}
			if got[1:] != c.want {
				t.Errorf("got %s, want %s", got[1:], c.want)
			}
		})
	}
}

// What settle decides is right whenever time really ran forwards, and it decides as soon as the clock is
// seen to fall.
func TestSettleFindsTheTruth(t *testing.T) {
	c := mustClock(t, "Europe/London")
	start := time.Date(2026, 10, 25, 0, 0, 0, 0, time.UTC)
	rapid.Check(t, func(r *rapid.T) {
		minutes := rapid.SliceOfN(rapid.Int64Range(0, 119), 1, 12).Draw(r, "minutes after 00:00Z")
		slices.Sort(minutes)
		turns := make([]turn, len(minutes))
		truth := make([]time.Time, len(minutes))
		fell := false
		for i, m := range minutes {
			truth[i] = start.Add(time.Duration(m) * time.Minute)
			shown := mustCivil(t, truth[i].In(c.zone).Format("2006-01-02 15:04"))
			turns[i] = turn{row: i, moment: c.moment(shown)}
			fell = fell || i > 0 && minutes[i]%60 < minutes[i-1]%60
		}
		settle(turns)
		for i, turn := range turns {
			if !turn.settled.IsZero() && !turn.settled.Equal(truth[i]) || fell && turn.settled.IsZero() {
				r.Fatalf("row %d of %v: settled at %v, it was %v", i, minutes, turn.settled, truth[i])
			}
		}
	})
}

func TestCompareNatural(t *testing.T) {
	sorted := []string{"", "7", "07a", "8", "10", "99", "100", "A", "A2", "A10", "A10b", "B1"}
	for i, a := range sorted {
		for j, b := range sorted {
			if got := compareNatural(a, b); got != cmp.Compare(i, j) {
				t.Errorf("%q and %q: got %d, want %d", a, b, got, cmp.Compare(i, j))
			}
		}
	}
}
