package intake_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"repose/internal/intake"
	"repose/ledger"

	"github.com/google/go-cmp/cmp"
)

const loadsHeader = "time,loader,ticket,pile,net [t],status,replaces\n"

func TestOverlappingExportsAndConflicts(t *testing.T) {
	m := withRegister(t)
	m.mustTake(t, nil, file("loads-2026-08.csv", loadsHeader+
		"2026-08-03 09:00,L1,1,A,20,,\n2026-08-03 09:10,L1,2,A,21,,\n2026-08-03 09:20,L1,3,A,22,void,\n"))
	held := m.records[len(m.records)-2]

	second := loadsHeader +
		"2026-08-03 09:10,L1,2,B,21.5,,\n2026-08-03 09:20,L1,3,A,22,void,\n2026-08-03 09:30,L1,4,A,23,,\n2026-08-03 09:30,L1,4,A,23,,\n"
	for _, again := range []bool{false, true} {
		rep := m.mustTake(t, nil, file("loads-2026-09.csv", second))
		got := rep.Tables[0]
		want := intake.TableReport{File: "loads-2026-09.csv", Path: "loads-2026-09.csv", SHA256: got.SHA256, NewFile: !again, Table: "loads",
			Rows: 4, New: 1, Held: 2, Mass: 67*ledger.Tonne + 500*ledger.Kilogram, NewMass: 23 * ledger.Tonne, Void: 1,
			Conflicts: []intake.Conflict{{Row: 2, Held: "load:Y1:L1/2", HeldSource: held.Source, Known: again,
				Differences: []ledger.Difference{{Field: "pile", Held: "A", Incoming: "B"}, {Field: "net", Held: "21.000 t", Incoming: "21.500 t"}}}}}
		if again {
			want.New, want.Held, want.NewMass = 0, 3, 0
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("again %v: %s", again, diff)
		}
	}
	conflicts := 0
	for _, r := range m.records {
		if c, ok := r.Fact.(ledger.Conflict); ok {
			conflicts++
			if c.Held != "load:Y1:L1/2" || c.Incoming.(ledger.Load).Pile != "B" || r.Yard != "Y1" || r.Source.Row != 2 {
				t.Errorf("conflict record %+v", r)
			}
		}
	}
	if conflicts != 1 {
		t.Errorf("%d conflict records, want 1", conflicts)
	}
}

// A correction under the key of the record it corrects finds that record whatever the order of rows and
// files in the call.
func TestCorrectionsComeAfterWhatTheyCorrect(t *testing.T) {
	for _, rows := range [][2]string{
		{"2026-08-03 09:00,L1,1,A,20,,\n", "2026-08-03 09:00,L1,1,B,20,,1\n"},
		{"2026-08-03 09:00,L1,1,B,20,,1\n", "2026-08-03 09:00,L1,1,A,20,,\n"},
	} {
		m := withRegister(t)
		rep := m.mustTake(t, nil, file("loads-1.csv", loadsHeader+rows[0]), file("loads-2.csv", loadsHeader+rows[1]))
		last := m.records[len(m.records)-1]
		if last.ID() != "load:Y1:L1/1#2" || last.Fact.(ledger.Load).Pile != "B" || rep.Tables[0].New != 1 || rep.Tables[1].New != 1 {
			t.Errorf("last record %s %+v, report %+v", last.ID(), last.Fact, rep)
		}
	}
}

