// Package rules lists every rule of the exception register.
package rules

import (
	"slices"

	"repose/internal/screen"
	"repose/internal/screen/piles"
	"repose/internal/screen/tickets"
	"repose/internal/screen/weights"
)

// All returns every rule, in the order in which a reader meets them.
func All() []screen.Rule { return slices.Concat(tickets.Rules(), weights.Rules(), piles.Rules()) }

// Info returns what is known of a rule by its name; ok is false where no rule has it.
func Info(name string) (i screen.Info, ok bool) {
	for _, r := range All() {
		if i := r.Info(); i.Name == name {
			return i, true
		}
	}
	i = screen.SettingInfo()
	return i, i.Name == name
}
