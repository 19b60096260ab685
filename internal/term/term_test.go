package term

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestWriteFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "f")
	text := func(s string) func(io.Writer) error {
		return func(w io.Writer) error {
			_, err := io.WriteString(w, s)
			return err
		}
	}
	if err := WriteFile(path, false, text("one")); err != nil {
		t.Fatal(err)
	}
	if err := WriteFile(path, false, text("two")); !errors.Is(err, ErrExists) {
		t.Errorf("over a file: %v, want ErrExists", err)
	}
	broken := errors.New("broken")
	if err := WriteFile(path, true, func(io.Writer) error { return broken }); !errors.Is(err, broken) {
		t.Errorf("a failing write: %v", err)
	}
	if b, err := os.ReadFile(path); err != nil || string(b) != "one" {
		t.Errorf("after refused and failed writes the file holds %q (%v), want the first", b, err)
	}
	if err := WriteFile(path, true, text("three")); err != nil {
		t.Fatal(err)
	}
	if b, err := os.ReadFile(path); err != nil || string(b) != "three" {
		t.Errorf("overwritten: %q (%v)", b, err)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 1 {
		t.Errorf("left behind: %v (%v)", left, err)
	}
}

func TestNobodyWatches(t *testing.T) {
	var out strings.Builder
	s := Streams{Err: &out}
	if s.Watched() {
		t.Error("a buffer is no terminal")
	}
	p := s.Progress("work", 10, false)
	p.Set(5)
	p.Done()
	if out.Len() > 0 {
		t.Errorf("drew %q where nobody watches", out.String())
	}
}
