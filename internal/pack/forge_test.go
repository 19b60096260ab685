package pack

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"repose/internal/merkle"
	"repose/ledger"
)

// forger changes a pack as somebody would who knows what is in it.
type forger struct {
	*testing.T
	dir string
}

// edit replaces the first of a text in a file, which must be there.
func (f *forger) edit(name, old, text string) {
	f.Helper()
	was := read(f, f.dir, name)
	if !strings.Contains(was, old) {
		f.Fatalf("%s does not contain %q", name, old)
	}
	write(f, f.dir, name, strings.Replace(was, old, text, 1))
}

func (f *forger) must(err error) {
	f.Helper()
	if err != nil {
		f.Fatal(err)
	}
}

func (f *forger) at(name string) string { return filepath.Join(f.dir, filepath.FromSlash(name)) }

// hashRecords makes the leaves those of the records.
func (f *forger) hashRecords() {
	var b strings.Builder
	for line := range strings.Lines(read(f, f.dir, recordsName)) {
		fmt.Fprintln(&b, merkle.LeafHash([]byte(strings.TrimSuffix(line, "\n"))))
	}
	write(f, f.dir, leavesName, b.String())
}

// sumUp makes both lists those of the files.
func (f *forger) sumUp() {
	for _, list := range []string{contentsName, sumsName} {
		f.must(os.Remove(f.at(list)))
	}
	s := shelf{ctx: context.Background()}
	var err error
	s.root, err = os.OpenRoot(f.dir)
	f.must(err)
	defer s.root.Close()
	for name, text := range packFiles(f, f.dir) {
		f.must(os.Remove(f.at(name)))
		o, err := s.create(name)
		f.must(err)
		_, err = o.Write(text)
		f.must(errors.Join(err, o.end()))
	}
	p := packer{shelf: s}
	f.must(p.writeLists())
}

// restate makes the close state what the pack holds: the seal, the head of the log, and close.json. So does who writes a
// whole book anew, but cannot make it add up.
func (f *forger) restate() {
	f.Helper()
	lines := strings.SplitAfter(read(f, f.dir, recordsName), "\n")
	before, last := lines[:len(lines)-2], strings.TrimSuffix(lines[len(lines)-2], "\n")
	var tree merkle.Frontier
	for _, line := range before {
		tree.Append(merkle.LeafHash([]byte(strings.TrimSuffix(line, "\n"))))
	}
	rec, err := parseRecord([]byte(last))
	f.must(err)
	end := rec.Fact.(ledger.Close)
	end.LogRoot, end.SealSHA256 = tree.Root().String(), fmt.Sprintf("%x", sha256.Sum256([]byte(read(f, f.dir, sealName))))
	rec.Fact = end
	again := rec.AppendLine(nil)
	tree.Append(merkle.LeafHash(again))
	write(f, f.dir, recordsName, strings.Join(before, "")+string(again)+"\n")
	f.hashRecords()
	var said statement
	f.must(json.Unmarshal([]byte(read(f, f.dir, closeName)), &said))
	said.LogRoot, said.Seal, said.Head = end.LogRoot, end.SealSHA256, tree.Root().String()
	text, err := said.text()
	f.must(err)
	write(f, f.dir, closeName, string(text))
}

