package sqlite_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"repose/internal/sqlite"
)

// harm opens a damaged book and reads all of it. It returns how the damage was noticed, and fails the test
// where an error is none of those that a reader is promised.
func harm(t *testing.T, path string) (noticed bool) {
	t.Helper()
	ctx := context.Background()
	allowed := func(err error) {
		t.Helper()
		if err != nil && !errors.Is(err, sqlite.ErrDamaged) && !errors.Is(err, sqlite.ErrNotABook) && !errors.Is(err, sqlite.ErrNewer) {
			t.Errorf("error %v, want one that says the file is damaged", err)
		}
	}
	book, err := sqlite.Open(ctx, path, sqlite.ReadOnly)
	if err != nil {
		allowed(err)
		return true
	}
	defer book.Close()
	for _, err := range book.Latest().Records(ctx) {
		allowed(err)
	}
	for _, err := range book.Latest().Movements(ctx, testYard, day(time.October, 1, 0), day(time.November, 1, 0)) {
		allowed(err)
	}
	_, err = book.Latest().Files(ctx)
	allowed(err)
	v, err := book.Verify(ctx, nil)
	if err != nil {
		t.Errorf("verification ends in %v, want faults", err)
	}
	return !v.OK()
}

// TestDamagedByteIsFound changes one bit at a time, thousands of times. Each page has a checksum, so wherever the bit is
// it must be noticed, and where the book can be opened at all, its page must be named.
func TestDamagedByteIsFound(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	fillEveryTable(t, path)
	whole := read(t, path)
	places := []int{0, 16, 18, 19, 20, 21, 24, 28, 40, 44, 56, 60, 68, 92, 99, 100, len(whole) - 1}
	rng := rand.New(rand.NewPCG(1, 2))
	n := 4000
	if testing.Short() {
		n = 100
	}
	for range n {
		places = append(places, rng.IntN(len(whole)))
	}
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, at := range places {
		if _, err := f.WriteAt([]byte{whole[at] ^ 1<<rng.IntN(8)}, int64(at)); err != nil {
			t.Fatal(err)
		}
		if !located(t, path, at/pageSize+1) {
			t.Errorf("a bit of byte %d was changed, and its page is not named", at)
		}
		if _, err := f.WriteAt(whole[at:at+1], int64(at)); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(whole, read(t, path)) {
		t.Error("the book is not as it was")
	}
}

// located reports whether the book cannot be opened, or names a page of it as damaged and no other.
func located(t *testing.T, path string, page int) bool {
	t.Helper()
	ctx := context.Background()
	book, err := sqlite.Open(ctx, path, sqlite.ReadOnly)
	if err != nil {
		return errors.Is(err, sqlite.ErrDamaged) || errors.Is(err, sqlite.ErrNotABook) || errors.Is(err, sqlite.ErrNewer)
	}
	defer book.Close()
	v, err := book.Verify(ctx, nil)
	if err != nil {
		t.Fatal(err)
	}
	named := 0
	for _, f := range v.Faults {
		if strings.Contains(f.Text, "its checksum does not fit") {
			named++
			if !strings.HasPrefix(f.Text, fmt.Sprintf("page %d,", page)) {
				return false
			}
		} else if page == 1 && strings.Contains(f.Text, "the first page is damaged") {
			named++
		}
	}
	return named == 1
}

func TestTruncatedFileIsFound(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	fillEveryTable(t, path)
	whole := read(t, path)
	lengths := []int{0, 1, 15, 16, 99, 100, 101, 511, 512, 4095, 4096, 4097, 8192, len(whole) - 4096, len(whole) - 1}
	rng := rand.New(rand.NewPCG(3, 4))
	for range 40 {
		lengths = append(lengths, rng.IntN(len(whole)))
	}
	for _, n := range lengths {
		write(t, path, whole[:n])
		if _, err := sqlite.Open(context.Background(), path, sqlite.ReadOnly); !errors.Is(err, sqlite.ErrNotABook) {
			t.Errorf("the first %d of %d bytes: error %v, want ErrNotABook", n, len(whole), err)
		}
	}
}

// TestGarbageIsFound replaces whole stretches.
func TestGarbageIsFound(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	fillEveryTable(t, path)
	whole := read(t, path)
	rng := rand.New(rand.NewPCG(5, 6))
	for range 40 {
		damaged := slices.Clone(whole)
		from := 100 + rng.IntN(len(whole)-100)
		for i := from; i < min(from+1+rng.IntN(20_000), len(whole)); i++ {
			damaged[i] = byte(rng.Uint32())
		}
		write(t, path, damaged)
		if !harm(t, path) {
			t.Errorf("garbage from byte %d on was not found", from)
		}
	}
}

// dump is everything that a book tells its readers.
func dump(t *testing.T, path string) ([]string, error) {
	t.Helper()
	ctx := context.Background()
	book, err := sqlite.Open(ctx, path, sqlite.ReadOnly)
	if err != nil {
		return nil, err
	}
	defer book.Close()
	view := book.Latest()
	all := lines(view.Records(ctx))
	all = append(all, lines(view.Movements(ctx, testYard, day(time.January, 1, 0), day(time.December, 31, 0)))...)
	registers, err := view.Registers(ctx)
	all = append(all, lines(inLogOrder(registers))...)
	files, err2 := book.Latest().Files(ctx)
	var text bytes.Buffer
	for _, f := range files {
		err2 = errors.Join(err2, book.FileContent(ctx, f.SHA256, &text))
	}
	seals, err3 := view.Seals(ctx, testYard)
	for _, s := range seals {
		err2 = errors.Join(err2, book.WriteSeal(ctx, s.Record, &text))
	}
	err2 = errors.Join(err2, err3)
	return append(all, strings.Split(text.String(), "\n")...), errors.Join(err, err2)
}

// FuzzForgedPage changes one byte and makes the checksum of its page fit, as damage in memory or another
// program would. Nothing may crash, and where Verify finds no fault, the book must tell what it told
// before: the byte was one that is not used.
func FuzzForgedPage(f *testing.F) {
	rng := rand.New(rand.NewPCG(7, 8))
	for range 80 {
		f.Add(rng.Uint32(), byte(rng.Uint32()))
	}
	for _, at := range []uint32{16, 18, 20, 24, 28, 36, 44, 47, 52, 56, 59, 63, 64, 67, 95, 100, 103, 108} {
		f.Add(at, byte(1))
	}
	original := filepath.Join(f.TempDir(), "a.book")
	var whole []byte
	var want []string
	f.Fuzz(func(t *testing.T, at uint32, mask byte) {
		if whole == nil {
			fillEveryTable(t, original)
			whole = read(t, original)
			var err error
			if want, err = dump(t, original); err != nil {
				t.Fatal(err)
			}
		}
		forged := slices.Clone(whole)
		place := int(at) % len(forged)
		forged[place] ^= mask
		page := forged[place/pageSize*pageSize:][:pageSize]
		sum := sqlite.Checksum(page[:pageSize-8])
		copy(page[pageSize-8:], sum[:])
		path := filepath.Join(t.TempDir(), "a.book")
		write(t, path, forged)
		if harm(t, path) {
			return
		}
		got, err := dump(t, path)
		if d := cmp.Diff(want, got); d != "" || err != nil {
			t.Errorf("byte %d with mask %#x was not noticed, error %v (-original +forged):\n%s", place, mask, err, d)
		}
	})
}

const pageSize = 4096
