package sqlite

import (
	"net/url"
	"path/filepath"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/util/vfsutil"
	"github.com/ncruces/go-sqlite3/vfs"
)

// diskName is what a connection calls diskVFS.
const diskName = "repose"

// connectFile opens a connection to a file through diskVFS. The path is made absolute, so that no name
// means something special to SQLite.
func connectFile(path string, flags sqlite3.OpenFlag) (*sqlite3.Conn, error) {
	full, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	vfs.Register(diskName, diskVFS{vfs.Find("")})
	name := url.URL{Path: filepath.ToSlash(full)}
	return sqlite3.OpenFlags("file:"+name.EscapedPath()+"?vfs="+diskName, flags|sqlite3.OPEN_URI)
}

// diskVFS is the driver's own access to files, but for one thing: a write for which there is no room is
// FULL. The driver makes an I/O error of it, and no longer knows of what kind by the time it is told.
type diskVFS struct{ vfs.VFS }

// Open opens a file by its name.
func (d diskVFS) Open(name string, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	return wrapFile(vfsutil.WrapOpen(d.VFS, name, flags))
}

// OpenFilename opens a file by its name, or a temporary one where that is nil.
func (d diskVFS) OpenFilename(name *vfs.Filename, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	return wrapFile(vfsutil.WrapOpenFilename(d.VFS, name, flags))
}

func wrapFile(f vfs.File, flags vfs.OpenFlag, err error) (vfs.File, vfs.OpenFlag, error) {
	if err != nil {
		return nil, flags, err
	}
	return &diskFile{f}, flags, nil
}

// diskFile is a file of diskVFS. It passes on what SQLite may ask of the driver's files besides.
type diskFile struct{ vfs.File }

func full(err error) error {
	if isNoSpace(err) {
		return vfs.SystemError(err, sqlite3.FULL)
	}
	return err
}

func (f *diskFile) WriteAt(p []byte, off int64) (int, error) {
	n, err := f.File.WriteAt(p, off)
	return n, full(err)
}

func (f *diskFile) Truncate(size int64) error      { return full(f.File.Truncate(size)) }
func (f *diskFile) Sync(flags vfs.SyncFlag) error  { return full(f.File.Sync(flags)) }
func (f *diskFile) SizeHint(size int64) error      { return full(vfsutil.WrapSizeHint(f.File, size)) }
func (f *diskFile) HasMoved() (bool, error)        { return vfsutil.WrapHasMoved(f.File) }
func (f *diskFile) PowersafeOverwrite() bool       { return vfsutil.WrapPowersafeOverwrite(f.File) }
func (f *diskFile) SetPowersafeOverwrite(on bool)  { vfsutil.WrapSetPowersafeOverwrite(f.File, on) }
func (f *diskFile) SharedMemory() vfs.SharedMemory { return vfsutil.WrapSharedMemory(f.File) }
func (f *diskFile) BeginAtomicWrite() error        { return full(vfsutil.WrapBeginAtomicWrite(f.File)) }
func (f *diskFile) CommitAtomicWrite() error       { return full(vfsutil.WrapCommitAtomicWrite(f.File)) }
func (f *diskFile) RollbackAtomicWrite() error     { return vfsutil.WrapRollbackAtomicWrite(f.File) }
