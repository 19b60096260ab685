package pack

import (
	"path"
	"path/filepath"
	"strings"
	"testing"
)

func TestOriginalPath(t *testing.T) {
	for name, want := range map[string]string{
		"loads.csv":                          "originals/007-loads.csv",
		"../../etc/passwd":                   "originals/007-passwd",
		`..\..\x.csv`:                        "originals/007-x.csv",
		`C:\yard\week 40.xlsx`:               "originals/007-week-40.xlsx",
		"C:week.csv":                         "originals/007-C-week.csv",
		"con":                                "originals/007-con",
		"":                                   "originals/007-file",
		"..":                                 "originals/007-file",
		"a/":                                 "originals/007-file",
		".hidden":                            "originals/007-hidden",
		"last.":                              "originals/007-last",
		"a:b|c?.csv":                         "originals/007-a-b-c-.csv",
		"a\x00\n\x1b[2J.csv":                 "originals/007-a---[2J.csv",
		"Süd.csv":                            "originals/007-S-d.csv",
		"\xff.csv":                           "originals/007--.csv",
		strings.Repeat("a", 300) + ".csv":    "originals/007-" + strings.Repeat("a", 76) + ".csv",
		strings.Repeat("a", 79) + ".b" + "b": "originals/007-" + strings.Repeat("a", 77) + ".bb",
		"a." + strings.Repeat("b", 300):      "originals/007-a." + strings.Repeat("b", 78),
	} {
		want = strings.ReplaceAll(want, "[", "-")
		if got := originalPath(7, name); got != want {
			t.Errorf("%q: %s, want %s", name, got, want)
		}
	}
	if got := originalPath(12345, "a"); got != "originals/12345-a" {
		t.Error(got)
	}
}

// FuzzOriginalPath looks for a name that leads out of its folder, or that some file system does not take.
func FuzzOriginalPath(f *testing.F) {
	for _, seed := range []string{"", "a.csv", "../x", `..\x`, "/etc/x", "nul", "aux.txt", ".", "..", "...", "a.", "a ", "~/x", "$HOME", "x\x00", "a\u202ecsv.exe",
		"\u2215x", "\uff0e\uff0e\uff0f", strings.Repeat("../", 100), strings.Repeat(".", 200), strings.Repeat("é.", 99)} {
		f.Add(1, seed)
	}
	f.Fuzz(func(t *testing.T, number int, name string) {
		number &= 1<<30 - 1
		got := originalPath(number, name)
		folder, file, _ := strings.Cut(got, "/")
		if folder != originalsFolder || !isPath(got) || path.Clean(got) != got || !filepath.IsLocal(filepath.FromSlash(got)) || len(file) > maxName+11 ||
			strings.HasSuffix(file, ".") || file[0] < '0' || file[0] > '9' {
			t.Errorf("%q: %q", name, got)
		}
	})
}

func TestIsPath(t *testing.T) {
	for s, want := range map[string]bool{"a": true, "README.txt": true, "tables/a.csv": true, "originals/001-a": true,
		"": false, "tables": false, "originals": false, "tables/": false, "/a": false, "a/b": false, "tables/a/b": false, "tables/../a": false,
		"tables/..": false, "..": false, ".a": false, `tables\a`: false, "a b": false, "a\n": false, "é": false, "a:b": false} {
		if got := isPath(s); got != want {
			t.Errorf("%q: %v", s, got)
		}
	}
}