// forgeries lists what is done to the pack of November, and where it must be found: at a path, or at a path:line. Where
// summed is set, the lists are made to fit.
var forgeries = []struct {
	name   string
	forge  func(f *forger)
	summed sums
	want   []string
}{
	{"nothing", func(*forger) {}, stale, nil},
	{"nothing, and new sums", func(*forger) {}, fresh, nil},

	{"a record", func(f *forger) { f.edit(recordsName, `"net_g":"25000000"`, `"net_g":"24000000"`) }, fresh, []string{"records.jsonl:21"}},
	{"a record and its leaf", func(f *forger) {
		f.edit(recordsName, `"net_g":"25000000"`, `"net_g":"24000000"`)
		f.hashRecords()
	}, fresh, []string{"records.jsonl"}},
	{"a leaf", func(f *forger) { f.edit(leavesName, "2b12f0f3", "2b12f0f4") }, stale, []string{"leaves.txt:1"}},
	{"a leaf, with new sums", func(f *forger) { f.edit(leavesName, "2b12f0f3", "2b12f0f4") }, fresh, []string{"leaves.txt:1"}},
	{"a leaf too many", func(f *forger) {
		write(f, f.dir, leavesName, read(f, f.dir, leavesName)+lineOf(f, leavesName, 3))
	}, fresh, []string{"leaves.txt:28"}},
	{"all leaves from one on", func(f *forger) { f.edit(leavesName, lineOf(f, leavesName, 3), "") }, fresh, []string{"leaves.txt:3", "leaves.txt:27"}},
	{"who took a record in, and its leaf", func(f *forger) {
		f.edit(recordsName, "A. Clerk", "B. Clerk")
		f.hashRecords()
	}, fresh, []string{"records.jsonl"}},
	{"a record is left out, with its leaf", func(f *forger) {
		f.edit(recordsName, recordLine(f, 24), "")
		f.hashRecords()
	}, fresh, []string{"records.jsonl:24"}},
	{"the log goes on after the close", func(f *forger) {
		write(f, f.dir, recordsName, read(f, f.dir, recordsName)+recordLine(f, 24))
		f.hashRecords()
	}, fresh, []string{"records.jsonl:28"}},
	{"the log ends before the close", func(f *forger) {
		f.edit(recordsName, recordLine(f, 27), "")
		f.hashRecords()
	}, fresh, []string{"records.jsonl:26"}},
	{"a record in another form", func(f *forger) {
		f.edit(recordsName, `{"seq":3,"kind":"pile","yard":"NORTH"`, `{"seq":3,"yard":"NORTH","kind":"pile"`)
		f.hashRecords()
	}, fresh, []string{"records.jsonl:4"}},

	{"an entry, with its table and balances", func(f *forger) {
		f.edit(sealName, `"solids_g":"23992322"`, `"solids_g":"23992321"`)
		f.edit(entriesName, "23992322", "23992321")
	}, fresh, []string{"seal.txt"}},
	{"an entry and the hash of the seal", func(f *forger) {
		f.edit(sealName, `"solids_g":"23992322"`, `"solids_g":"23992321"`)
		f.edit(entriesName, "23992322", "23992321")
		f.edit(closeName, "c6c15be781a1294f6fca52d216b5fdba42b83bb40d125837b810dccb610effcf", fmt.Sprintf("%x", sha256.Sum256([]byte(read(f, f.dir, sealName)))))
	}, fresh, []string{"seal.txt", "close.json:14"}},
	{"an entry, in a book written anew", func(f *forger) {
		f.edit(sealName, `"solids_g":"23992322"`, `"solids_g":"23992321"`)
		f.edit(entriesName, "23992322", "23992321")
		f.edit(balancesName, "69623390", "69623389")
		f.edit(balancesName, "138567728", "138567727")
		f.edit(balancesName, "23992322,1007678,5490570785", "23992321,1007678,5490570786")
		f.restate()
	}, fresh, []string{"seal.txt"}},
	{"a closing balance, in a book written anew", func(f *forger) {
		f.edit(sealName, `"solids_g":"5490570785"`, `"solids_g":"5490570784"`)
		f.restate()
	}, fresh, []string{"seal.txt"}},
	{"an entry of another record, in a book written anew", func(f *forger) {
		f.edit(sealName, `"record":"load:NORTH:L1/4"`, `"record":"load:NORTH:L1/3"`)
		f.edit(entriesName, "load:NORTH:L1/4", "load:NORTH:L1/3")
		f.restate()
	}, fresh, []string{"seal.txt:1"}},
	{"an entry of another yard, in a book written anew", func(f *forger) {
		f.edit(sealName, `"seq":20,"record":"load:NORTH:L1/4"`, `"seq":25,"record":"load:SOUTH:L1/6"`)
		f.edit(entriesName, "20,load:NORTH:L1/4", "25,load:SOUTH:L1/6")
		f.restate()
	}, fresh, []string{"seal.txt:1", "tables/entries.csv:2", "originals.csv:7", "originals/006-south-november.csv"}},
	{"an entry of no record, in a book written anew", func(f *forger) {
		f.edit(sealName, `"seq":20`, `"seq":99`)
		f.edit(entriesName, "1,1,20", "1,1,99")
		f.restate()
	}, fresh, []string{"seal.txt:1"}},
	{"a leg that runs backwards, in a book written anew", func(f *forger) {
		f.edit(sealName, `"solids_g":"23992322"`, `"solids_g":"-23992322"`)
		f.restate()
	}, fresh, []string{"seal.txt:1"}},
	{"an entry is left out, in a book written anew", func(f *forger) {
		f.edit(sealName, lineOf(f, sealName, 3), "")
		f.edit(entriesName, entryLine(f, 4), "")
		f.edit(sealName, `"solids_g":"242276801","water_g":"10723199"`, `"solids_g":"262665151","water_g":"11334849"`)
		f.edit(sealName, `"solids_g":"138567728","water_g":"4432272"`, `"solids_g":"118179378","water_g":"3820622"`)
		f.edit(balancesName, "45631068,1368932,242276801,10723199", "25242718,757282,262665151,11334849")
		f.edit(balancesName, "69623390,2376610,0,0,138567728,4432272", "49235040,1764960,0,0,118179378,3820622")
		f.restate()
	}, fresh, []string{"seal.txt"}},
	{"a file that was never taken in, in a book written anew", func(f *forger) {
		sha := "aa469a74527686a968bd6abe1468662f0bbf5fd1726e74174d64a339d2a0562d"
		f.edit(recordsName, `"key":"L1/4","at":"2026-11-07T09:00:00Z","file":"`+sha, `"key":"L1/4","at":"2026-11-07T09:00:00Z","file":"ff`+sha[2:])
		f.edit(entriesName, sha, "ff"+sha[2:])
		f.restate()
	}, fresh, []string{"records.jsonl"}},
	{"grams in the table", func(f *forger) { f.edit(entriesName, "23992322", "23992321") }, fresh, []string{"tables/entries.csv:2"}},
	{"an account in the table", func(f *forger) { f.edit(entriesName, "pile:NORTH:P2", "pile:NORTH:P1") }, fresh, []string{"tables/entries.csv:3"}},
	{"the source row in the table", func(f *forger) { f.edit(entriesName, "0562d,,2", "0562d,,3") }, fresh, []string{"tables/entries.csv:2"}},
	{"the instant in the table", func(f *forger) { f.edit(entriesName, "2026-11-07T10", "2026-11-07T11") }, fresh, []string{"tables/entries.csv:3"}},
	{"a row is left out", func(f *forger) { f.edit(entriesName, entryLine(f, 4), "") }, fresh, []string{"tables/entries.csv:4"}},
	{"a row is doubled", func(f *forger) { write(f, f.dir, entriesName, read(f, f.dir, entriesName)+entryLine(f, 4)) }, fresh, []string{"tables/entries.csv:5"}},
	{"a column's name", func(f *forger) { f.edit(entriesName, "solids_g,water_g", "water_g,solids_g") }, fresh, []string{"tables/entries.csv:1"}},
	{"a balance in the table", func(f *forger) { f.edit(balancesName, "5490570785", "5490570786") }, fresh, []string{"tables/balances.csv:2"}},
	{"an opening balance", func(f *forger) { f.edit(sealBeforeName, `"5514563107"`, `"5514563108"`) }, fresh, []string{"seal-before.txt"}},
	{"no opening", func(f *forger) { f.must(os.Remove(f.at(sealBeforeName))) }, fresh, []string{"seal-before.txt"}},
	{"the head in the statement", func(f *forger) { f.edit(closeName, "7f2297b6", "7f2297b7") }, fresh, []string{"close.json:11"}},
	{"the period in the statement", func(f *forger) { f.edit(closeName, "2026-11", "2026-12") }, fresh, []string{"close.json:4"}},

	{"two originals are swapped", func(f *forger) {
		a, b := "originals/004-con", "originals/005-Kies-S-d.csv"
		one, other := read(f, f.dir, a), read(f, f.dir, b)
		write(f, f.dir, a, other)
		write(f, f.dir, b, one)
	}, fresh, []string{"originals/004-con", "originals/005-Kies-S-d.csv"}},
	{"an original is changed", func(f *forger) { f.edit("originals/004-con", "rows", "rowz") }, fresh, []string{"originals/004-con"}},
	{"an original is removed", func(f *forger) {
		f.must(os.Remove(f.at("originals/004-con")))
		f.edit(originalsName, "originals/004-con", "")
	}, fresh, []string{"originals.csv:5", "originals/004-con"}},
	{"an original too many", func(f *forger) { write(f, f.dir, "originals/002-south.csv", "the rows of south.csv\r\n") }, fresh, []string{"originals/002-south.csv"}},
	{"an original's name in the list", func(f *forger) { f.edit(originalsName, "south november", "south november 2") }, fresh, []string{"originals.csv:7"}},

	{"a file is added", func(f *forger) { write(f, f.dir, "notes.txt", "x") }, stale, []string{"notes.txt"}},
	{"a file with a name that plays with the screen", func(f *forger) { write(f, f.dir, "\x1b[2Jall is well\n.txt", "x") }, stale, []string{`"\x1b[2Jall is well\n.txt"`}},
	{"a hidden file is added", func(f *forger) { write(f, f.dir, "tables/.x", "x") }, stale, []string{"tables/.x"}},
	{"a file is removed", func(f *forger) { f.must(os.Remove(f.at("tables/surveys.csv"))) }, stale, []string{"tables/surveys.csv"}},
	{"a file that every pack has is removed", func(f *forger) { f.must(os.Remove(f.at(workbookName))) }, fresh, []string{"workbook.xlsx"}},
	{"a list is removed", func(f *forger) { f.must(os.Remove(f.at(sumsName))) }, stale, []string{"SHA256SUMS"}},
	{"the other list is removed", func(f *forger) { f.must(os.Remove(f.at(contentsName))) }, stale, []string{"contents.csv"}},
	{"a file is renamed", func(f *forger) { f.must(os.Rename(f.at(workbookName), f.at("book.xlsx"))) }, stale, []string{"book.xlsx", "workbook.xlsx"}},
	{"a table is renamed", func(f *forger) { f.must(os.Rename(f.at("tables/surveys.csv"), f.at("tables/survey.csv"))) }, stale, []string{"tables/survey.csv", "tables/surveys.csv"}},
	{"a file becomes a folder", func(f *forger) {
		f.must(os.Remove(f.at(sealName)))
		f.must(os.Mkdir(f.at(sealName), 0o755))
	}, stale, []string{"seal.txt"}},
	{"a folder is added", func(f *forger) { f.must(os.MkdirAll(f.at("tables/more/x"), 0o755)) }, stale, []string{"tables/more"}},
	{"a folder becomes a file", func(f *forger) {
		f.must(os.RemoveAll(f.at(originalsFolder)))
		write(f, f.dir, originalsFolder, "x")
	}, stale, []string{"originals", "originals/004-con", "originals/005-Kies-S-d.csv"}},
	{"a link out of the folder to the same bytes", func(f *forger) {
		away := filepath.Join(f.TempDir(), "away")
		f.must(os.Rename(f.at(workbookName), away))
		f.must(os.Symlink(away, f.at(workbookName)))
	}, stale, []string{"workbook.xlsx"}},
	{"a link within the folder", func(f *forger) {
		f.must(os.Remove(f.at("tables/surveys.csv")))
		f.must(os.Symlink("entries.csv", f.at("tables/surveys.csv")))
	}, stale, []string{"tables/surveys.csv"}},
	{"a folder is a link", func(f *forger) {
		away := filepath.Join(f.TempDir(), "away")
		f.must(os.Rename(f.at(tablesFolder), away))
		f.must(os.Symlink(away, f.at(tablesFolder)))
	}, stale, []string{"tables", "tables/balances.csv", "tables/entries.csv", "tables/surveys.csv"}},

	{"a sum is doubled", func(f *forger) { f.edit(sumsName, sumsLine(f, 3), sumsLine(f, 3)+sumsLine(f, 3)) }, stale, []string{"SHA256SUMS:4"}},
	{"sums out of order", func(f *forger) { f.edit(sumsName, sumsLine(f, 3)+sumsLine(f, 4), sumsLine(f, 4)+sumsLine(f, 3)) }, stale, []string{"SHA256SUMS:4"}},
	{"a sum is left out", func(f *forger) { f.edit(sumsName, sumsLine(f, 3), "") }, stale, []string{"SHA256SUMS"}},
	{"the sum of a file out of the folder", func(f *forger) { f.edit(sumsName, "  README.txt", "  ../README.txt") }, stale, []string{"SHA256SUMS", "SHA256SUMS:1"}},
	{"the sum of a file that is not there", func(f *forger) { f.edit(sumsName, "  tables/surveys.csv", "  tables/t.csv") }, stale, []string{"SHA256SUMS", "SHA256SUMS:13"}},
}

