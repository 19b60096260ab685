package intake_test

import (
	"testing"

	"repose/internal/demoyard"
	"repose/internal/intake"
)

// demo returns the invented yard's files, its map and what it knows of them.
func demo(t testing.TB) ([]intake.Source, []*intake.Map, demoyard.Truth) {
	t.Helper()
	files, truth, err := demoyard.Files()
	if err != nil {
		t.Fatal(err)
	}
	var sources []intake.Source
	var maps []*intake.Map
	content := map[string][]byte{}
	for _, f := range files {
		content[f.Name] = f.Content
	}
	read := map[string]bool{}
	for _, f := range files {
		if f.Map != "" && !read[f.Map] {
			read[f.Map] = true
			m, err := intake.ReadMap(f.Map, content[f.Map])
			if err != nil {
				t.Fatal(err)
			}
			maps = append(maps, m)
		}
	}
	for _, f := range files {
		if !read[f.Name] {
			sources = append(sources, intake.InMemory(f.Name, f.Content))
		}
	}
	return sources, maps, truth
}

// The invented yard counts its own rows, voids, repeats and corrections: intake must find the same.
func TestDemoYardIsTakenIn(t *testing.T) {
	sources, maps, truth := demo(t)
	m := newMemory()
	rep := m.mustTake(t, maps, sources...)
	byName := map[string]intake.TableReport{}
	for _, r := range rep.Tables {
		byName[r.File+"/"+r.Sheet] = r
	}
	if len(truth.Tables) == 0 || len(byName) != len(truth.Tables) {
		t.Fatalf("%d tables taken in, the yard has %d", len(byName), len(truth.Tables))
	}
	replacing := map[string]int{}
	for _, r := range m.records {
		if r.Replaces != "" {
			replacing[r.Source.File]++
		}
	}
	for _, want := range truth.Tables {
		got := byName[want.File+"/"+want.Sheet]
		if got.Table != want.Table || got.Rows != want.Rows || got.Void != want.Voids || got.Held != want.Repeated ||
			got.New != want.Rows-want.Repeated || len(got.Conflicts) != 0 || got.Suspense != 0 || len(got.Ignored) != 0 {
			t.Errorf("%s %s: got %+v, want %+v", want.File, want.Sheet, got, want)
		}
		if replacing[got.SHA256] != want.Replacing {
			t.Errorf("%s: %d rows replace another, want %d", want.File, replacing[got.SHA256], want.Replacing)
		}
	}

	before := m.bodies()
	again := m.mustTake(t, maps, sources...)
	for _, r := range again.Tables {
		if r.New != 0 || r.Held != r.Rows || r.NewFile {
			t.Errorf("%s %s a second time: got %+v, want every row held", r.File, r.Sheet, r)
		}
	}
	if len(m.bodies()) != len(before) {
		t.Error("the second intake of the same files changed the book")
	}
}
