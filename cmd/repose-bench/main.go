// Command repose-bench measures the program against what people would use instead, on the records of an invented
// operator. It is for developers, and is run from the module's folder. See docs/performance.md.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"time"

	"repose/internal/bench"
)

// asPeer is the first argument by which the program runs itself as a peer.
const asPeer = "peer"

func main() {
	if err := start(); err != nil {
		fmt.Fprintln(os.Stderr, "repose-bench:", err)
		os.Exit(1)
	}
}

func start() error {
	if len(os.Args) > 1 && os.Args[1] == asPeer {
		return bench.Peer(os.Stdout, os.Args[2:])
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	return measure(ctx)
}

func measure(ctx context.Context) (err error) {
	scale := flag.Float64("scale", 1, "`share` of the full size: 0.01 is a minute's run")
	reps := flag.Int("reps", 3, "how `often` each side of a comparison runs")
	cases := flag.String("cases", "", "`letters` of the cases to run, such as ab (default all)")
	folder := flag.String("dir", "", "`folder` for files and books, which are left there (default one that is removed)")
	program := flag.String("repose", "", "the program to measure, a `file` (default: built from this module)")
	limit := flag.Duration("limit", 15*time.Minute, "how long the spreadsheet engine may take")
	inJSON := flag.Bool("json", false, "print one JSON document in place of a table")
	flag.Parse()
	if flag.NArg() > 0 {
		return fmt.Errorf("%q: want flags alone", flag.Args())
	}
	if *folder == "" {
		if *folder, err = os.MkdirTemp("", "repose-bench"); err != nil {
			return err
		}
		defer os.RemoveAll(*folder)
	}
	b := &bench.Bench{Sizes: bench.Full(*scale), Reps: *reps, SQLite: installed("sqlite3"), Office: installed("soffice"),
		Limit: *limit, Now: time.Now, Log: os.Stderr}
	if *cases != "" {
		b.Cases = strings.Split(*cases, "")
	}
	if err := programs(ctx, b, *folder, *program); err != nil {
		return err
	}
	report, err := b.Run(ctx)
	if *inJSON {
		return errors.Join(err, report.WriteJSON(os.Stdout))
	}
	return errors.Join(err, report.WriteText(os.Stdout))
}

// programs settles where the run works, and with which programs.
func programs(ctx context.Context, b *bench.Bench, folder, program string) (err error) {
	if b.Dir, err = filepath.Abs(folder); err != nil {
		return err
	}
	if err := os.MkdirAll(b.Dir, 0o755); err != nil {
		return err
	}
	self, err := os.Executable()
	if err != nil {
		return err
	}
	b.Peers = bench.Command{Path: self, Args: []string{asPeer}}
	if program != "" {
		program, err = filepath.Abs(program)
		b.Program = bench.Command{Path: program}
		return err
	}
	b.Program = bench.Command{Path: filepath.Join(b.Dir, "repose")}
	build := exec.CommandContext(ctx, "go", "build", "-o", b.Program.Path, "repose/cmd/repose")
	build.Stdout, build.Stderr = os.Stderr, os.Stderr
	return build.Run()
}

// installed finds a program by its name; the zero Command says that it is not there.
func installed(name string) bench.Command {
	path, err := exec.LookPath(name)
	if err != nil {
		return bench.Command{}
	}
	return bench.Command{Path: path}
}
