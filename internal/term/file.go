package term

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// ErrExists says that a file stands where one was to be written.
var ErrExists = errors.New("a file of that name exists already")

// WriteFile writes a file beside its place, makes sure that it is on disk, and moves it there, so that
// the place never holds half a file. Unless overwrite is set, a file that stands there is left alone and
// the error wraps ErrExists.
func WriteFile(path string, overwrite bool, write func(io.Writer) error) (err error) {
	if _, statErr := os.Lstat(path); statErr == nil && !overwrite {
		return fmt.Errorf("%s: %w", path, ErrExists)
	} else if statErr != nil && !errors.Is(statErr, fs.ErrNotExist) {
		return statErr
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if err = write(f); err != nil {
		return err
	}
	if err = f.Chmod(0o644); err != nil {
		return err
	}
	if err = f.Sync(); err != nil {
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
