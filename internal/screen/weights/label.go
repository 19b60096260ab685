package weights

import (
	"fmt"
	"strings"
	"time"
)

// sameLabel compares labels as the matching does: people type them, so case and outer blanks do not count.
func sameLabel(a, b string) bool {
	return strings.EqualFold(strings.TrimSpace(a), strings.TrimSpace(b))
}

// onTruck names a truck within a sentence.
func onTruck(truck string) string {
	if truck == "" {
		return ""
	}
	return " on truck " + truck
}

// ofProduct names a product within a sentence.
func ofProduct(product string) string {
	if product == "" {
		return ""
	}
	return " of " + product
}

// minutes writes a time of some minutes.
func minutes(d time.Duration) string { return fmt.Sprintf("%.0f min", d.Minutes()) }
