// Package weights holds the rules of the exception register about what loaders and deck scales show when they are held
// against each other, and what the digits of weights show. Each rule is one file.
package weights

import "repose/internal/screen"

// Rules returns the package's rules, in the order in which a reader meets them.
func Rules() []screen.Rule {
	return []screen.Rule{noDeckTicket{}, noLoaderLoad{}, weightsDiffer{}, bucketPass{}, unitSlip{}, wrongProduct{}, wrongPile{},
		wrongTruck{}, mergedLoad{}, splitLoad{}, driftingScale{}, roundWeights{}, digitPattern{}, clockOffset{}}
}
