package intake_test

import (
	"strings"
	"testing"

	"repose/internal/intake"

	"github.com/google/go-cmp/cmp"
)

// Each case is a table of one row and the record it must become: ID and canonical body.
var tableCases = []struct{ name, file, csv, id, body string }{
	{"yard", "yards.csv", "yard,name,time zone\nY2,South yard,America/Chicago\n",
		"yard:Y2:Y2", `{"code":"Y2","name":"South yard","zone":"America/Chicago","unit":"t"}`},
	{"yard with a unit", "yards.csv", "yard,name,time zone,unit\nY2,South yard,America/Chicago,Short Ton\n",
		"yard:Y2:Y2", `{"code":"Y2","name":"South yard","zone":"America/Chicago","unit":"short ton"}`},
	{"product", "products.csv", "product,reference moisture [% dry],absorption [%]\n40mm,2.5,0.8\n",
		"product::40mm", `{"product":"40mm","reference_moisture_pct_dry":"2.5","absorption_pct_dry":"0.8"}`},
	{"product with a wet reference", "products.csv", "product,name,reference moisture [% wet],absorption [% dry]\n40mm,forty,20,0.8%\n",
		"product::40mm", `{"product":"40mm","name":"forty","reference_moisture_pct_dry":"25","absorption_pct_dry":"0.8"}`},
	{"pile without dates", "piles.csv", "pile,product\nD,20mm\n", "pile:Y1:D", `{"pile":"D","product":"20mm"}`},
	{"pile with dates of summer and winter", "piles.csv", "pile,product,opened,closed,owner\nD,20mm,2026-07-01,2026-12-31,C17\n",
		"pile:Y1:D/2026-06-30T23:00:00Z",
		`{"pile":"D","product":"20mm","opened":"2026-06-30T23:00:00Z","closed":"2027-01-01T00:00:00Z","owner":"C17"}`},
	{"instrument with a modulus in a unit", "instruments.csv",
		"instrument,kind,from,until,systematic [%],random [%],modulus [t],certificate,certificate class\nB1,belt,2026-06-01,2027-05-31,0.5,1,1000000,K-17,class 0.5\n",
		"instrument:Y1:B1/2026-05-31T23:00:00Z",
		`{"instrument":"B1","weighs":"belt","from":"2026-05-31T23:00:00Z","until":"2027-05-31T23:00:00Z","systematic_pct":"0.5","random_pct":"1","modulus_g":"1000000000000","certificate":"K-17","class":"class 0.5"}`},
	{"instrument with a bare modulus", "instruments.csv",
		"instrument,kind,from,systematic [%],random [%],modulus\nB1,Belt,2026-06-01 12:00,0.5,1,1000000\n",
		"instrument:Y1:B1/2026-06-01T11:00:00Z",
		`{"instrument":"B1","weighs":"belt","from":"2026-06-01T11:00:00Z","systematic_pct":"0.5","random_pct":"1","modulus":"1000000"}`},
	{"hours of a weekday", "hours.csv", "weekday,open,close\nmonday,6:00,17:30\n",
		"hours:Y1:Monday", `{"day":"Monday","open":"06:00","close":"17:30"}`},
	{"hours of a date", "hours.csv", "date,open,close\n2026-12-24,06:00:00,12:00:00\n",
		"hours:Y1:2026-12-24", `{"day":"2026-12-24","open":"06:00","close":"12:00"}`},
	{"hours of a day without staff", "hours.csv", "day,open,close\nSun,,\n", "hours:Y1:Sunday", `{"day":"Sunday"}`},
	{"hours to midnight", "hours.csv", "day,open,close\nFri,14:00,24:00\n",
		"hours:Y1:Friday", `{"day":"Friday","open":"14:00","close":"24:00"}`},
	{"policy", "policy.csv", "name,value,from,reason\nLimit  Mass,50 t,2026-01-01,board minute 3\n",
		"policy:Y1:limit mass/2026-01-01T00:00:00Z",
		`{"name":"limit mass","value":"50 t","from":"2026-01-01T00:00:00Z","reason":"board minute 3"}`},
	{"opening in solids", "opening.csv", "pile,time,solids [t]\nA,2026-08-01,1500.5\n",
		"opening:Y1:A/2026-07-31T23:00:00Z", `{"pile":"A","time":"2026-07-31T23:00:00Z","solids_g":"1500500000"}`},
	{"opening as weighed", "opening.csv", "pile,time,mass [short ton],moisture [% wet]\nA,2026-08-01 06:00,100,20\n",
		"opening:Y1:A/2026-08-01T05:00:00Z", `{"pile":"A","time":"2026-08-01T05:00:00Z","mass_g":"90718474","moisture_pct_dry":"25"}`},
	{"moisture of a pile", "moistures.csv", "pile,taken,moisture [% dry],tests,u\nA,2026-08-03 07:00,4.2,2,0.15\n",
		"moisture:Y1:pile/A/2026-08-03T06:00:00Z",
		`{"pile":"A","taken":"2026-08-03T06:00:00Z","moisture_pct_dry":"4.2","tests":"2","u_pct_points":"0.15"}`},
	{"wet moisture of a product, its uncertainty on the same basis", "moistures.csv",
		"product,taken,moisture [% wet],u [pp]\n20mm,2026-08-03,20,0.16\n",
		"moisture:Y1:product/20mm/2026-08-02T23:00:00Z",
		`{"product":"20mm","taken":"2026-08-02T23:00:00Z","moisture_pct_dry":"25","u_pct_points":"0.25"}`},
	{"density at its moisture", "densities.csv",
		"pile,taken,bulk density [t/m3],moisture [% dry],u [%],tests,method,compaction factor\nA,2026-08-03 07:00,1.62,4.0,1.5,3,loose measure,1.05\n",
		"density:Y1:pile/A/2026-08-03T06:00:00Z",
		`{"pile":"A","taken":"2026-08-03T06:00:00Z","moist_density_t_per_m3":"1.62","moisture_pct_dry":"4","u_pct":"1.5","tests":"3","method":"loose measure","compaction_factor":"1.05"}`},
	{"dry density", "densities.csv", "product,taken,bulk density [kg/m3],basis,u [%]\nMOT,2026-08-03,1550,Dry,2\n",
		"density:Y1:product/MOT/2026-08-02T23:00:00Z",
		`{"product":"MOT","taken":"2026-08-02T23:00:00Z","moist_density_t_per_m3":"1.55","moisture_pct_dry":"0","u_pct":"2","compaction_factor":"1"}`},
	{"survey", "surveys.csv",
		"survey,pile,start,end,volume [m3],volume u [%],deduction [m3],deduction reason,base,toe area [m2],method,surveyor,report\n" +
			"S1,A,2026-08-31 17:00,2026-08-31 17:20,1234.5,1.0,12,base layer,ground 2025-11,900,photogrammetry,SV-1,R-8\n",
		"survey:Y1:S1/A",
		`{"survey":"S1","pile":"A","start":"2026-08-31T16:00:00Z","end":"2026-08-31T16:20:00Z","volume_m3":"1234.5","volume_u_pct":"1","deduction_m3":"12","deduction reason":"base layer","base":"ground 2025-11","toe_area_m2":"900","method":"photogrammetry","surveyor":"SV-1","report":"R-8"}`},
	{"survey in yards and feet", "surveys.csv", "survey,pile,start,end,volume [yd³],volume u [%],toe area [ft2]\nS1,A,2026-08-31T17:00Z,2026-08-31T17:20Z,1000,1,10000\n",
		"survey:Y1:S1/A",
		`{"survey":"S1","pile":"A","start":"2026-08-31T17:00:00Z","end":"2026-08-31T17:20:00Z","volume_m3":"764.554857984","volume_u_pct":"1","deduction_m3":"0","toe_area_m2":"929.0304"}`},
	{"production by mass", "production.csv", "time,belt,pile,net [t],shift,note\n2026-08-03 18:00,B1,A,812.4,day,wet\n",
		"production:Y1:B1/2026-08-03T17:00:00Z",
		`{"time":"2026-08-03T17:00:00Z","belt":"B1","pile":"A","net_g":"812400000","shift":"day","note":"wet"}`},
	{"production by reading", "production-belts.csv", "time,belt,pile,reading [long ton]\n2026-08-03 18:00,B1,A,1000\n",
		"production:Y1:B1/2026-08-03T17:00:00Z",
		`{"time":"2026-08-03T17:00:00Z","belt":"B1","pile":"A","reading_g":"1016046909","reading_unit":"long ton"}`},
	{"load in all columns", "Loads_2026.csv",
		"Yard,TIME,loader,ticket, Pile ,product,truck,customer,passes,Net [ T ],purpose,status,replaces,tag job,Tag Rail car\n" +
			"Y1,2026-08-03T09:15:30.25+02:00,L1,10/7,A,20mm,T9,C4,5,24.31,internal,Void,10/6,J1,R7\n",
		"load:Y1:L1/10/7",
		`{"time":"2026-08-03T07:15:30.25Z","loader":"L1","ticket":"10/7","pile":"A","product":"20mm","truck":"T9","customer":"C4","passes":"5","net_g":"24310000","purpose":"internal","status":"void","replaces":"10/6","tag Rail car":"R7","tag job":"J1"}`},
	{"load in few columns", "loads (2).csv", "time,loader,ticket,pile,net [kg]\n2026-08-03 09:15,L1,107,A,24310\n",
		"load:Y1:L1/107",
		`{"time":"2026-08-03T08:15:00Z","loader":"L1","ticket":"107","pile":"A","net_g":"24310000","purpose":"sale","status":"kept"}`},
	{"deck ticket", "deck.csv", "time,deck,ticket,truck,customer,product,gross [lb],tare [lb],net [lb],status\n2026-08-03 09:25,D1,5001,T9,C4,20mm,80000,30000,50000,kept\n",
		"deck:Y1:D1/5001",
		`{"time":"2026-08-03T08:25:00Z","deck":"D1","ticket":"5001","truck":"T9","customer":"C4","product":"20mm","gross_g":"36287390","tare_g":"13607771","net_g":"22679618","status":"kept"}`},
	{"transfer with a ticket", "transfers.csv", "time,loader,ticket,from pile,to pile,net [t],truck\n2026-08-03 10:00,L1,X1,A,C,18,DU1\n",
		"transfer:Y1:L1/X1",
		`{"time":"2026-08-03T09:00:00Z","loader":"L1","ticket":"X1","from pile":"A","to pile":"C","net_g":"18000000","truck":"DU1"}`},
	{"transfer without a ticket", "transfers.csv", "time,from pile,to pile,net [t]\n2026-08-03 10:00,A,C,18\n",
		"transfer:Y1:/2026-08-03T09:00:00Z/A/C", `{"time":"2026-08-03T09:00:00Z","from pile":"A","to pile":"C","net_g":"18000000"}`},
	{"feed", "feed.csv", "time,instrument,pile,net [t]\n2026-08-03 11:00,L1,B,15.5\n",
		"feed:Y1:L1/2026-08-03T10:00:00Z/B", `{"time":"2026-08-03T10:00:00Z","instrument":"L1","pile":"B","net_g":"15500000"}`},
	{"return", "returns.csv", "time,instrument,ticket,pile,net [t]\n2026-08-03 12:00,D1,R1,A,3.2\n",
		"return:Y1:D1/R1", `{"time":"2026-08-03T11:00:00Z","instrument":"D1","ticket":"R1","pile":"A","net_g":"3200000"}`},
	{"cost of a product", "costs.csv", "period,product,amount,currency,note\n2026-08,20mm,48500.25,EUR,crusher 2\n",
		"cost:Y1:2026-08/20mm/making/", `{"period":"2026-08","product":"20mm","kind":"making","amount":"48500.25","currency":"EUR","note":"crusher 2"}`},
	{"common cost, a credit, in a month that a sheet made a date", "costs.csv", "period,kind,cost centre,amount,currency\n2026-08-01,Fixed,drill and blast,-12,EUR\n",
		"cost:Y1:2026-08//fixed/drill and blast", `{"period":"2026-08","kind":"fixed","cost_centre":"drill and blast","amount":"-12","currency":"EUR"}`},
	{"price", "prices.csv", "from,product,price,selling cost,per,currency\n2026-08,20mm,11.5,0.8,short ton,EUR\n",
		"price:Y1:2026-08/20mm", `{"from":"2026-08","product":"20mm","price":"11.5","selling_cost":"0.8","completion_cost":"0","per":"short ton","currency":"EUR"}`},
}

