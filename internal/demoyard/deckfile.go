package demoyard

import (
	"fmt"
	"strings"

	"golang.org/x/text/encoding/charmap"
)

// The deck scale's software writes in its own way: semicolons, decimal commas, kilograms, day first,
// its own words, a code page of its own, two lines of title. The map says so.
const (
	deckFileName = "Wiegescheine 2026-08 bis 2026-10.csv"
	deckMapName  = "deck-map.toml"
	wordKept     = "gültig"
	wordVoid     = "storniert"
	deckLayout   = "02.01.2006 15:04"
)

// deckFile returns the deck scale's export and its count.
func (s *simulation) deckFile() (File, TableTruth, error) {
	count := TableTruth{File: deckFileName, Table: "deck", Rows: len(s.deck)}
	var b strings.Builder
	b.WriteString("Wiegeplatz 1 – Ausgang, alle Wiegescheine\r\n")
	b.WriteString("Zeitraum 01.08.2026 bis 31.10.2026;;Gewichte in kg\r\n")
	b.WriteString("Datum/Uhrzeit;Schein-Nr.;Kennzeichen;Artikel;Brutto;Tara;Netto;Empfänger;Status\r\n")
	for _, d := range s.deck {
		status := wordKept
		if d.void {
			status = wordVoid
			count.Voids++
		}
		const tenth = kilogram / 10
		fmt.Fprintf(&b, "%s;%s;%s;%s;%s;%s;%s;%s;%s\r\n", s.local(d.at, deckLayout), d.ticket, d.truck, products[d.product].word,
			german(d.gross/tenth), german(d.tare/tenth), german((d.gross-d.tare)/tenth), d.customer, status)
	}
	content, err := charmap.Windows1252.NewEncoder().String(b.String())
	if err != nil {
		return File{}, TableTruth{}, fmt.Errorf("%s: %w", deckFileName, err)
	}
	return File{Name: deckFileName, Content: []byte(content), Map: deckMapName}, count, nil
}

// deckMap returns the column map of that export. Go's quoted strings of these words are TOML's.
func deckMap() File {
	var b strings.Builder
	b.WriteString(`# How the deck scale's export becomes the table "deck".
table = "deck"
match = "Wiegescheine*.csv"
encoding = "windows-1252"
delimiter = ";"
decimal = ","
thousands = "."
"header row" = 3
"date layout" = "DD.MM.YYYY HH:MM"

# ours = theirs
[columns]
time = "Datum/Uhrzeit"
ticket = "Schein-Nr."
truck = "Kennzeichen"
product = "Artikel"
gross = { from = "Brutto", unit = "kg" }
tare = { from = "Tara", unit = "kg" }
net = { from = "Netto", unit = "kg" }
customer = "Empfänger"
status = "Status"

[constants]
`)
	fmt.Fprintf(&b, "deck = %q\n\n# theirs = ours\n[values.status]\n%q = \"kept\"\n%q = \"void\"\n\n[values.product]\n",
		deckScale.code, wordKept, wordVoid)
	for _, p := range products {
		fmt.Fprintf(&b, "%q = %q\n", p.word, p.code)
	}
	return File{Name: deckMapName, Content: []byte(b.String())}
}
