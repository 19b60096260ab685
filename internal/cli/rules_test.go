package cli

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/internal/book"
)

var writeRules = flag.Bool("write-rules", false, "write docs/rules.md anew")

// docs/rules.md says what the program says of its rules.
func TestRulesPage(t *testing.T) {
	const path = "../../docs/rules.md"
	want := rulesPage()
	if *writeRules {
		if err := os.WriteFile(path, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, string(got)); diff != "" {
		t.Errorf("docs/rules.md is not what repose exceptions rules says; go test ./internal/cli -run RulesPage -write-rules (-want +got):\n%s", diff)
	}
}

func rulesPage() string {
	var b strings.Builder
	b.WriteString("# The rules of the exception register\n\n" +
		"Written by a test from what `repose exceptions rules` says; see [exceptions.md](exceptions.md). A setting is changed by a\n" +
		"row of the policy table with its name. A row with `rule` and the rule's name, and the value `off`, switches it off.\n" +
		"The figure after *false* is how many findings a clean month of 1,000 loads has at most, in the mean: a test counts\n" +
		"on 200 invented months.\n")
	for _, i := range book.Rules() {
		rate := "cannot be wrong about what the records say"
		if i.FalseAlarms > 0 {
			rate = fmt.Sprintf("false: %g", i.FalseAlarms)
		}
		fmt.Fprintf(&b, "\n## %s\n\n*%s; %s.* %s\n\n- **Harmless reasons first:** %s\n- **Settled by:** %s\n", i.Name, i.Strength, rate, i.Meaning, i.Benign, i.Settle)
		for _, s := range i.Settings {
			fmt.Fprintf(&b, "- `%s`: %s; `%s` if nothing is set. %s\n", s.Name, s.Holds, s.Default, s.Meaning)
		}
	}
	return b.String()
}
