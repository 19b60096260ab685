package intake_test

import (
	"errors"
	"strings"
	"testing"

	"repose/internal/intake"
	"repose/ledger"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// The export that every notation below writes: two deck tickets, the second void.
const mapHead = "table = \"deck\"\n"

const mapTail = `
[columns]
time = "When"
ticket = "No"
truck = "Truck"
net = { from = "Net", unit = "kg" }
status = "State"
[constants]
deck = "D1"
[values.status]
"gültig" = "kept"
"storniert" = "void"
`

var mapCases = []struct {
	name, notation, content string
	encode                  encoding.Encoding
}{
	{"commas and ISO", ``,
		"When,No,Truck,Net,State\n2026-08-03 09:05,1,T 1,24310.5,gültig\n2026-08-03 21:07,2,T 2,18000,storniert\n", nil},
	{"semicolons, decimal comma, day first", "delimiter = \";\"\ndecimal = \",\"\nthousands = \".\"\n\"date layout\" = \"DD.MM.YYYY HH:MM\"",
		"When;No;Truck;Net;State\r\n03.08.2026 09:05;1;T 1;24.310,5;gültig\r\n3.8.2026 21:07;2;T 2;18.000;storniert\r\n", nil},
	{"tabs, month first, twelve hours", "delimiter = \"tab\"\nthousands = \",\"\n\"date layout\" = \"MM/DD/YYYY hh:mm AM\"",
		"When\tNo\tTruck\tNet\tState\n8/3/2026 9:05 AM\t1\tT 1\t24,310.5\tgültig\n8/3/2026 9:07 PM\t2\tT 2\t18,000\tstorniert\n", nil},
	{"Windows-1252 with a title above", "encoding = \"Windows-1252\"\ndelimiter = \";\"\ndecimal = \",\"\n\"header row\" = 3\n\"date layout\" = \"DD.MM.YY HH:mm:SS\"",
		"Wiegescheine – alle\n;;Gewichte in kg\nWhen;No;Truck;Net;State\n03.08.26 09:05:00;1;T 1;24310,5;gültig\n03.08.26 21:07:00;2;T 2;18000;storniert\n", charmap.Windows1252},
	{"UTF-16 with a byte-order mark", "encoding = \"utf-16\"\ndelimiter = \"|\"",
		"When|No|Truck|Net|State\n2026-08-03T09:05|1|T 1|24310.5|gültig\n2026-08-03T21:07|2|T 2|18000|storniert\n", unicode.UTF16(unicode.LittleEndian, unicode.UseBOM)},
	{"UTF-16 without one", "encoding = \"utf-16be\"",
		"When,No,Truck,Net,State\n2026-08-03T09:05,1,T 1,24310.5,gültig\n2026-08-03T21:07,2,T 2,18000,storniert\n", unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM)},
	{"blanks between thousands, other columns and other order", "thousands = \" \"\n\"date layout\" = \"YYYYMMDD HHMM\"",
		"State,Driver,Net,No,truck,WHEN\ngültig,x,24 310.5,1,T 1,20260803 0905\nstorniert,y,18 000,2,T 2,20260803 2107\n", nil},
}

var mapWant = []string{
	`deck:Y1:D1/1 {"time":"2026-08-03T08:05:00Z","deck":"D1","ticket":"1","truck":"T 1","net_g":"24310500","status":"kept"}`,
	`deck:Y1:D1/2 {"time":"2026-08-03T20:07:00Z","deck":"D1","ticket":"2","truck":"T 2","net_g":"18000000","status":"void"}`,
}

// deckBodies returns the deck tickets of a book.
func deckBodies(m *memory) []string {
	var list []string
	for _, b := range m.bodies() {
		if strings.HasPrefix(b, "deck:") {
			list = append(list, b)
		}
	}
	return list
}

