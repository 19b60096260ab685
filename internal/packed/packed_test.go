package packed_test

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"repose/internal/packed"
)

// columns are drawn so that each way of writing them comes up: constants, few distinct values, and many.
func someInts(t *rapid.T) []int64 {
	return rapid.OneOf(
		rapid.SliceOfN(rapid.SampledFrom([]int64{7, -3, math.MaxInt64, math.MinInt64, 0}), 1, 300),
		rapid.SliceOfN(rapid.Int64(), 1, 300),
		rapid.SliceOfN(rapid.Just(int64(12)), 1, 300)).Draw(t, "ints")
}

func someTexts(t *rapid.T) []string {
	ticket := rapid.Custom(func(t *rapid.T) string { return fmt.Sprintf("L1-%06d", rapid.IntRange(0, 9999).Draw(t, "n")) })
	return rapid.OneOf(
		rapid.SliceOfN(rapid.SampledFrom([]string{"", "P1", "P2", "sale\x00é"}), 1, 600),
		rapid.SliceOfN(ticket, 1, 600),
		rapid.SliceOfN(rapid.String(), 1, 100),
		rapid.SliceOfN(rapid.Just("kept"), 1, 300)).Draw(t, "texts")
}

func pack(ints []int64, texts []string) []byte {
	var t packed.Texts
	t.Add([]byte("what stood there before"))
	t.Reset()
	for _, s := range texts {
		t.Add([]byte(s))
	}
	return t.AppendTo(packed.AppendInts([]byte("head"), ints))[len("head"):]
}

func TestWhatIsWrittenIsRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ints, texts := someInts(t), someTexts(t)
		b := pack(ints, texts)
		if again := pack(ints, texts); !bytes.Equal(b, again) {
			t.Fatal("the same columns gave other bytes")
		}
		r := packed.NewReader(b)
		gotInts, gotTexts := r.Ints(len(ints)), r.Texts(len(texts))
		if err := r.End(); err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(ints, gotInts); d != "" {
			t.Error(d)
		}
		if d := cmp.Diff(texts, gotTexts); d != "" {
			t.Error(d)
		}
		for cut := range len(b) {
			r := packed.NewReader(b[:cut])
			r.Ints(len(ints))
			r.Texts(len(texts))
			if err := r.End(); !errors.Is(err, packed.ErrPacked) {
				t.Fatalf("the first %d of %d bytes were read: %v", cut, len(b), err)
			}
		}
	})
}

// What repeats takes little room.
func TestSizes(t *testing.T) {
	const n = 1000
	same, numbers := make([]int64, n), make([]int64, n)
	var tickets, piles packed.Texts
	for i := range n {
		numbers[i] = int64(5000 + i)
		tickets.Add(fmt.Appendf(nil, "Y01-L1-%06d", i))
		piles.Add(fmt.Appendf(nil, "P%d", i%20))
	}
	for what, test := range map[string]struct{ got, most int }{
		"a constant": {len(packed.AppendInts(nil, same)), 2},
		"a count":    {len(packed.AppendInts(nil, numbers)), n + 3},
		"tickets":    {len(tickets.AppendTo(nil)), 32 * n / 10},
		"piles":      {len(piles.AppendTo(nil)), n + 100},
	} {
		if test.got > test.most {
			t.Errorf("%s take %d bytes, want %d at most", what, test.got, test.most)
		}
	}
}

// FuzzReader reads bytes that nobody wrote: an error, or columns of the length that was asked for.
func FuzzReader(f *testing.F) {
	f.Add(pack([]int64{1, 2, 3}, []string{"a", "b", "a"}), 3)
	f.Add(pack([]int64{1, 1, 1}, []string{"a", "a", "a"}), 3)
	f.Add([]byte{3, 0, 0, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x01}, 1)
	f.Fuzz(func(t *testing.T, b []byte, n int) {
		if n < 0 || n > 2*packed.MaxRows {
			return
		}
		r := packed.NewReader(b)
		ints, texts := r.Ints(n), r.Texts(n)
		if r.End() == nil && (len(ints) != n || len(texts) != n) {
			t.Errorf("%d numbers and %d texts, want %d", len(ints), len(texts), n)
		}
	})
}
