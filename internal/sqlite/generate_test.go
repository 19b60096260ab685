package sqlite_test

import (
	"time"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"repose/ledger"
)

// epoch is the instant from which the generated facts start.
func epoch() time.Time { return time.Date(2026, 9, 30, 22, 0, 0, 0, time.UTC) }

// Few values are drawn from, so that keys, instants and whole bodies meet often.
var (
	someYards   = rapid.SampledFrom([]string{"NORTH", "SOUTH"})
	someCodes   = rapid.SampledFrom([]string{"P1", "P2", "Q-3"})
	someTickets = rapid.SampledFrom([]string{"1", "2", "2#2", `n"4\`, "5/é\x01"})
	someTexts   = rapid.SampledFrom([]string{"", "a", `say "so"`, "tab\there", "Γ/14"})
	someMasses  = rapid.Map(rapid.Int64Range(0, 2), func(n int64) ledger.Mass { return ledger.Mass(n) * ledger.Tonne })
	someTimes   = rapid.Map(rapid.IntRange(0, 5), func(n int) time.Time {
		return epoch().Add(time.Duration(n) * time.Hour).Add(time.Duration(n%2) * time.Nanosecond)
	})
	someMoistures = rapid.Map(rapid.SampledFrom([]string{"0", "4.2", "3.123456789012"}), func(s string) ledger.DryBasis {
		m, err := ledger.NewDryBasis(decimal.RequireFromString(s))
		if err != nil {
			panic(err)
		}
		return m
	})
)

// someFacts draws a fact of any kind that a yard takes in, with one yard's worth of piles.
func someFacts(t *rapid.T) ledger.Fact {
	at, code, text, mass := someTimes.Draw(t, "at"), someCodes.Draw(t, "code"), someTexts.Draw(t, "text"), someMasses.Draw(t, "mass")
	ticket, moisture := someTickets.Draw(t, "ticket"), someMoistures.Draw(t, "moisture")
	switch rapid.IntRange(0, 18).Draw(t, "kind") {
	case 0:
		return ledger.Yard{Code: code, Name: text, Zone: "Etc/UTC", Unit: ledger.UnitTonne}
	case 1:
		return ledger.Product{Code: code, Name: text, Reference: moisture}
	case 2:
		return ledger.Pile{Code: code, Product: "14-20", Opened: at, Owner: text}
	case 3:
		return ledger.Instrument{Code: code, Weighs: ledger.InstrumentBelt, From: at, Modulus: mass}
	case 4:
		return ledger.Hours{Day: "Monday", Open: "06:00", Close: text}
	case 5:
		return ledger.Policy{Name: ledger.PolicyAdjust, Value: "never", From: at, Reason: text}
	case 6:
		return ledger.Opening{Pile: code, At: at, Solids: mass, IsSolids: true}
	case 7:
		return ledger.MoistureTest{Pile: code, Taken: at, Moisture: moisture, Tests: 3}
	case 8:
		return ledger.DensityTest{Product: code, Taken: at, MoistTPerM3: decimal.RequireFromString("1.58"),
			Moisture: moisture, Compaction: decimal.NewFromInt(1)}
	case 9:
		return ledger.Production{At: at, Belt: "B1", Pile: code, Net: mass, Note: text}
	case 10:
		return ledger.Return{At: at, Instrument: "L1", Ticket: ticket, Pile: code, Net: mass}
	case 11:
		return ledger.Transfer{At: at, Loader: "L1", Ticket: ticket, From: "P8", To: "P9", Net: mass}
	case 12:
		return ledger.Feed{At: at, Instrument: "L1", Pile: code, Net: mass}
	case 13:
		return ledger.DeckTicket{At: at, Deck: "D1", Ticket: ticket, Truck: text, Net: mass}
	case 14:
		return ledger.Survey{Survey: ticket, Pile: code, Start: at, End: at, VolumeM3: decimal.NewFromInt(100), Method: text}
	case 15:
		return ledger.Decision{Of: "conflict:NORTH:" + ticket, Take: mass > 0, Reason: "weighed again"}
	case 17:
		return ledger.Correction{Exception: ticket, Number: 1, At: at, From: ledger.End{Kind: ledger.KindPile, Name: code}, To: ledger.ExplainedBy("dust"),
			Pile: code, Net: max(mass, 1), Reason: text}
	case 18:
		return ledger.Settlement{Exception: ticket, Rule: "near twin", Status: ledger.ExceptionWaived, Reason: "r" + text, At: at, Seen: text,
			Decided: time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC)}
	default:
		return ledger.Load{At: at, Loader: "L1", Ticket: ticket, Pile: code, Customer: text, Net: mass,
			Purpose: ledger.PurposeSale, Void: mass == 0}
	}
}

// someRecord draws a record: a fact of a yard, a row of one of the files, at times a correction.
func someRecord(t *rapid.T, files []string) ledger.Record {
	fact := someFacts(t)
	yard := someYards.Draw(t, "yard")
	if fact.Kind() == ledger.KindProductRecord {
		yard = ""
	}
	rec, err := ledger.NewRecord(yard, fact)
	if err != nil {
		t.Fatalf("generated fact is refused: %v", err)
	}
	switch rapid.IntRange(0, 9).Draw(t, "correction") {
	case 0, 1:
		rec.Replaces = fact.Key()
	case 2:
		rec.Replaces = "L1/another"
	}
	if rapid.IntRange(0, 4).Draw(t, "tagged") == 0 {
		rec.Tags = []ledger.Tag{{Name: "hopper", Value: "H" + someTickets.Draw(t, "tag")}}
		switch shift := (ledger.Tag{Name: "shift", Value: "late"}); rapid.IntRange(0, 2).Draw(t, "tags") { // in whatever order the columns stood
		case 1:
			rec.Tags = append(rec.Tags, shift)
		case 2:
			rec.Tags = append([]ledger.Tag{shift}, rec.Tags...)
		}
	}
	if n := rapid.IntRange(-1, len(files)-1).Draw(t, "file"); n >= 0 {
		rec.Source = ledger.Source{File: files[n], Row: rapid.IntRange(1, 4).Draw(t, "row")}
		if n%2 == 1 {
			rec.Source.Sheet = "loads"
		}
	}
	return rec
}