// sums says whether a forger makes the lists fit.
type sums uint8

const (
	stale sums = iota + 1
	fresh
)

func lineOf(f *forger, name string, n int) string {
	return strings.SplitAfter(read(f, f.dir, name), "\n")[n-1]
}

func recordLine(f *forger, n int) string { return lineOf(f, recordsName, n) }
func entryLine(f *forger, n int) string  { return lineOf(f, entriesName, n) }
func sumsLine(f *forger, n int) string   { return lineOf(f, sumsName, n) }

func TestForgedPackIsFound(t *testing.T) {
	book, _, november := smallBook(t)
	for _, test := range forgeries {
		f := &forger{t, filepath.Join(t.TempDir(), "pack")}
		if _, err := Write(context.Background(), f.dir, book.contents(november), nil); err != nil {
			t.Fatal(err)
		}
		test.forge(f)
		if test.summed == fresh {
			f.sumUp()
		}
		r := mustVerify(t, f.dir)
		var got []string
		for _, fault := range r.Faults {
			where := fault.Path
			if fault.Line > 0 {
				where = fmt.Sprintf("%s:%d", fault.Path, fault.Line)
			}
			got = append(got, where)
		}
		for _, want := range test.want {
			if !slices.Contains(got, want) {
				t.Errorf("%s: want a fault at %s, got %v", test.name, want, r.Faults)
			}
		}
		paths := func(at string) string { path, _, _ := strings.Cut(at, ":"); return path }
		for _, g := range got {
			if !slices.ContainsFunc(test.want, func(want string) bool { return paths(want) == paths(g) }) {
				t.Errorf("%s: blamed without need: %v", test.name, r.Faults)
				break
			}
		}
	}
}
