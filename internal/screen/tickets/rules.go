// Package tickets holds the rules of the exception register about what the ticket numbers, voids, tares and clocks of loads and deck tickets show. Each rule
// is one file.
package tickets

import "repose/internal/screen"

// Rules returns the package's rules, in the order in which a reader meets them.
func Rules() []screen.Rule {
	return []screen.Rule{missing{}, repeated{}, order{}, voided{}, reissue{}, twin{}, oldTare{}, sameTare{}, outside{}, night{},
		late{}, replaced{}, pad{}}
}
