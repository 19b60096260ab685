package pack

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/rogpeppe/go-internal/txtar"

	"repose/ledger"
)

var update = flag.Bool("update", false, "write what was got as what is wanted")

// TestGolden holds every byte of two packs: a first month, and one that opens with another's balances.
func TestGolden(t *testing.T) {
	book, october, november := smallBook(t)
	for name, rec := range map[string]*ledger.Record{"october": october, "november": november} {
		dir := filepath.Join(t.TempDir(), name)
		written, err := Write(context.Background(), dir, book.contents(rec), nil)
		if err != nil {
			t.Fatal(err)
		}
		verified := mustVerify(t, dir)
		if diff := cmp.Diff(written, verified, cmp.AllowUnexported(ledger.Period{})); diff != "" {
			t.Errorf("%s: what Write found is not what Verify finds (-write +verify):\n%s", name, diff)
		}
		if !verified.OK() || verified.Yard != testYard || verified.SumsSHA256 == "" || verified.SealSHA256 != rec.Fact.(ledger.Close).SealSHA256 ||
			verified.LogRoot != rec.Fact.(ledger.Close).LogRoot || verified.Records != rec.Seq+1 {
			t.Errorf("%s: %+v", name, verified)
		}
		golden := filepath.Join("testdata", name+".txtar")
		got := txtar.Format(archive(t, dir))
		if *update {
			if err := os.WriteFile(golden, got, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(string(want), string(got)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
}

// archive is a pack as one text, with the carriage returns to be seen.
func archive(t testing.TB, dir string) *txtar.Archive {
	var a txtar.Archive
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		name, _ := filepath.Rel(dir, path)
		a.Files = append(a.Files, txtar.File{Name: filepath.ToSlash(name), Data: bytes.ReplaceAll(b, []byte("\r\n"), []byte("<CR>\n"))})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return &a
}

func TestWriteIsDeterministic(t *testing.T) {
	var packs [2]*txtar.Archive
	for i := range packs {
		packs[i] = archive(t, smallPack(t)) // also of another book with the same records
	}
	if diff := cmp.Diff(packs[0], packs[1]); diff != "" {
		t.Errorf("the same contents give other bytes:\n%s", diff)
	}
}

// leftovers returns what stands in a folder.
func leftovers(t *testing.T, dir string) (names []string) {
	held, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range held {
		names = append(names, e.Name())
	}
	return names
}

func TestWriteRefusesWhatStandsThere(t *testing.T) {
	book, _, november := smallBook(t)
	for _, test := range []struct {
		name    string
		prepare func(dir string) error
		want    error
	}{
		{"nothing", func(string) error { return nil }, nil},
		{"an empty folder", func(dir string) error { return os.Mkdir(dir, 0o755) }, nil},
		{"a folder with a hidden file", func(dir string) error {
			return errors.Join(os.Mkdir(dir, 0o755), os.WriteFile(filepath.Join(dir, ".x"), nil, 0o644))
		}, ErrExists},
		{"a file", func(dir string) error { return os.WriteFile(dir, []byte("x"), 0o644) }, ErrExists},
		{"a link to an empty folder", func(dir string) error {
			return errors.Join(os.Mkdir(dir+"x", 0o755), os.Symlink(dir+"x", dir))
		}, ErrExists},
	} {
		dir := filepath.Join(t.TempDir(), "pack")
		if err := test.prepare(dir); err != nil {
			t.Fatal(err)
		}
		before := leftovers(t, filepath.Dir(dir))
		_, err := Write(context.Background(), dir, book.contents(november), nil)
		if !errors.Is(err, test.want) {
			t.Errorf("%s: error %v, want %v", test.name, err, test.want)
		}
		if test.want == nil && !mustVerify(t, dir).OK() {
			t.Errorf("%s: the pack does not hold", test.name)
		}
		if diff := cmp.Diff(before, leftovers(t, filepath.Dir(dir))); test.want != nil && diff != "" {
			t.Errorf("%s: something changed:\n%s", test.name, diff)
		}
	}
}

// failing is a stream that ends in an error after its first value.
func failing[T any](s iter.Seq2[T, error], err error) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		for v, e := range s {
			if yield(v, e) {
				yield(v, err)
			}
			return
		}
	}
}

// cut leaves the last value out of a stream.
func cut[T any](s iter.Seq2[T, error]) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		var last []T
		for v, err := range s {
			if len(last) > 0 && !yield(last[0], nil) {
				return
			}
			last = []T{v}
			if err != nil {
				yield(v, err)
				return
			}
		}
	}
}

var errTest = errors.New("the disk is on strike")

