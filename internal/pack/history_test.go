package pack

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"repose/ledger"
)

// testLog is a log in memory.
type testLog struct {
	testing.TB
	history *history
	size    int64
}

func (l *testLog) add(yard, sha string, revision int, f ledger.Fact) *ledger.Record {
	l.Helper()
	rec, err := ledger.NewRecord(yard, f)
	if err != nil {
		l.Fatal(err)
	}
	rec.Seq, rec.Revision, rec.Source.File = l.size, revision, sha
	l.size++
	l.history.add(&rec)
	return &rec
}

func (l *testLog) close(m time.Month, revision int) *ledger.Record {
	return l.add(testYard, "", revision, ledger.Close{Period: period(l, m), At: day(m, 28, 9)})
}

// TestBefore takes the balances of the month before from the close of it that stood, also after a reopening.
func TestBefore(t *testing.T) {
	l := &testLog{t, newHistory(), 0}
	october, november := l.close(time.October, 0), l.close(time.November, 0)
	decided := day(time.November, 29, 9)
	reopening := l.add(testYard, "", 0, ledger.Reopening{Period: period(t, time.October), Of: october.ID(), Why: ledger.RestateError, Reason: "a ticket", Decided: decided})
	l.add(testYard, "", 0, ledger.Approval{Of: reopening.ID(), Decided: decided})
	again, novemberAgain := l.close(time.October, 1), l.close(time.November, 1)
	for _, test := range []struct{ of, want *ledger.Record }{{october, nil}, {november, october}, {again, nil}, {novemberAgain, again}} {
		if got := l.history.before(test.of); got != test.want {
			t.Errorf("before %s: %+v, want %+v", test.of.ID(), got, test.want)
		}
	}
}

// TestOriginals packs what the month rests on: what came since the close before for the yard or for all yards, what an
// entry points at however old it is, and the column maps of these.
func TestOriginals(t *testing.T) {
	l := &testLog{t, newHistory(), 0}
	sha := func(name string) string { return strings.Repeat(name, 64) }
	file := func(name, columnMap string) string {
		l.add("", "", 0, ledger.SourceFile{Name: name, SHA256: sha(name), Bytes: 1, Map: columnMap})
		return sha(name)
	}
	file("m", "")
	old, cited := file("a", ""), file("b", sha("m"))
	l.add(testYard, old, 0, load("1", day(time.October, 3, 9), "P1", 20))
	l.add(testYard, cited, 0, load("2", day(time.October, 3, 9), "P1", 20))
	l.close(time.October, 0)
	own, common, other := file("c", ""), file("d", ""), file("e", "")
	file("f", "")
	l.add(testYard, own, 0, load("3", day(time.November, 3, 9), "P1", 20))
	l.add("", common, 0, ledger.Product{Code: "14-20"})
	l.add("SOUTH", other, 0, load("3", day(time.November, 3, 9), "P1", 20))
	l.history.cited[cited] = true
	list := l.history.originals(l.close(time.November, 0))
	var got []string
	for _, o := range packed(list) {
		got = append(got, o.path)
	}
	want := []string{"originals/001-m", "originals/003-b", "originals/004-c", "originals/005-d"}
	if diff := cmp.Diff(want, got); diff != "" || len(list) != 7 {
		t.Errorf("%d files are listed; packed (-want +got):\n%s", len(list), diff)
	}
}
