package pack

import (
	"context"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// packFiles returns every file of a pack with its bytes.
func packFiles(t testing.TB, dir string) map[string][]byte {
	t.Helper()
	files := map[string][]byte{}
	r, err := os.OpenRoot(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	for _, f := range archive(t, dir).Files {
		if files[f.Name], err = r.ReadFile(f.Name); err != nil {
			t.Fatal(err)
		}
	}
	return files
}

// byLine lists the files in which a changed byte must be found at its line. In the others it is enough to find the file:
// nothing in a pack says what their lines should be.
var byLine = []string{sumsName, contentsName, recordsName, leavesName, entriesName, balancesName, originalsName}

// TestFlippedByteIsLocated changes one byte of one file at a time. It must be found, in that file, and nothing else in the
// pack may be blamed for it.
func TestFlippedByteIsLocated(t *testing.T) {
	dir := smallPack(t)
	files := packFiles(t, dir)
	var names []string
	for name := range files {
		names = append(names, name)
	}
	slices.Sort(names)
	flips := 3000
	if testing.Short() {
		flips = 600
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for range flips {
		name := names[rng.IntN(len(names))]
		at := rng.IntN(len(files[name]))
		was := files[name][at]
		now := was ^ byte(1+rng.IntN(255))
		patch(t, dir, name, at, now)
		checkFlip(t, mustVerify(t, dir), name, files[name], at, now)
		patch(t, dir, name, at, was)
	}
	if r := mustVerify(t, dir); !r.OK() {
		t.Errorf("the pack was not restored: %v", r.Faults)
	}
}

// TestEveryByteOfTheListsIsLocated leaves no byte of the two lists out, and sets each to what could pass for structure.
func TestEveryByteOfTheListsIsLocated(t *testing.T) {
	dir := smallPack(t)
	files := packFiles(t, dir)
	step := 1
	if testing.Short() {
		step = 9
	}
	for _, name := range []string{sumsName, contentsName} {
		for at := 0; at < len(files[name]); at += step {
			was := files[name][at]
			for _, now := range []byte("\na") {
				if now == was {
					continue
				}
				patch(t, dir, name, at, now)
				checkFlip(t, mustVerify(t, dir), name, files[name], at, now)
			}
			patch(t, dir, name, at, was)
		}
	}
}

func patch(t *testing.T, dir, name string, at int, b byte) {
	t.Helper()
	f, err := os.OpenFile(filepath.Join(dir, filepath.FromSlash(name)), os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := f.WriteAt([]byte{b}, int64(at)); err != nil {
		t.Fatal(err)
	}
}

func checkFlip(t *testing.T, r *Result, name string, whole []byte, at int, now byte) {
	t.Helper()
	line := 1 + strings.Count(string(whole[:at]), "\n")
	found := false
	for _, f := range r.Faults {
		if f.Path == name && (f.Line == line || !slices.Contains(byLine, name)) {
			found = true
		}
		if f.Path != name {
			t.Errorf("%s:%d byte %d from %q to %q: blamed for it: %v", name, line, at, whole[at], now, f)
		}
	}
	if !found {
		t.Errorf("%s:%d byte %d from %q to %q: not found there: %v", name, line, at, whole[at], now, r.Faults)
	}
}

// TestTruncatedFileIsLocated cuts every file short, and lengthens it.
func TestTruncatedFileIsLocated(t *testing.T) {
	dir := smallPack(t)
	rng := rand.New(rand.NewPCG(3, 4))
	for name, whole := range packFiles(t, dir) {
		texts := [][]byte{nil, whole[:len(whole)-1], append(slices.Clone(whole), '\n'), append(slices.Clone(whole), whole...)}
		for range 20 {
			texts = append(texts, whole[:rng.IntN(len(whole))])
		}
		for _, text := range texts {
			write(t, dir, name, string(text))
			r := mustVerify(t, dir)
			if !slices.ContainsFunc(r.Faults, func(f Fault) bool { return f.Path == name }) {
				t.Errorf("%s cut or lengthened from %d to %d bytes: %v", name, len(whole), len(text), r.Faults)
			}
		}
		write(t, dir, name, string(whole))
	}
}

// TestGarbage verifies packs whose files are noise: there are faults, and an end.
func TestGarbage(t *testing.T) {
	dir := smallPack(t)
	rng := rand.New(rand.NewPCG(5, 6))
	rounds := 10
	if testing.Short() {
		rounds = 2
	}
	for name, whole := range packFiles(t, dir) {
		for range rounds {
			noise := slices.Clone(whole)
			for i := range noise {
				if rng.IntN(4) == 0 {
					noise[i] = byte(rng.Uint32())
				}
			}
			write(t, dir, name, string(noise))
			if r := mustVerify(t, dir); r.OK() {
				t.Errorf("%s: noise passes", name)
			}
		}
	}
	r, err := Verify(context.Background(), dir, nil)
	if err != nil || len(r.Faults) > maxFaults || r.Found < int64(len(r.Faults)) {
		t.Errorf("%d faults of %d, error %v", len(r.Faults), r.Found, err)
	}
}
