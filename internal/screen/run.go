package screen

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"repose/ledger"
)

// Run looks through a month with every rule that the yard has not switched off. The exceptions come in order of
// time, rule and ID, each once. Settings that no rule reads, and values that do not read, are exceptions too.
func Run(d *Data, rules []Rule) ([]Exception, error) {
	var all []Exception
	for _, r := range rules {
		info := r.Info()
		if d.off(info) {
			continue
		}
		r.Look(d, func(f Finding) {
			if d.In(f.Time) {
				all = append(all, d.exception(info, f))
			}
		})
	}
	for _, f := range d.settingsWrong(rules) {
		all = append(all, d.exception(settingInfo(), f))
	}
	slices.SortFunc(all, Exception.Compare)
	return all, distinct(all)
}

// exception gives a finding its name, its place and its effects in solids.
func (d *Data) exception(i Info, f Finding) Exception {
	e := Exception{Finding: f, ID: ExceptionID(d.Yard, d.Month.Period, i.Name, f.Subject), Rule: i.Name, Strength: i.Strength}
	for _, x := range f.Effects {
		if x.Mass != 0 {
			e.Solids = append(e.Solids, Effect{x.Pile, d.Solids(x.Pile, f.Time, x.Mass)})
		}
	}
	return e
}

// Compare orders exceptions by time, rule and ID.
func (e Exception) Compare(f Exception) int {
	return cmp.Or(e.Time.Compare(f.Time), strings.Compare(e.Rule, f.Rule), strings.Compare(e.ID, f.ID))
}

// distinct refuses a rule that names one thing twice, and two things of one ID.
func distinct(all []Exception) error {
	seen := map[string]Exception{}
	for _, e := range all {
		if other, ok := seen[e.ID]; ok {
			return fmt.Errorf("exceptions %s: rule %q about %q, and rule %q about %q", e.ID, other.Rule, other.Subject, e.Rule, e.Subject)
		}
		seen[e.ID] = e
	}
	return nil
}

var errUnknown = errors.New("no rule has a setting of this name")

// settingRule is the name under which settings that go nowhere are in the register.
const settingRule = "setting not read"

// settingInfo describes what Run finds by itself, and the settings that no rule has to itself.
func settingInfo() Info {
	return Info{Name: settingRule, Strength: Certain,
		Meaning:  "A policy record that begins with \"rule\" sets nothing: no rule has a setting of that name, or its value does not read.",
		Benign:   "A slip of the pen.",
		Settle:   "A policy record with the right name or value; this one stays on record.",
		Settings: []Setting{matchWindow, matchTolerance}}
}

// SettingInfo describes the exceptions that Run itself finds.
func SettingInfo() Info { return settingInfo() }

// settingsWrong finds the settings of rules that go nowhere.
func (d *Data) settingsWrong(rules []Rule) []Finding {
	checks := map[ledger.PolicyName]func(value string) error{}
	known := settingInfo().Settings
	for _, r := range rules {
		i := r.Info()
		checks[i.Switch()] = checkSwitch
		known = append(known, i.Settings...)
	}
	for _, s := range known {
		checks[s.Name] = func(value string) error { return check(s, value) }
	}
	var found []Finding
	for _, name := range d.Register.Settings(d.Yard) {
		value, ok := d.Register.Setting(d.Yard, name, d.End.Add(-1))
		if !ok {
			continue // from a later month on
		}
		err := errUnknown
		if read, ok := checks[name]; ok {
			err = read(value)
		}
		if err != nil {
			found = append(found, Finding{Subject: string(name) + "=" + value, Time: d.Start, Seen: fmt.Sprintf("%s: %v", name, err)})
		}
	}
	return found
}

// checkSwitch reads the value of a rule's switch.
func checkSwitch(value string) error {
	if v := strings.ToLower(strings.TrimSpace(value)); v != "on" && v != "off" {
		return fmt.Errorf("%q: want on or off", value)
	}
	return nil
}