func TestMapsReadEveryNotation(t *testing.T) {
	for _, c := range mapCases {
		t.Run(c.name, func(t *testing.T) {
			content := c.content
			if c.encode != nil {
				var err error
				if content, err = c.encode.NewEncoder().String(content); err != nil {
					t.Fatal(err)
				}
			}
			columnMap := readMap(t, mapHead+c.notation+mapTail)
			m := withRegister(t)
			rep := m.mustTake(t, []*intake.Map{columnMap}, file("export.csv", content))
			if diff := cmp.Diff(mapWant, deckBodies(m)); diff != "" {
				t.Error(diff)
			}
			if got := rep.Tables[0]; got.Map != "map.toml" || m.maps[got.SHA256] != columnMap.SHA256() || !m.files[columnMap.SHA256()] {
				t.Errorf("report %+v: want the file's map named, and kept in the book", got)
			}
			want := []string(nil)
			if strings.Contains(c.content, "Driver") {
				want = []string{"Driver"}
			}
			if diff := cmp.Diff(want, rep.Tables[0].Ignored); diff != "" {
				t.Errorf("ignored columns: %s", diff)
			}
		})
	}
}

func TestMapConstantsTagsAndPairs(t *testing.T) {
	columnMap := readMap(t, `
table = "loads"
match = "Export*.csv"
delimiter = ";"
"date layout" = "DD.MM.YYYY HH:MM"
[columns]
time = { date = "Datum", time = "Uhrzeit" }
ticket = "Nr"
pile = "Halde"
product = "Sorte"
net = "Gewicht [t]"
"tag job" = "Projekt"
[constants]
loader = "L1"
purpose = "internal"
passes = "4"
"tag source" = "paper"
[values.pile]
"Nord" = "A"
[values.product]
"0/20" = "20mm"
`)
	m := withRegister(t)
	m.mustTake(t, []*intake.Map{columnMap}, file("export 7.csv",
		"Datum;Uhrzeit;Nr;Halde;Sorte;Gewicht [t];Projekt\n03.08.2026;9:05;1;Nord;0/20;24.31;J1\n03.08.2026;9:10;2;B;MOT;24.31;\n"))
	var got []string
	for _, r := range m.records {
		if r.Fact.Kind() == ledger.KindLoadRecord {
			got = append(got, string(r.AppendBody(nil)))
		}
	}
	want := []string{
		`{"time":"2026-08-03T08:05:00Z","loader":"L1","ticket":"1","pile":"A","product":"20mm","passes":"4","net_g":"24310000","purpose":"internal","status":"kept","tag job":"J1","tag source":"paper"}`,
		`{"time":"2026-08-03T08:10:00Z","loader":"L1","ticket":"2","pile":"B","product":"MOT","passes":"4","net_g":"24310000","purpose":"internal","status":"kept","tag source":"paper"}`,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestMapConstantsMayHaveUnits(t *testing.T) {
	columnMap := readMap(t, `
table = "surveys"
[columns]
survey = "s"
pile = "p"
start = "a"
end = "b"
volume = { from = "v", unit = "yd3" }
[constants]
"volume u [%]" = "1.5"
`)
	rec := one(t, withRegister(t), []*intake.Map{columnMap}, file("x.csv", "s,p,a,b,v\nS1,A,2026-08-03 09:00,2026-08-03 09:10,100\n"))
	if s := rec.Fact.(ledger.Survey); s.VolumeM3.String() != "76.4554857984" || s.VolumeU.Decimal.String() != "1.5" {
		t.Errorf("survey %+v", s)
	}
}

func FuzzReadMap(f *testing.F) {
	for _, c := range mapCases {
		f.Add(mapHead + c.notation + mapTail)
	}
	f.Add("table = \"loads\"\n[columns]\nnet = { from = \"n\", unit = \"t\" }\ncolumns.time.date = \"x\"\n")
	f.Add("header row = 3")
	f.Fuzz(func(t *testing.T, text string) {
		m, err := intake.ReadMap("m.toml", []byte(text))
		var rows *intake.RowErrors
		if (m == nil) == (err == nil) || err != nil && (!errors.As(err, &rows) || rows.Total == 0) {
			t.Fatalf("got %v, %v", m, err)
		}
		if err == nil && (m.Table() == "" || len(m.SHA256()) != 64 || m.Name() != "m.toml") {
			t.Fatalf("map %+v", m)
		}
	})
}
