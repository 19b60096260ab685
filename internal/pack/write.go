package pack

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"repose/ledger"
)

// Write writes a pack into a folder that does not exist yet or is empty; else the error wraps ErrExists. All is written
// into a hidden folder beside it, checked there as Verify does, and moved to its place at the end: a pack is there whole
// or not at all. Contents that contradict each other, or the log, are refused with ErrContents. The same contents give the
// same bytes. progress is called with the bytes done, and -1 for how many there will be while that is not known; it may
// be nil.
//
// Memory: some bytes for every sealed entry and every file that was taken in. Nothing else grows with the book.
func Write(ctx context.Context, dir string, contents Contents, progress func(done, total int64)) (*Result, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	if err := vacant(dir); err != nil {
		return nil, err
	}
	temporary, err := os.MkdirTemp(filepath.Dir(dir), "."+filepath.Base(dir)+".*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(temporary) // after the move there is none
	if err := fill(ctx, temporary, &contents, progress); err != nil {
		return nil, err
	}
	result, err := Verify(ctx, temporary, progress)
	if err != nil {
		return nil, err
	}
	if !result.OK() {
		return nil, fmt.Errorf("%w: %v", ErrContents, result.Faults[0])
	}
	if err := os.Chmod(temporary, 0o755); err != nil {
		return nil, err
	}
	if err := os.Remove(dir); err != nil && !errors.Is(err, fs.ErrNotExist) { // not every system moves onto an empty folder
		return nil, err
	}
	return result, os.Rename(temporary, dir)
}

// vacant returns an error unless nothing or an empty folder stands at a place.
func vacant(dir string) error {
	switch info, err := os.Lstat(dir); {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return err
	case !info.IsDir():
		return fmt.Errorf("%s: %w", dir, ErrExists)
	}
	held, err := os.ReadDir(dir)
	if err == nil && len(held) > 0 {
		err = fmt.Errorf("%s: %w", dir, ErrExists)
	}
	return err
}

// fill writes the files of a pack into an empty folder.
func fill(ctx context.Context, dir string, contents *Contents, progress func(done, total int64)) error {
	end, ok := contents.Close.Fact.(ledger.Close)
	if !ok {
		return fmt.Errorf("%s: %w: want the record of a close", contents.Close.ID(), ErrContents)
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return err
	}
	defer root.Close() // before the move: some systems do not move an open folder
	for _, folder := range []string{tablesFolder, originalsFolder} {
		if err := root.Mkdir(folder, 0o755); err != nil {
			return err
		}
	}
	p := &packer{shelf: shelf{ctx: ctx, root: root, progress: progress}, contents: contents, end: end, history: newHistory()}
	for _, step := range []func() error{p.writeLog, p.writeSeals, p.writeEntries, p.writeOriginals, p.writeTables, p.writePages, p.writeLists} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}
