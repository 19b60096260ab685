package sqlite

import (
	"errors"
	"syscall"
)

// isNoSpace reports whether a write found no room on the disk or under a quota.
func isNoSpace(err error) bool {
	// Microsoft, "System Error Codes"; the syscall package does not name them.
	const (
		handleDiskFull    = syscall.Errno(39)
		diskFull          = syscall.Errno(112)
		diskQuotaExceeded = syscall.Errno(1295)
	)
	return errors.Is(err, diskFull) || errors.Is(err, handleDiskFull) || errors.Is(err, diskQuotaExceeded)
}