func TestTableBecomesRecord(t *testing.T) {
	covered := map[string]bool{}
	for _, c := range tableCases {
		t.Run(c.name, func(t *testing.T) {
			rec := one(t, withRegister(t), nil, file(c.file, c.csv))
			if diff := cmp.Diff([]string{c.id, c.body}, []string{rec.ID(), string(rec.AppendBody(nil))}); diff != "" {
				t.Error(diff)
			}
			if rec.Source.Row != 2 || len(rec.Source.File) != 64 {
				t.Errorf("source %+v: want row 2 of a hashed file", rec.Source)
			}
			covered[rec.Fact.Kind().String()] = true
		})
	}
	for _, table := range intake.Tables() {
		if !covered[table.Kind.String()] {
			t.Errorf("no case of table %s", table.Name)
		}
	}
}

// A correction names what it replaces in the way of its table.
func TestReplaces(t *testing.T) {
	for _, c := range []struct{ name, file, csv, want string }{
		{"yard", "yards.csv", "yard,name,time zone,replaces\nY1,Far yard,Europe/London,Y1\n", "Y1"},
		{"product", "products.csv", "product,reference moisture [% dry],replaces\n20mm,3.2,20mm\n", "20mm"},
		{"pile of the same key", "piles.csv", "pile,product,opened,replaces\nA,MOT,2026-07-01,A\n", "A/2026-06-30T23:00:00Z"},
		{"pile of another key", "piles.csv", "pile,product,opened,replaces\nA,MOT,2026-07-01,A/2026-06-29T23:00:00Z\n", "A/2026-06-29T23:00:00Z"},
		{"instrument", "instruments.csv", "instrument,kind,from,systematic [%],random [%],replaces\nL1,loader,2026-01-01,1,1,L1\n", "L1/2026-01-01T00:00:00Z"},
		{"hours", "hours.csv", "day,open,close,replaces\n2026-12-24,06:00,12:00,2026-12-23\n", "2026-12-23"},
		{"policy", "policy.csv", "name,value,from,replaces\nadjust,always,2026-01-01,adjust\n", "adjust/2026-01-01T00:00:00Z"},
		{"opening", "opening.csv", "pile,time,solids [t],replaces\nA,2026-08-01,1,2026-08-02\n", "A/2026-08-01T23:00:00Z"},
		{"moisture", "moistures.csv", "pile,taken,moisture [% dry],replaces\nA,2026-08-01 08:00,4,2026-08-01 07:00\n", "pile/A/2026-08-01T06:00:00Z"},
		{"density", "densities.csv", "pile,taken,bulk density [t/m3],basis,u [%],replaces\nA,2026-08-01 08:00,1.5,dry,1,2026-08-01 07:00\n", "pile/A/2026-08-01T06:00:00Z"},
		{"production", "production.csv", "time,belt,pile,net [t],replaces\n2026-08-01 08:00,B1,A,1,2026-08-01T06:00:00Z\n", "B1/2026-08-01T06:00:00Z"},
		{"load", "loads.csv", "time,loader,ticket,pile,net [t],replaces\n2026-08-01 08:00,L1,8,A,1,7\n", "L1/7"},
		{"load of another loader", "loads.csv", "time,loader,ticket,pile,net [t],replaces\n2026-08-01 08:00,L1,8,A,1,L2/7\n", "L2/7"},
		{"deck", "deck.csv", "time,deck,ticket,net [t],replaces\n2026-08-01 08:00,D1,8,1,7\n", "D1/7"},
		{"transfer", "transfers.csv", "time,loader,ticket,from pile,to pile,net [t],replaces\n2026-08-01 08:00,L1,8,A,C,1,7\n", "L1/7"},
		{"transfer without a ticket", "transfers.csv", "time,from pile,to pile,net [t],replaces\n2026-08-01 08:00,A,C,1,/2026-08-01T06:00:00Z/A/C\n", "/2026-08-01T06:00:00Z/A/C"},
		{"feed", "feed.csv", "time,pile,net [t],replaces\n2026-08-01 08:00,A,1,2026-08-01 07:00\n", "/2026-08-01T06:00:00Z/A"},
		{"return", "returns.csv", "time,instrument,ticket,pile,net [t],replaces\n2026-08-01 08:00,D1,8,A,1,7\n", "D1/7"},
		{"cost", "costs.csv", "period,product,amount,currency,replaces\n2026-08,20mm,1,EUR,2026-08\n", "2026-08/20mm/making/"},
		{"price", "prices.csv", "from,product,price,per,currency,replaces\n2026-08,20mm,1,t,EUR,2026-07/20mm\n", "2026-07/20mm"},
		{"survey", "surveys.csv", "survey,pile,start,end,volume [m3],volume u [%],replaces\nS2,A,2026-08-01 08:00,2026-08-01 08:10,1,1,S1\n", "S1/A"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if rec := one(t, withRegister(t), nil, file(c.file, c.csv)); rec.Replaces != c.want {
				t.Errorf("replaces %q, want %q", rec.Replaces, c.want)
			}
		})
	}
}

