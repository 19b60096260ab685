package pack

import (
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// TestLines reads lines that are shorter and longer than the buffer.
func TestLines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		length := rapid.SampledFrom([]int{0, 1, 1<<16 - 2, 1<<16 - 1, 1 << 16, 1<<16 + 1, 1 << 17, 200_000})
		var want []string
		for _, n := range rapid.SliceOfN(length, 0, 5).Draw(t, "lengths") {
			want = append(want, strings.Repeat("a", n))
		}
		text := strings.Join(append(want, ""), "\n")
		open := rapid.Bool().Draw(t, "open") && len(text) > 1
		if open = open && text[len(text)-2] != '\n'; open {
			text = text[:len(text)-1]
		}
		var got []string
		l := newLines(strings.NewReader(text))
		for {
			line, err := l.next()
			if err == io.EOF {
				break
			}
			if last := len(got) == len(want)-1; err != nil && (err != errOpenLine || !open || !last) || err == nil && open && last {
				t.Fatalf("line %d of %d: error %v", l.n, len(want), err)
			}
			got = append(got, string(line))
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Error(diff)
		}
	})
}

// endless is a line without an end.
type endless struct{}

func (endless) Read(b []byte) (int, error) { return len(b), nil }

func TestEndlessLine(t *testing.T) {
	if line, err := newLines(endless{}).next(); !errors.Is(err, errLongLine) {
		t.Errorf("a line of %d bytes, error %v", len(line), err)
	}
}
