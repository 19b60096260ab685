package cli

import (
	"os"
	"syscall"
)

// peakMegabytes returns the most memory that a process that has ended held at once.
func peakMegabytes(p *os.ProcessState) float64 {
	return float64(p.SysUsage().(*syscall.Rusage).Maxrss) / 1024
}
