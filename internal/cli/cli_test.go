package cli

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"repose/internal/term"
)

// TestMain makes the test binary the program itself when a script runs it.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"repose": func() { os.Exit(scriptMain()) }})
}

// scriptMain is Main with a clock and a person of the script's choice.
func scriptMain() int {
	now := func() time.Time {
		t, err := time.Parse(time.RFC3339, os.Getenv("REPOSE_TEST_NOW"))
		if err != nil {
			panic(err)
		}
		return t
	}
	a := &app{Streams: term.Standard(), now: now, user: func() string { return "tester" }, env: os.Getenv}
	return a.run(context.Background(), os.Args[1:])
}

func TestScripts(t *testing.T) {
	const dir = "testdata/script"
	scripts, err := filepath.Glob(dir + "/*.txtar")
	if err != nil || len(scripts) == 0 {
		t.Fatalf("no scripts in %s (%v)", dir, err)
	}
	testscript.Run(t, testscript.Params{
		Files:               scripts,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"code": cmdCode},
		Setup: func(e *testscript.Env) error {
			e.Setenv("REPOSE_TEST_NOW", "2026-11-04T09:00:00Z")
			return nil
		},
	})
}

// cmdCode runs a program and wants an exit code: code 3 repose conflicts.
func cmdCode(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: code N program [arg...]")
	}
	err := ts.Exec(args[1], args[2:]...)
	got := "0"
	if err != nil {
		got = exitText(err)
	}
	if got != args[0] {
		ts.Fatalf("%v: exit code %s, want %s", args[1:], got, args[0])
	}
}
