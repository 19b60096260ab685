package intake

import (
	"testing"
	"time"
)

// Layouts with the layout of the time package that writes the same.
var layoutPairs = []struct{ ours, std string }{
	{"DD.MM.YYYY HH:MM", "02.01.2006 15:04"},
	{"DD.MM.YYYY HH:mm:SS", "02.01.2006 15:04:05"},
	{"MM/DD/YYYY hh:mm AM", "01/02/2006 03:04 PM"},
	{"MM/DD/YY hh:MMAM", "01/02/06 03:04PM"},
	{"YYYYMMDD HHmm", "20060102 1504"},
	{"YYYYMMDDTHHMMSS", "20060102T150405"},
	{"HH:MM DD/MM/YYYY", "15:04 02/01/2006"},
	{"YYYY-MM-DD", "2006-01-02"},
	{"D-DD", ""},
	{"DD.MM.YYYY HH:MM Uhr", ""},
}

func TestLayoutReadsWhatTheTimePackageWrites(t *testing.T) {
	at := time.Date(2026, 8, 3, 21, 5, 0, 0, time.UTC)
	for _, p := range layoutPairs {
		l, ok := newDateLayout(p.ours)
		if ok != (p.std != "") {
			t.Errorf("layout %q: got %v", p.ours, ok)
		}
		if !ok {
			continue
		}
		s := at.Format(p.std)
		want, err := time.Parse(p.std, s)
		if err != nil {
			t.Fatal(err)
		}
		if c, ok := l.parse(s); !ok || !instantOf(c).Equal(want) {
			t.Errorf("layout %q: %q is %+v %v, want %v", p.ours, s, c, ok, want)
		}
	}
}

func TestLayoutParse(t *testing.T) {
	for _, c := range []struct{ layout, s, want string }{
		{"MM/DD/YYYY hh:mm AM", "8/3/2026  9:05 pm", "2026-08-03T21:05:00Z"},
		{"MM/DD/YYYY hh:mm AM", "8/3/2026 12:05 AM", "2026-08-03T00:05:00Z"},
		{"MM/DD/YYYY hh:mm AM", "8/3/2026 12:05 PM", "2026-08-03T12:05:00Z"},
		{"MM/DD/YYYY hh:mm AM", "8/3/2026 0:05 PM", ""},
		{"MM/DD/YYYY hh:mm AM", "8/3/2026 13:05 PM", ""},
		{"MM/DD/YYYY hh:mm AM", "8/3/2026 1:05", ""},
		{"DD.MM.YYYY HH:MM", "3.8.2026 9:05", "2026-08-03T09:05:00Z"},
		{"DD.MM.YYYY HH:MM", "31.02.2026 09:05", ""},
		{"DD.MM.YYYY HH:MM", "03.08.26 09:05", ""},
		{"DD.MM.YYYY HH:MM", "03.08.0000 09:05", ""},
		{"DD.MM.YYYY HH:MM", "03.08.2026 09:05:00", ""},
		{"DD.MM.YYYY HH:MM", "03/08/2026 09:05", ""},
		{"DD.MM.YYYY HH:MM", "", ""},
		{"DD.MM.YY", "03.08.26", "2026-08-03T00:00:00Z"},
		{"YYYYMMDD", "2026803", ""},
		{"YYYYMMDD HHMM", "20260803 905", ""},
	} {
		l, ok := newDateLayout(c.layout)
		if !ok {
			t.Fatalf("layout %q", c.layout)
		}
		got := ""
		if v, ok := l.parse(c.s); ok {
			got = instantOf(v).Format(time.RFC3339)
		}
		if got != c.want {
			t.Errorf("%q in %q: got %q, want %q", c.s, c.layout, got, c.want)
		}
	}
}

func TestLayoutRefuses(t *testing.T) {
	for _, s := range []string{"", "DD.MM", "DD.MM.YYYY YY", "DD.MM.YYYY HH", "DD.MM.YYYY hh:mm", "DD.MM.YYYY HH:mm AM",
		"DD.MM.YYYY mm", "dd.mm.yyyy", "DD.DD.YYYY", "DD.MM.YYYY HH:MM:MM", "DD.MM.2026", "DD.MM.YYYY HH:MM:SSX"} {
		if _, ok := newDateLayout(s); ok {
			t.Errorf("layout %q was taken", s)
		}
	}
}

func FuzzLayout(f *testing.F) {
	for _, p := range layoutPairs {
		f.Add(p.ours, "03.08.2026 21:05")
	}
	f.Fuzz(func(t *testing.T, layout, s string) {
		l, ok := newDateLayout(layout)
		if !ok {
			return
		}
		if c, ok := l.parse(s); ok {
			year := instantOf(c).Year()
			if year < firstYear || year > lastYear || c.second >= secondsPerDay || !c.hasTime && c.second != 0 {
				t.Fatalf("%q in %q: got %+v", s, layout, c)
			}
		}
	})
}
