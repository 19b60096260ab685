//go:build unix

package sqlite_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"repose/internal/sqlite"
)

func addSystemRoles(all map[string]func(string) error) { all["limited"] = limited }

// nobody is a user who owns nothing here.
const nobody = 65534

// lookAsNobody runs the role look as a user who may read the book and its folder, but not write.
func lookAsNobody(t *testing.T, path string) string {
	t.Helper()
	dir := filepath.Dir(path)
	program := filepath.Join(dir, "look")
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(program, read(t, self), 0o755); err != nil {
		t.Fatal(err)
	}
	for name, mode := range map[string]os.FileMode{path: 0o444, dir: 0o555, filepath.Dir(dir): 0o755} {
		if err := os.Chmod(name, mode); err != nil {
			t.Fatal(err)
		}
	}
	defer os.Chmod(dir, 0o755)
	cmd := process(t, "look", path)
	cmd.Path = program
	cmd.Dir = dir
	if os.Geteuid() == 0 { // who may write everywhere
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
	}
	out, err := cmd.Output()
	if text := string(out); err != nil && !strings.HasPrefix(text, "error:") {
		t.Fatalf("look: %q, error %v", text, err)
	}
	return string(out)
}

func TestReadWhereNothingCanBeWritten(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	book := mustOpen(t, path, sqlite.Create)
	addYard(t, book, "NORTH")
	book.Close()
	if got, want := lookAsNobody(t, path), "records 1, ok true\n"; got != want {
		t.Errorf("look: %q, want %q", got, want)
	}
}

// TestUnfinishedWriteWhereNothingCanBeWritten cannot undo the write that was cut short, and must not show
// what it left.
func TestUnfinishedWriteWhereNothingCanBeWritten(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	mustOpen(t, path, sqlite.Create).Close()
	cmd, out := start(t, "endless", path)
	text := bufio.NewScanner(out)
	for readUntil(t, text, ""); ; {
		if lines := readUntil(t, text, "pending"); lastOf(t, lines, "pending") > 1000 {
			break
		}
	}
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	io.Copy(io.Discard, out)
	cmd.Wait() // killed, as asked
	if err := os.Chmod(path+"-journal", 0o444); err != nil {
		t.Fatal(err)
	}
	got := lookAsNobody(t, path)
	for _, want := range []string{sqlite.ErrReadOnlyFile.Error(), "-journal", "open the book once where it can be written"} {
		if !strings.Contains(got, want) {
			t.Errorf("look: %q, want %q in it", got, want)
		}
	}
}

// limited appends to a book whose file may grow by some 200 KiB only, and says how that ends.
func limited(path string) error {
	return withBook(path, sqlite.ReadWrite, func(book *sqlite.Book) error {
		info, err := os.Stat(path)
		if err != nil {
			return err
		}
		signal.Ignore(syscall.SIGXFSZ)
		room := uint64(info.Size()) + 200<<10
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: room, Max: room}); err != nil {
			return err
		}
		err = appendLoads(book, 1000, 1, 50_000)
		fmt.Printf("full %v\n", errors.Is(err, sqlite.ErrFull))
		if err == nil {
			return errors.New("50,000 records went into 200 KiB")
		}
		return look(path)
	})
}

// TestNoSpace has the system itself refuse to write.
func TestNoSpace(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	book := mustOpen(t, path, sqlite.Create)
	defer book.Close()
	if err := appendLoads(book, 0, 1, 100); err != nil {
		t.Fatal(err)
	}
	out, err := process(t, "limited", path).Output()
	if got, want := string(out), "full true\nrecords 100, ok true\n"; got != want || err != nil {
		t.Errorf("limited: %q, error %v, want %q", got, err, want)
	}
	if head, err := book.Head(context.Background()); head.Size != 100 || err != nil {
		t.Errorf("head afterwards: %v, error %v, want 100 records", head, err)
	}
}