func TestUnknownPilesGoToSuspense(t *testing.T) {
	m := withRegister(t)
	rep := m.mustTake(t, nil,
		file("loads.csv", "time,loader,ticket,pile,net [t]\n2026-08-03 09:00,L1,1,,20\n2026-08-03 09:01,L1,2,Z,20\n2026-08-03 09:02,L1,3,A,20\n"),
		file("transfers.csv", "time,from pile,to pile,net [t]\n2026-08-03 09:00,,A,20\n2026-08-03 09:00,A,Z,20\n2026-08-03 09:00,,,20\n"),
		file("feed.csv", "time,pile,net [t]\n2026-08-03 09:00,,20\n"),
		file("returns.csv", "time,pile,net [t]\n2026-08-03 09:00,Z,20\n"),
		file("production.csv", "time,belt,pile,net [t]\n2026-08-03 09:00,B1,,20\n"),
	)
	got := map[string]int{}
	for _, r := range rep.Tables {
		got[r.Table] = r.Suspense
	}
	want := map[string]int{"production": 1, "loads": 2, "transfers": 3, "feed": 1, "returns": 1}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestWetMoisturesAreCounted(t *testing.T) {
	m := withRegister(t)
	rep := m.mustTake(t, nil, file("moistures.csv", "pile,taken,moisture [% wet],u\nA,2026-08-03,5,0.1\nB,2026-08-03,6,0.1\n"))
	if rep.Tables[0].WetMoistures != 2 {
		t.Errorf("%d wet moistures, want 2", rep.Tables[0].WetMoistures)
	}
}

func TestRepeatedHourOfAFile(t *testing.T) {
	const rows = "2026-10-25 00:50,L1,99,A,20,,\n2026-10-25 01:10,L1,101,A,20,,\n2026-10-25 01:50,L1,100,A,20,,\n" +
		"2026-10-25T01:55+01:00,L2,7,A,20,,\n2026-10-25 01:20,L2,8,A,20,,\n2026-10-25 02:05,L1,102,A,20,,\n"
	m := withRegister(t)
	rep := m.mustTake(t, nil, file("loads.csv", loadsHeader+rows))
	if rep.Tables[0].RepeatedHours != 3 || rep.Tables[0].New != 6 {
		t.Errorf("report %+v: want 3 rows settled and 6 new", rep.Tables[0])
	}
	got := map[string]string{}
	for _, r := range m.records {
		if l, ok := r.Fact.(ledger.Load); ok {
			got[l.Ticket] = r.At.Format("15:04")
			if !l.At.Equal(r.At) {
				t.Errorf("ticket %s: record at %v, load at %v", l.Ticket, r.At, l.At)
			}
		}
	}
	want := map[string]string{"99": "23:50", "100": "00:50", "101": "01:10", "102": "02:05", "7": "00:55", "8": "01:20"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	for word, utc := range map[string]string{"first": "00:30", "second": "01:30"} {
		columnMap := readMap(t, "table = \"loads\"\n\"repeated hour\" = \""+word+"\"\n[columns]\ntime = \"time\"\nloader = \"loader\"\nticket = \"ticket\"\npile = \"pile\"\nnet = \"net [t]\"\n")
		rec := one(t, withRegister(t), []*intake.Map{columnMap}, file("loads.csv", loadsHeader+"2026-10-25 01:30,L1,1,A,20,,\n"))
		if got := rec.At.Format("15:04"); got != utc {
			t.Errorf("%s: got %s, want %s", word, got, utc)
		}
	}
	chicago := newMemory()
	chicago.mustTake(t, nil, file("yards.csv", "yard,name,time zone\nY9,West,America/Chicago\n"))
	_, err := chicago.take(t, nil, file("feed.csv", "time,pile,net [t]\n2024-11-03 01:30,,1\n2024-03-10 02:30,,1\n"))
	if err == nil || !strings.Contains(err.Error(), "2024-11-03T06:30Z") || !strings.Contains(err.Error(), "2024-11-03T07:30Z") ||
		!strings.Contains(err.Error(), "feed.csv:3:1: found \"2024-03-10 02:30\", which the clocks of America/Chicago skipped") {
		t.Errorf("got %v, want both UTC readings and the skipped hour", err)
	}
}

func TestManyBadRows(t *testing.T) {
	var b strings.Builder
	b.WriteString(loadsHeader)
	const rows = 10_050
	for i := range rows {
		fmt.Fprintf(&b, "2026-08-03 09:00,L1,%d,A,x,,\n", i)
	}
	m := withRegister(t)
	before := len(m.records)
	rep, err := m.take(t, nil, file("loads.csv", b.String()))
	var bad *intake.RowErrors
	if !errors.As(err, &bad) || bad.Total != rows || len(bad.Errors) != 10_000 || rep.Tables[0].Rejected != rows {
		t.Fatalf("got %d errors of %d, %d rejected", len(bad.Errors), bad.Total, rep.Tables[0].Rejected)
	}
	text := err.Error()
	if strings.Count(text, "\n") != 20 || !strings.HasSuffix(text, "\nand 10030 more") || !strings.HasPrefix(text, "loads.csv:2:5: found \"x\"") {
		t.Errorf("got %q, want 20 lines and a count", text)
	}
	if len(m.records) != before {
		t.Error("records were entered beside bad rows")
	}
	if first := firstError(err); first == nil || first.Row != 2 || first.Column != 5 {
		t.Errorf("first error %+v, want it at 2:5", first)
	}
}

// failing is a sink that fails at one of its calls.
type failing struct {
	*memory
	calls int
}

var errFull = errors.New("disk full")

func (f *failing) Append(rec *ledger.Record) (intake.Outcome, *ledger.Record, error) {
	if f.calls--; f.calls < 0 {
		return 0, nil, errFull
	}
	return f.memory.Append(rec)
}

func TestSinkErrorsAndCancelling(t *testing.T) {
	m := withRegister(t)
	files, err := intake.Assign([]intake.Source{file("loads.csv", loadsHeader+"2026-08-03 09:00,L1,1,A,1,,\n2026-08-03 09:00,L1,2,A,1,,\n")}, nil)
	if err != nil {
		t.Fatal(err)
	}
	_, err = intake.Run(context.Background(), files, m.known(), &failing{m, 1}, nil)
	if !errors.Is(err, errFull) || !strings.HasPrefix(err.Error(), "loads.csv:3: ") {
		t.Errorf("got %v, want the sink's error at row 3", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err = intake.Run(ctx, files, m.known(), m, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want the context's error", err)
	}
}

func TestProgress(t *testing.T) {
	var b strings.Builder
	b.WriteString(loadsHeader)
	for i := range 9000 {
		fmt.Fprintf(&b, "%s,L1,%d,A,1,,\n", time.Date(2026, 8, 3, 9, 0, i, 0, time.UTC).Format(time.DateTime), i)
	}
	m := withRegister(t)
	files, err := intake.Assign([]intake.Source{file("loads.csv", b.String()), file("feed.csv", "time,pile,net [t]\n")}, nil)
	if err != nil {
		t.Fatal(err)
	}
	var got []intake.Progress
	if _, err := intake.Run(context.Background(), files, m.known(), m, func(p intake.Progress) { got = append(got, p) }); err != nil {
		t.Fatal(err)
	}
	want := []intake.Progress{{File: "loads.csv", Rows: 0, Done: 0, Of: 2}, {File: "loads.csv", Rows: 8192, Done: 0, Of: 2}, {File: "feed.csv", Rows: 0, Done: 1, Of: 2}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// Two yards of one call, each with its own clock, and files of one name told apart by their folders.
func TestYardsAndEqualNames(t *testing.T) {
	m := newMemory()
	yards := file("yards.csv", "yard,name,time zone\nY1,One,Europe/London\nY2,Two,America/Chicago\n")
	m.mustTake(t, nil, file("b/feed.csv", "yard,time,pile,net [t]\nY2,2026-08-03 09:00,A,1\n"),
		file("a/feed.csv", "yard,time,pile,net [t]\nY1,2026-08-03 09:00,A,1\n"), yards)
	got := m.bodies()
	want := []string{
		`feed:Y1:/2026-08-03T08:00:00Z/A {"time":"2026-08-03T08:00:00Z","pile":"A","net_g":"1000000"}`,
		`feed:Y2:/2026-08-03T14:00:00Z/A {"time":"2026-08-03T14:00:00Z","pile":"A","net_g":"1000000"}`,
		`yard:Y1:Y1 {"code":"Y1","name":"One","zone":"Europe/London","unit":"t"}`,
		`yard:Y2:Y2 {"code":"Y2","name":"Two","zone":"America/Chicago","unit":"t"}`,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	_, err := m.take(t, nil, file("b/feed.csv", "yard,time,pile,net [t]\nY3,2026-08-03 09:00,A,1\n"), file("a/feed.csv", "time,pile\n"))
	if err == nil || !strings.Contains(err.Error(), "b/feed.csv:2:1: ") || !strings.Contains(err.Error(), "a/feed.csv:1: ") {
		t.Errorf("got %v, want positions that tell the files apart", err)
	}
	if _, err := m.take(t, nil, file("feed.csv", "time,pile,net [t]\n2026-08-03 09:00,A,1\n")); err == nil || !strings.Contains(err.Error(), `"Y1", "Y2"`) {
		t.Errorf("got %v, want a yard asked for", err)
	}
}

// Every table of an instrument settles the repeated hour by its order.
func TestRepeatedHourOfEveryTable(t *testing.T) {
	rows := map[string]string{
		"production": "time,belt,pile,net [t]\n2026-10-25 01:50,B1,A,1\n2026-10-25 01:10,B1,A,2\n",
		"loads":      "time,loader,ticket,pile,net [t]\n2026-10-25 01:10,L1,10,A,2\n2026-10-25 01:50,L1,9,A,1\n",
		"deck":       "time,deck,ticket,net [t]\n2026-10-25 01:10,D1,10,2\n2026-10-25 01:50,D1,9,1\n",
		"transfers":  "time,loader,from pile,to pile,net [t]\n2026-10-25 01:50,L1,A,C,1\n2026-10-25 01:10,L1,A,C,2\n",
		"feed":       "time,pile,net [t]\n2026-10-25 01:50,A,1\n2026-10-25 01:10,A,2\n",
		"returns":    "time,ticket,pile,net [t]\n2026-10-25 01:10,R10,A,2\n2026-10-25 01:50,R9,A,1\n",
	}
	for name, content := range rows {
		m := withRegister(t)
		m.mustTake(t, nil, file(name+".csv", content))
		got := map[string]string{}
		for _, r := range m.records[len(m.records)-2:] {
			got[r.Field("net_g")] = r.Field("time")
		}
		want := map[string]string{"1000000": "2026-10-25T00:50:00Z", "2000000": "2026-10-25T01:10:00Z"}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}

func TestPlanMadeByHand(t *testing.T) {
	files := []intake.File{{Source: file("x.csv", "a\n"), Parts: []intake.Part{{Table: "load"}}}}
	if _, err := intake.Run(context.Background(), files, intake.Known{}, newMemory(), nil); err == nil || !strings.Contains(err.Error(), `table "load": want one of yards, `) {
		t.Errorf("got %v, want the table refused", err)
	}
	if _, err := intake.Run(context.Background(), nil, intake.Known{Yards: []ledger.Yard{{Code: "Y", Zone: "Nowhere/Else"}}}, newMemory(), nil); err == nil {
		t.Error("a yard without a zone was taken")
	}
}
