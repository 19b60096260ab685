// Package demoyard invents a quarry yard of which everything is known: what the piles truly hold, what
// every instrument gets wrong, and which loads left without a record. It writes the files that such a
// yard would send for three months, for the demonstration and for tests that need input with known truth.
//
// The yard, its codes and every figure are invented. One thing is wrong in it on purpose: some
// truckloads of one product leave without any record in the second and third month.
//
// The whole simulation runs on integers (grams, parts per million, hundredths of a per cent), so that
// its result does not depend on how a processor rounds.
package demoyard

import (
	"fmt"
	"time"
)

// File is one file of the yard as it would arrive.
type File struct {
	Name    string // base name; the part before the first "-" or "." names its table unless a map does
	Content []byte
	Map     string // name of the column-map file it is taken in with; empty if none
}

// Files returns the yard's files, in an order in which they can be taken in, and the truth behind them.
// The same call gives the same bytes. It fails if the system has no time-zone data.
func Files() ([]File, Truth, error) {
	zone, err := time.LoadLocation(zoneName)
	if err != nil {
		return nil, Truth{}, fmt.Errorf("time zone of the invented yard: %w", err)
	}
	s := simulate(zone)
	files, counts, err := s.files()
	if err != nil {
		return nil, Truth{}, err
	}
	return files, s.truth(counts), nil
}
