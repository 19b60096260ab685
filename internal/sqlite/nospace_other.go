//go:build !windows

package sqlite

import (
	"errors"
	"syscall"
)

// isNoSpace reports whether a write found no room: on the disk, under a quota, or under a limit on the
// size of a file.
func isNoSpace(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) || errors.Is(err, syscall.EFBIG)
}
