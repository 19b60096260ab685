package intake_test

import (
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"repose/internal/intake"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write what the golden tests got as what they want")

// Each archive of testdata/errors holds tables, and maps named *.toml, and in the file "want" all that
// must be found wrong with them.
func TestErrorsAreGolden(t *testing.T) {
	paths, err := filepath.Glob(filepath.Join("testdata", "errors", "*.txtar"))
	if err != nil || len(paths) == 0 {
		t.Fatalf("no cases: %v", err)
	}
	for _, path := range paths {
		t.Run(strings.TrimSuffix(filepath.Base(path), ".txtar"), func(t *testing.T) {
			archive, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			comment, sources, maps, want := split(string(archive))
			m := withRegister(t)
			before := len(m.records)
			got := found(t, m, sources, maps)
			if len(m.records) > before && !strings.Contains(comment, "appends before the error") {
				t.Errorf("%d records were given to the sink before the first error, want none", len(m.records)-before)
			}
			if *update {
				head, _, _ := strings.Cut(string(archive), fileMark+"want"+markEnd)
				if err := os.WriteFile(path, []byte(head+fileMark+"want"+markEnd+got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// The archives are in the format txtar: a comment, then files, each after a line "-- name --".
const fileMark, markEnd = "-- ", " --\n"

// split parts an archive into tables, maps and the file "want".
func split(archive string) (comment string, sources []intake.Source, maps [][2]string, want string) {
	comment, rest, _ := strings.Cut(archive, fileMark)
	for _, part := range strings.Split(rest, "\n"+fileMark) {
		name, content, _ := strings.Cut(part, markEnd)
		switch {
		case name == "want":
			want = content
		case filepath.Ext(name) == ".toml":
			maps = append(maps, [2]string{name, content + "\n"})
		default:
			sources = append(sources, file(name, content+"\n"))
		}
	}
	return comment, sources, maps, want
}

// found returns all that is wrong with maps and tables, a line for each.
func found(t *testing.T, m *memory, sources []intake.Source, maps [][2]string) string {
	var lines strings.Builder
	note := func(err error) {
		var rows *intake.RowErrors
		if err == nil || !errors.As(onlyRowErrors(t, err), &rows) {
			return
		}
		for _, e := range rows.Errors {
			lines.WriteString(e.Error() + "\n")
		}
		if rows.Total != len(rows.Errors) {
			t.Errorf("%d errors kept of %d", len(rows.Errors), rows.Total)
		}
	}
	var read []*intake.Map
	for _, f := range maps {
		columnMap, err := intake.ReadMap(f[0], []byte(f[1]))
		note(err)
		if err == nil {
			read = append(read, columnMap)
		}
	}
	if lines.Len() > 0 {
		return lines.String()
	}
	_, err := m.take(t, read, sources...)
	note(err)
	return lines.String()
}
