package cli

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// benchLoads is a month of a very large yard: 300,000 loads in ten columns.
const benchLoads = 300_000

// BenchmarkMonth takes 300,000 loads into a new book and closes their month, as two runs of the real
// program, and reports the loads a second of each and the larger peak of memory.
func BenchmarkMonth(b *testing.B) {
	self, err := os.Executable()
	if err != nil {
		b.Fatal(err)
	}
	files := b.TempDir()
	writeBenchYard(b, files)
	run := func(dir string, args ...string) (seconds, megabytes float64) {
		cmd := execAs(self, dir, args...)
		start := time.Now()
		if out, err := cmd.CombinedOutput(); err != nil {
			b.Fatalf("repose %v: %v\n%s", args, err, out)
		}
		return time.Since(start).Seconds(), peakMegabytes(cmd.ProcessState)
	}
	var intake, closing, peak float64
	for b.Loop() {
		dir := b.TempDir()
		s, m := run(dir, "intake", files)
		intake, peak = intake+s, max(peak, m)
		s, m = run(dir, "close", "2026-10")
		closing, peak = closing+s, max(peak, m)
	}
	n := float64(benchLoads * b.N)
	b.ReportMetric(n/intake, "loads-in/s")
	b.ReportMetric(n/closing, "loads-closed/s")
	b.ReportMetric(peak, "peak-MB")
}

// writeBenchYard writes the tables of one yard with 20 piles and a month of loads.
func writeBenchYard(b *testing.B, dir string) {
	tables := map[string]string{
		"yards.csv":    "yard,name,time zone\nNORTH,North yard,Europe/London\n",
		"products.csv": "product,reference moisture [% dry]\nS20,2\n",
		"policy.csv":   "name,value,from\nsurvey every,0,2026-01-01\n",
	}
	piles, openings := "pile,product\n", "pile,time,solids [t]\n"
	for p := range 20 {
		piles += fmt.Sprintf("P%02d,S20\n", p)
		openings += fmt.Sprintf("P%02d,2026-10-01,900000\n", p)
	}
	tables["piles.csv"], tables["opening.csv"] = piles, openings
	for name, content := range tables {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644); err != nil {
			b.Fatal(err)
		}
	}
	f, err := os.Create(filepath.Join(dir, "loads.csv"))
	if err != nil {
		b.Fatal(err)
	}
	w := bufio.NewWriter(f)
	fmt.Fprintln(w, "time,loader,ticket,pile,product,truck,customer,passes,net [t],purpose")
	at := time.Date(2026, 10, 1, 6, 0, 0, 0, time.UTC)
	for n := range benchLoads {
		fmt.Fprintf(w, "%s,L%d,%d,P%02d,S20,T%03d,C%03d,%d,%d.%02d,sale\n", at.Format("2006-01-02T15:04:05Z"), n%6, n, n%20,
			n*7%400, n*13%240, 4+n%5, 12+n*31%16, n*37%100)
		at = at.Add(8 * time.Second)
	}
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
	if err := f.Close(); err != nil {
		b.Fatal(err)
	}
}
