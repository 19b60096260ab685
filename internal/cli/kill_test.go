package cli

import (
	"cmp"
	"errors"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// program returns the program as a command in a folder: the test binary under the program's name.
func program(t *testing.T, dir string, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	return execAs(self, dir, args...)
}

// execAs runs the test binary as the program: testscript.Main tells by the name it is called by.
func execAs(self, dir string, args ...string) *exec.Cmd {
	return &exec.Cmd{Path: self, Args: append([]string{"repose"}, args...), Dir: dir,
		Env: append(os.Environ(), "REPOSE_TEST_NOW="+cmp.Or(os.Getenv("REPOSE_TEST_NOW"), "2026-11-04T09:00:00Z"), "REPOSE_BOOK=")}
}

func mustRun(t *testing.T, dir string, args ...string) string {
	t.Helper()
	out, err := program(t, dir, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("repose %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

// killed runs the program and kills it outright after a while. It reports whether the program had ended
// by itself before.
func killed(t *testing.T, dir string, after time.Duration, args ...string) (ended bool) {
	t.Helper()
	cmd := program(t, dir, args...)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	timer := time.AfterFunc(after, func() { _ = cmd.Process.Kill() })
	err := cmd.Wait()
	timer.Stop()
	var exit *exec.ExitError
	if errors.As(err, &exit) && exit.Sys().(syscall.WaitStatus).Signaled() {
		return false
	}
	if err != nil {
		t.Fatalf("repose %s: %v", strings.Join(args, " "), err)
	}
	return true
}

// A program that is killed outright at any moment of an intake or of a close leaves a book that verifies,
// and the same command then completes: the book ends as if nothing had happened.
func TestKilledAtAnyMoment(t *testing.T) {
	demo := t.TempDir()
	mustRun(t, demo, "demo", ".")
	files := filepath.Join(demo, "files")
	takeIn := []string{"intake", files, "--map", filepath.Join(files, "deck-map.toml")}

	whole := t.TempDir()
	start := time.Now()
	mustRun(t, whole, takeIn...)
	intakeTime := time.Since(start)
	start = time.Now()
	mustRun(t, whole, "close", "2026-08")
	closeTime := time.Since(start)
	want := mustRun(t, whole, "verify", "--json") // with the head, which stands for every record

	rounds := 25
	if testing.Short() {
		rounds = 5
	}
	random := rand.New(rand.NewPCG(20261104, 7))
	moment := func(d time.Duration) time.Duration { return time.Duration(random.Int64N(int64(d) * 11 / 10)) }
	interrupted := 0
	for range rounds {
		dir := t.TempDir()
		if !killed(t, dir, moment(intakeTime), takeIn...) {
			interrupted++
			if _, err := os.Stat(filepath.Join(dir, "repose.book")); err == nil {
				mustRun(t, dir, "verify")
			}
		}
		mustRun(t, dir, takeIn...)
		if !killed(t, dir, moment(closeTime), "close", "2026-08") {
			interrupted++
			mustRun(t, dir, "verify")
		}
		if out, err := program(t, dir, "close", "2026-08").CombinedOutput(); err != nil && !strings.Contains(string(out), "closed already") {
			t.Fatalf("close after a kill: %v\n%s", err, out)
		}
		if got := mustRun(t, dir, "verify", "--json"); got != want {
			t.Fatalf("after kills the book is\n%s\nwant\n%s", got, want)
		}
	}
	if interrupted == 0 {
		t.Error("no run was killed before it ended: nothing was tested")
	}
	t.Logf("%d of %d runs were killed before they ended", interrupted, 2*rounds)
}
