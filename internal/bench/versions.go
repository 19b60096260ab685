package bench

import (
	"context"
	"fmt"
	"os"
	"runtime"
	"runtime/debug"
	"strings"
)

// Versions are those of what was measured. A peer that is not installed has none.
type Versions struct {
	Go       string `json:"go"`
	System   string `json:"system"`
	CPUs     int    `json:"cpus"`
	SQLite   string `json:"sqlite3,omitempty"`
	Office   string `json:"libreoffice,omitempty"`
	Excelize string `json:"excelize,omitempty"`
}

const excelizeModule = "github.com/xuri/excelize/v2"

func (b *Bench) versions(ctx context.Context) Versions {
	v := Versions{Go: runtime.Version(), System: runtime.GOOS + "/" + runtime.GOARCH, CPUs: runtime.NumCPU(),
		SQLite: b.version(ctx, b.SQLite, 1), Office: b.version(ctx, b.Office, 2)}
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, m := range info.Deps {
			if m.Path == excelizeModule {
				v.Excelize = m.Version
			}
		}
	}
	return v
}

// version returns the first words of what a program says of itself.
func (b *Bench) version(ctx context.Context, c Command, words int) string {
	if c.Path == "" {
		return ""
	}
	out, _, err := b.run(ctx, run{command: c, args: []string{"--version"}})
	if err != nil {
		return "unknown"
	}
	fields := strings.Fields(string(out))
	return strings.Join(fields[:min(words, len(fields))], " ")
}

// String returns the versions in one line.
func (v Versions) String() string {
	s := fmt.Sprintf("%s %s, %d CPUs", v.Go, v.System, v.CPUs)
	for _, p := range []struct{ name, version string }{{"sqlite3", v.SQLite}, {"excelize", v.Excelize}, {"spreadsheet engine", v.Office}} {
		if p.version == "" {
			p.version = "not installed"
		}
		s += ", " + p.name + " " + p.version
	}
	return s
}

// loadAverage returns how busy the machine is, as Linux says it.
func loadAverage() string {
	data, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		return ""
	}
	fields := strings.Fields(string(data))
	return strings.Join(fields[:min(3, len(fields))], " ")
}
