package intake

import (
	"strings"
	"testing"
)

func TestParseHeading(t *testing.T) {
	for s, want := range map[string]heading{
		"net [t]": {"net", "t"}, " Net[ short ton ] ": {"Net", "short ton"}, "net": {name: "net"}, "net []": {"net", ""},
		"net t]": {name: "net t]"}, "net [t": {name: "net [t"}, "a [b] [c]": {"a [b]", "c"}, "": {},
	} {
		if got := parseHeading(s); got != want {
			t.Errorf("%q: got %+v, want %+v", s, got, want)
		}
	}
}

func TestTagName(t *testing.T) {
	for s, want := range map[string]string{"tag job": "job", "TAG  Rail car ": "Rail car", "tag": "", "tagged": "-", "stag x": "-", "": "-"} {
		got, ok := tagName(s)
		if !ok {
			got = "-"
		}
		if got != want {
			t.Errorf("%q: got %q, want %q", s, got, want)
		}
	}
}

func TestTableOfAName(t *testing.T) {
	tables := catalogue(Tables())
	for name, want := range map[string]string{
		"loads": "loads", "Loads-2026-08": "loads", "loads_2026": "loads", "loads (2)": "loads", "loads.north": "loads",
		"loads august": "loads", " LOADS ": "loads", "load": "", "loads2": "", "loads_north": "", "": "", "-loads": "",
	} {
		got := ""
		if table := tables.named(name); table != nil {
			got = table.Name
		}
		if got != want {
			t.Errorf("%q: got %q, want %q", name, got, want)
		}
	}
}

func TestNearest(t *testing.T) {
	names := []string{"time", "ticket", "from pile", "net"}
	for s, want := range map[string]string{"tiket": "ticket", "From_Pile": "from pile", "nett": "net", "customer": "", "": "", strings.Repeat("x", 100): ""} {
		if got := nearest(s, names); got != want {
			t.Errorf("%q: got %q, want %q", s, got, want)
		}
	}
}

func FuzzHeading(f *testing.F) {
	f.Add("net [t]")
	f.Add(" a [b] [ c ]")
	f.Add("tag x [y]")
	f.Fuzz(func(t *testing.T, s string) {
		h := parseHeading(s)
		if h.unit != "" && parseHeading(h.name+" ["+h.unit+"]") != h || h.name != strings.TrimSpace(h.name) {
			t.Fatalf("%q: got %+v", s, h)
		}
		if name, ok := tagName(s); ok && name != "" {
			if again, ok := tagName(TagPrefix + name); !ok || again != name {
				t.Fatalf("%q: tag %q, then %q", s, name, again)
			}
		}
	})
}
