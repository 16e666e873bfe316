//go:build unix

package store

import (
	"errors"
	"io/fs"
	"os"
	"syscall"
)

// keepOwner gives f the owner and group of another file, or the group alone,
// or neither, as the system allows.
func keepOwner(f *os.File, old fs.FileInfo) {
	want, ok := old.Sys().(*syscall.Stat_t)
	if !ok {
		return
	}
	info, err := f.Stat()
	if err != nil {
		return
	}
	if is, ok := info.Sys().(*syscall.Stat_t); !ok || is.Uid == want.Uid && is.Gid == want.Gid {
		return
	}
	if f.Chown(int(want.Uid), int(want.Gid)) != nil {
		_ = f.Chown(-1, int(want.Gid))
	}
}

// syncFolder puts on the disk which files a folder holds. A file system that
// has no such thing is none the worse.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if errors.Is(err, fs.ErrPermission) {
		return nil // one may write to a folder and not list it
	}
	if err != nil {
		return err
	}
	defer d.Close()
	err = d.Sync()
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, errors.ErrUnsupported) {
		return nil
	}
	return err
}