func TestCatalogueAgreesWithItself(t *testing.T) {
	seen := map[string]bool{}
	for _, table := range intake.Tables() {
		if seen[table.Name] || table.Note == "" || table.Kind.String() == "" {
			t.Errorf("table %q: want a name of its own, a kind and a note", table.Name)
		}
		seen[table.Name] = true
		columns := map[string]intake.Column{}
		for _, c := range table.Columns {
			if _, twice := columns[c.Name]; twice || c.Note == "" {
				t.Errorf("%s: column %q: want each once, with a note", table.Name, c.Name)
			}
			columns[c.Name] = c
			if c.Holds.String() == "" || c.Need.String() == "" {
				t.Errorf("%s: column %q: want a dimension and a need", table.Name, c.Name)
			}
			if (c.Holds == intake.Word) != (len(c.Words) > 0) {
				t.Errorf("%s: column %q: want words where it holds one of them, and only there", table.Name, c.Name)
			}
			if c.Default != "" && c.Need != intake.Optional {
				t.Errorf("%s: column %q: want a default of what may be blank only", table.Name, c.Name)
			}
		}
		if _, ok := columns["replaces"]; !ok {
			t.Errorf("table %s cannot be corrected", table.Name)
		}
		for _, group := range table.OneOf {
			for _, name := range group {
				if columns[name].Need != intake.Optional {
					t.Errorf("%s: column %q of a group: want it optional", table.Name, name)
				}
			}
		}
	}
}

