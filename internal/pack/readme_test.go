package pack

import (
	"crypto/sha256"
	"encoding/csv"
	"fmt"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/internal/merkle"
)

// commands returns the lines of README.txt that one can type in on Linux.
func commands(readme string) (lines []string) {
	for line := range strings.Lines(readme) {
		line, ok := strings.CutPrefix(line, "    ")
		for _, name := range []string{"sha256sum ", "find ", "tail ", "( printf ", "sed "} {
			if ok && strings.HasPrefix(line, name) {
				lines = append(lines, strings.TrimSpace(line))
			}
		}
	}
	return lines
}

// typed runs a command line in a pack. Where there is no shell or no sha256sum, it does by itself what the line says.
func typed(t *testing.T, dir, line string) (out string, failed bool) {
	t.Helper()
	_, noShell := exec.LookPath("sh")
	_, noSum := exec.LookPath("sha256sum")
	if noShell != nil || noSum != nil {
		return byHand(t, dir, line)
	}
	cmd := exec.Command("sh", "-c", line)
	cmd.Dir, cmd.Env = dir, append(os.Environ(), "LC_ALL=C")
	b, err := cmd.CombinedOutput()
	return string(b), err != nil
}

// byHand is typed without a shell. The sums are read by the form that sha256sum documents.
func byHand(t *testing.T, dir, line string) (out string, failed bool) {
	t.Helper()
	last := func(name string) string {
		lines := strings.Split(strings.TrimSuffix(read(t, dir, name), "\n"), "\n")
		return lines[len(lines)-1]
	}
	switch name, ok := strings.CutPrefix(line, "sha256sum "); {
	case strings.Contains(line, "--check"):
		for _, m := range regexp.MustCompile(`(?m)^([0-9a-f]{64}) [ *](.+)$`).FindAllStringSubmatch(read(t, dir, sumsName), -1) {
			if fmt.Sprintf("%x", sha256.Sum256([]byte(read(t, dir, m[2])))) != m[1] {
				out, failed = out+m[2]+": FAILED\n", true
			}
		}
		return out, failed
	case ok:
		return fmt.Sprintf("%x  %s\n", sha256.Sum256([]byte(read(t, dir, name))), name), false
	case strings.HasPrefix(line, "find"):
		return fmt.Sprintln(len(packFiles(t, dir))), false
	case strings.HasPrefix(line, "tail"):
		return regexp.MustCompile(`"seal_sha256":"[0-9a-f]*"`).FindString(last(recordsName)) + "\n", false
	case strings.HasPrefix(line, "( printf"):
		return merkle.LeafHash([]byte(last(recordsName))).String() + "  -\n", false
	default:
		return last(leavesName) + "\n", false
	}
}

// TestReadmeCommands types in what README.txt says, and compares what comes out with what it says comes out.
func TestReadmeCommands(t *testing.T) {
	dir := smallPack(t)
	lines := commands(read(t, dir, readmeName))
	if len(lines) != 7 {
		t.Fatalf("commands %q, want 7", lines)
	}
	for _, run := range []func(t *testing.T, dir, line string) (string, bool){typed, byHand} {
		var got []string
		for _, line := range lines {
			out, failed := run(t, dir, line)
			if failed {
				t.Errorf("%s: %s", line, out)
			}
			got = append(got, strings.TrimSpace(out))
		}
		r := mustVerify(t, dir)
		leaf := strings.Fields(read(t, dir, leavesName))[r.Records-1]
		want := []string{r.SumsSHA256 + "  SHA256SUMS", "", strconv.Itoa(r.Files), r.SealSHA256 + "  seal.txt",
			`"seal_sha256":"` + r.SealSHA256 + `"`, leaf + "  -", leaf}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("(-want +got):\n%s", diff)
		}
		if !strings.Contains(read(t, dir, readmeName), fmt.Sprintf("must print %d:", r.Files)) {
			t.Errorf("the README does not state %d files", r.Files)
		}
	}
	write(t, dir, workbookName, "something else")
	for _, run := range []func(t *testing.T, dir, line string) (string, bool){typed, byHand} {
		if out, failed := run(t, dir, lines[1]); !failed || !strings.Contains(out, workbookName) {
			t.Errorf("a changed workbook: %q", out)
		}
	}
}

// TestReadmeFigures does in Go what README.txt has a reader do in a spreadsheet. The tables are read with another reader
// than wrote them.
func TestReadmeFigures(t *testing.T) {
	dir := smallPack(t)
	readme := read(t, dir, readmeName)
	entries, balances := table(t, dir, entriesName), table(t, dir, balancesName)
	var solids, water int64
	in, out := map[string][2]int64{}, map[string][2]int64{}
	for _, row := range entries {
		s, w := number(t, row["solids_g"]), number(t, row["water_g"])
		solids, water = solids+s, water+w
		in[row["to"]] = [2]int64{in[row["to"]][0] + s, in[row["to"]][1] + w}
		out[row["from"]] = [2]int64{out[row["from"]][0] + s, out[row["from"]][1] + w}
	}
	var sum, piles [2]int64
	for _, row := range balances {
		for i, of := range []string{"solids_g", "water_g"} {
			opening, closing := number(t, row["opening_"+of]), number(t, row["closing_"+of])
			if number(t, row["in_"+of]) != in[row["account"]][i] || number(t, row["out_"+of]) != out[row["account"]][i] ||
				opening+in[row["account"]][i]-out[row["account"]][i] != closing {
				t.Errorf("%s: %v does not follow from the entries", of, row)
			}
			sum[i] += closing
			if strings.HasPrefix(row["account"], "pile:") {
				piles[i] += closing
			}
		}
	}
	if sum != [2]int64{} {
		t.Errorf("closing balances sum to %v", sum)
	}
	for _, want := range []string{fmt.Sprintf("entries.csv has %d rows", len(entries)), fmt.Sprintf("sums to\n   %d and its column water_g to %d", solids, water),
		fmt.Sprintf("sums to\n   %d (", piles[0]), fmt.Sprintf("closing_water_g to %d;", piles[1])} {
		if !strings.Contains(readme, want) {
			t.Errorf("the README does not say %q", want)
		}
	}
}

func table(t *testing.T, dir, name string) (rows []map[string]string) {
	t.Helper()
	all, err := csv.NewReader(strings.NewReader(read(t, dir, name))).ReadAll()
	if err != nil || len(all) < 2 {
		t.Fatalf("%s: %d rows, error %v", name, len(all), err)
	}
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, c := range cells {
			row[all[0][i]] = c
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t *testing.T, s string) int64 {
	t.Helper()
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	return n
}
