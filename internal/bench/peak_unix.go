//go:build linux || darwin

package bench

import (
	"os"
	"runtime"
	"syscall"
)

// peak returns the largest resident set of an ended process in bytes.
func peak(state *os.ProcessState) int64 {
	usage, ok := state.SysUsage().(*syscall.Rusage)
	switch {
	case !ok:
		return 0
	case runtime.GOOS == "darwin": // in bytes there, in kilobytes on Linux
		return int64(usage.Maxrss)
	}
	return int64(usage.Maxrss) * 1024
}
