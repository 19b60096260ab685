package pack

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"repose/internal/sqlite"
)

// TestMain lets the test binary be the program that is killed.
func TestMain(m *testing.M) {
	if step := os.Getenv("REPOSE_TEST_PACK_STEP"); step != "" {
		if err := packUntil(step, os.Getenv("REPOSE_TEST_PACK_BOOK"), os.Getenv("REPOSE_TEST_PACK_DIR")); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// packUntil packs the last close of a book and kills itself outright at a step of the progress.
func packUntil(step, path, dir string) error {
	left, err := strconv.Atoi(step)
	if err != nil {
		return err
	}
	ctx := context.Background()
	book, err := sqlite.Open(ctx, path, sqlite.ReadOnly)
	if err != nil {
		return err
	}
	defer book.Close()
	seals, err := book.Latest().Seals(ctx, testYard)
	if err != nil {
		return err
	}
	self, err := os.FindProcess(os.Getpid())
	if err != nil {
		return err
	}
	_, err = Write(ctx, dir, contentsOf(book, seals[len(seals)-1].Record), func(_, _ int64) {
		if left--; left == 0 {
			_ = self.Kill()
			select {} // it may take a moment
		}
	})
	return err
}

// TestKilledHalfWay kills the program at every step. The place of the pack stays empty, and what lies beside it does not
// pass, unless all of it had been written and only the check was under way. Then packing anew succeeds.
func TestKilledHalfWay(t *testing.T) {
	book, _, november := smallBook(t)
	whole, err := Write(context.Background(), filepath.Join(t.TempDir(), "pack"), book.contents(november), nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := book.Close(); err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "pack")
	stride := 1
	if testing.Short() {
		stride = 9
	}
	failed := 0
	for step := 1; ; step += stride {
		if !killedAt(t, step, book.path, dir) {
			break
		}
		if _, err := os.Lstat(dir); !os.IsNotExist(err) {
			t.Fatalf("killed at step %d: something stands at the place of the pack: %v", step, err)
		}
		for _, name := range leftovers(t, filepath.Dir(dir)) {
			left := filepath.Join(filepath.Dir(dir), name)
			switch r := mustVerify(t, left); {
			case !r.OK():
				failed++
			case r.SumsSHA256 != whole.SumsSHA256:
				t.Errorf("killed at step %d: half a pack passes", step)
			}
			if err := os.RemoveAll(left); err != nil {
				t.Fatal(err)
			}
		}
	}
	if r := mustVerify(t, dir); failed == 0 || r.SumsSHA256 != whole.SumsSHA256 || !r.OK() {
		t.Errorf("%d halves were found; in the end: %v", failed, r.Faults)
	}
}

// killedAt packs in a process of its own and reports whether that was killed before it ended.
func killedAt(t *testing.T, step int, book, dir string) bool {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self)
	cmd.Env = append(os.Environ(), "REPOSE_TEST_PACK_STEP="+strconv.Itoa(step), "REPOSE_TEST_PACK_BOOK="+book, "REPOSE_TEST_PACK_DIR="+dir)
	out, err := cmd.CombinedOutput()
	if err != nil && strings.TrimSpace(string(out)) != "" {
		t.Fatalf("step %d: %v\n%s", step, err, out)
	}
	return err != nil
}