// TestWriteWholeOrNotAtAll breaks each part of the contents, by an error or by a contradiction.
func TestWriteWholeOrNotAtAll(t *testing.T) {
	book, october, november := smallBook(t)
	for _, test := range []struct {
		name  string
		spoil func(c *Contents)
		want  error
	}{
		{"records end in an error", func(c *Contents) { c.Records = failing(c.Records, errTest) }, errTest},
		{"entries end in an error", func(c *Contents) { c.Entries = failing(c.Entries, errTest) }, errTest},
		{"no seal", func(c *Contents) { c.Seal = func(*ledger.Record, io.Writer) error { return errTest } }, errTest},
		{"no original", func(c *Contents) { c.Original = func(string, io.Writer) error { return errTest } }, errTest},
		{"no workbook", func(c *Contents) { c.Workbook = func(io.Writer) error { return errTest } }, errTest},
		{"no table", func(c *Contents) { c.Tables[0].Write = func(*CSV) error { return errTest } }, errTest},
		{"the log ends before the close", func(c *Contents) { c.Records = cut(c.Records) }, ErrContents},
		{"the log goes on after the close", func(c *Contents) { c.Close = october }, ErrContents},
		{"an entry is missing", func(c *Contents) { c.Entries = cut(c.Entries) }, ErrContents},
		{"the seal of another month", func(c *Contents) {
			seal := c.Seal
			c.Seal = func(_ *ledger.Record, w io.Writer) error { return seal(october, w) }
		}, ErrContents},
		{"another original", func(c *Contents) {
			c.Original = func(sha string, w io.Writer) error { _, err := io.WriteString(w, sha); return err }
		}, ErrContents},
	} {
		dir := filepath.Join(t.TempDir(), "pack")
		contents := book.contents(november)
		test.spoil(&contents)
		if _, err := Write(context.Background(), dir, contents, nil); !errors.Is(err, test.want) {
			t.Errorf("%s: error %v, want %v", test.name, err, test.want)
		}
		if left := leftovers(t, filepath.Dir(dir)); len(left) > 0 {
			t.Errorf("%s: left behind: %q", test.name, left)
		}
	}
}

func TestWriteRefusesTableNames(t *testing.T) {
	book, _, november := smallBook(t)
	for _, name := range []string{"", "entries", "balances", "../x", "a/b", "A", "a b", "a.b", strings.Repeat("a", maxName+1)} {
		contents := book.contents(november)
		contents.Tables = []Table{{name, func(w *CSV) error { return w.Row(Text("a")) }}}
		if _, err := Write(context.Background(), filepath.Join(t.TempDir(), "pack"), contents, nil); err == nil {
			t.Errorf("table %q: no error", name)
		}
	}
	contents := book.contents(november)
	contents.Tables = append(contents.Tables, contents.Tables[0])
	if _, err := Write(context.Background(), filepath.Join(t.TempDir(), "pack"), contents, nil); !errors.Is(err, fs.ErrExist) {
		t.Errorf("a table twice: error %v", err)
	}
}

// TestCalledOff calls the work off after every step of progress.
func TestCalledOff(t *testing.T) {
	book, _, november := smallBook(t)
	steps := 0
	if _, err := Write(context.Background(), filepath.Join(t.TempDir(), "pack"), book.contents(november), func(_, _ int64) { steps++ }); err != nil {
		t.Fatal(err)
	}
	if steps < 20 {
		t.Fatalf("%d steps of progress", steps)
	}
	for n := 1; n < steps; n++ {
		ctx, cancel := context.WithCancel(context.Background())
		dir := filepath.Join(t.TempDir(), "pack")
		left := n
		_, err := Write(ctx, dir, book.contents(november), func(_, _ int64) {
			if left--; left == 0 {
				cancel()
			}
		})
		cancel()
		if found := leftovers(t, filepath.Dir(dir)); !errors.Is(err, context.Canceled) && n < steps-1 || err != nil && len(found) > 0 {
			t.Errorf("called off at step %d of %d: error %v, left %q", n, steps, err, found)
		}
	}
}

func TestVerifyCannotTell(t *testing.T) {
	dir := smallPack(t)
	if _, err := Verify(context.Background(), filepath.Join(dir, "nothing"), nil); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("no such folder: error %v", err)
	}
	if _, err := Verify(context.Background(), filepath.Join(dir, readmeName), nil); err == nil {
		t.Error("a file as a pack: no error")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Verify(ctx, dir, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("called off: error %v", err)
	}
	if r := mustVerify(t, t.TempDir()); r.OK() || len(r.Faults) != len(always) {
		t.Errorf("an empty folder: %v", r.Faults)
	}
}
