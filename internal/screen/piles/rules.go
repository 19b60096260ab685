// Package piles holds the rules of the exception register about what piles, plant, laboratory and surveys show. Each rule
// is one file.
package piles

import "repose/internal/screen"

// Rules returns the package's rules, in the order in which a reader meets them.
func Rules() []screen.Rule {
	return []screen.Rule{belowZero{}, notHeld{}, oneSided{}, mirrored{}, beltFactor{}, idle{}, feedAsNew{}, reset{}, staleDensity{}, staleMoisture{},
		staleBase{}, flying{}, toe{}, wetDry{}, density{}, unsurveyed{}, noInternal{}, freeIssue{}}
}