// The columns of the design's section 6, in its own notation: a question mark for what may be left out.
// Columns that stand for one another are all optional here; OneOf holds them together.
const contract = `yards: yard, name, time zone, unit?
products: product, name?, reference moisture, absorption?
piles: yard?, pile, product, opened?, closed?, owner?
instruments: yard?, instrument, kind, from, until?, systematic?, random?, modulus?, certificate?, certificate class?
opening: yard?, pile, time, solids?, mass?, moisture?
production: yard?, time, belt, pile, net?, reading?, shift?, note?
loads: yard?, time, loader, ticket, pile, product?, truck?, customer?, passes?, net, purpose?, status?
deck: yard?, time, deck, ticket, truck?, customer?, product?, gross?, tare?, net, status?
transfers: yard?, time, loader?, ticket?, from pile, to pile, net, truck?
feed: yard?, time, instrument?, pile, net
returns: yard?, time, instrument?, ticket?, pile, net
surveys: yard?, survey, pile, start, end, volume, volume u?, deduction?, deduction reason?, base?, toe area?, method?, surveyor?, report?
densities: yard?, pile?, product?, taken, bulk density, moisture?, basis?, u?, tests?, method?, compaction factor?
moistures: yard?, pile?, product?, taken, moisture, tests?, u?
hours: yard?, weekday?, date?, day?, open?, close?
policy: yard?, name, value, from, reason?
costs: yard?, period, product?, kind?, cost centre?, amount, currency, note?
prices: yard?, from, product, price, selling cost?, completion cost?, per, currency`

func TestCatalogueIsTheContract(t *testing.T) {
	want := map[string]string{}
	for line := range strings.Lines(contract) {
		name, columns, _ := strings.Cut(strings.TrimSpace(line), ": ")
		want[name] = columns
	}
	got := map[string]string{}
	for _, table := range intake.Tables() {
		var columns []string
		for _, c := range table.Columns {
			switch {
			case c.Name == "replaces":
			case c.Need == intake.Optional:
				columns = append(columns, c.Name+"?")
			default:
				columns = append(columns, c.Name)
			}
		}
		got[table.Name] = strings.Join(columns, ", ")
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// A template built of the catalogue's headings is an empty intake: every heading is one that a header
// may have.
func TestHeadingsAreTaken(t *testing.T) {
	m := withRegister(t)
	for _, table := range intake.Tables() {
		var header []string
		for _, c := range table.Columns {
			header = append(header, c.Heading())
		}
		rep := m.mustTake(t, nil, file(table.Name+".csv", strings.Join(header, ",")+"\n"))
		if rep.Tables[0].Table != table.Name || rep.Tables[0].Rows != 0 {
			t.Errorf("%s: got %+v, want an empty table", table.Name, rep.Tables[0])
		}
	}
}
