package merkle_test

import (
	"fmt"
	"testing"

	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"

	"repose/internal/merkle"
)

// rootOf is the head of a log of the given entries.
func rootOf(entries ...string) merkle.Hash {
	var f merkle.Frontier
	for _, e := range entries {
		f.Append(merkle.LeafHash([]byte(e)))
	}
	return f.Root()
}

// The values were computed with another implementation of SHA-256 from the definitions of RFC 6962
// section 2.1 (the project's vector V15).
func TestVectors(t *testing.T) {
	for _, test := range []struct {
		name string
		got  merkle.Hash
		want string
	}{
		{"root of the empty log", rootOf(), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
		{"leaf of no data", merkle.LeafHash(nil), "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d"},
		{"leaf a", merkle.LeafHash([]byte("a")), "022a6979e6dab7aa5ae4c3e5e45f7e977112a7e63593820dbec1ec738a24f93c"},
		{"root of a", rootOf("a"), "022a6979e6dab7aa5ae4c3e5e45f7e977112a7e63593820dbec1ec738a24f93c"},
		{"root of a, b", rootOf("a", "b"), "b137985ff484fb600db93107c77b0365c80d78f5b429ded0fd97361d077999eb"},
		{"root of a, b, c", rootOf("a", "b", "c"), "36642e73c2540ab121e3a6bf9545b0a24982cd830eb13d3cd19de3ce6c021ec1"},
	} {
		if got := test.got.String(); got != test.want {
			t.Errorf("%s: %s, want %s", test.name, got, test.want)
		}
	}
}

// oracle keeps every hash of a tree, as the Go checksum database does, and gives its head.
type oracle struct{ hashes []tlog.Hash }

func (o *oracle) append(t *rapid.T, n int64, data []byte) {
	stored, err := tlog.StoredHashes(n, data, o)
	if err != nil {
		t.Fatal(err)
	}
	o.hashes = append(o.hashes, stored...)
}

func (o *oracle) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	out := make([]tlog.Hash, 0, len(indexes))
	for _, i := range indexes {
		if i < 0 || i >= int64(len(o.hashes)) {
			return nil, fmt.Errorf("no hash %d", i)
		}
		out = append(out, o.hashes[i])
	}
	return out, nil
}

// The reference is golang.org/x/mod/sumdb/tlog. The frontier is written and read back at random places,
// as happens between two runs of the program.
func TestFrontierAgreesWithReference(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var o oracle
		var f merkle.Frontier
		size := rapid.Int64Range(1, 300).Draw(t, "size")
		for n := range size {
			data := fmt.Appendf(nil, "entry %d of %d", n, size)
			o.append(t, n, data)
			f.Append(merkle.LeafHash(data))
			if rapid.IntRange(0, 9).Draw(t, "pause") == 0 {
				f = reread(t, &f)
			}
			want, err := tlog.TreeHash(n+1, &o)
			if err != nil {
				t.Fatal(err)
			}
			if got := f.Root(); got != merkle.Hash(want) || f.Size() != n+1 {
				t.Fatalf("head of %d: %s of %d leaves, want %x of %d", n+1, got, f.Size(), want[:], n+1)
			}
		}
	})
}

func reread(t *rapid.T, f *merkle.Frontier) merkle.Frontier {
	b, err := f.MarshalBinary()
	if err != nil {
		t.Fatal(err)
	}
	var g merkle.Frontier
	if err := g.UnmarshalBinary(b); err != nil {
		t.Fatal(err)
	}
	return g
}

func TestCloneSharesNothing(t *testing.T) {
	var f merkle.Frontier
	for i := range 7 {
		f.Append(merkle.LeafHash([]byte{byte(i)}))
	}
	want := f.Root()
	g := f.Clone()
	for i := range 9 {
		g.Append(merkle.LeafHash([]byte{byte(100 + i)}))
	}
	if f.Root() != want || f.Size() != 7 || g.Size() != 16 {
		t.Errorf("appending to a clone changed the original: %s of %d leaves, want %s of 7", f.Root(), f.Size(), want)
	}
}

func TestUnmarshalRefuses(t *testing.T) {
	var f merkle.Frontier
	for range 5 {
		f.Append(merkle.LeafHash(nil))
	}
	good, _ := f.MarshalBinary()
	negative := append([]byte{0x80}, good[1:]...)
	for name, b := range map[string][]byte{
		"nothing":             nil,
		"part of a size":      good[:7],
		"one hash too few":    good[:len(good)-merkle.Size],
		"part of a hash":      good[:len(good)-1],
		"one byte too many":   append(good[:len(good):len(good)], 0),
		"a negative size":     negative,
		"hashes for no leaf":  make([]byte, 8+merkle.Size),
		"a leaf without hash": append(make([]byte, 7), 1),
	} {
		var g merkle.Frontier
		if err := g.UnmarshalBinary(b); err == nil {
			t.Errorf("%s: accepted as %d leaves", name, g.Size())
		}
	}
}

func BenchmarkAppend(b *testing.B) {
	line := make([]byte, 400)
	b.SetBytes(int64(len(line)))
	b.ReportAllocs()
	var f merkle.Frontier
	for b.Loop() {
		f.Append(merkle.LeafHash(line))
	}
}
