package notebook

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/google/renameio/v2/maybe"
)

// WriteFile puts data in the file at path, so that whoever reads it, even after
// a crash, finds the old content or the new and never half of one. A file that
// is replaced keeps its permissions, a new one gets 0644 less the umask. A link
// stays a link; the file it leads to is replaced. What is not a regular file is
// refused.
//
// Except on Windows, the temporary file is synced before it is renamed. The
// folder is not synced, so a crash soon afterwards may bring the old file back.
// The temporary file lies beside the target, or in os.TempDir when that can be
// renamed from. On Windows the file is written in place, which a crash can cut
// short.
func WriteFile(path string, data []byte) error {
	// Told here, since the error of a temporary file names that file.
	if info, err := os.Stat(filepath.Dir(path)); err != nil || !info.IsDir() {
		return fmt.Errorf("%s: there is no folder %s", path, filepath.Dir(path))
	}
	target, err := filepath.EvalSymlinks(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if _, err := os.Lstat(path); err == nil {
			return fmt.Errorf("%s is a link that leads nowhere", path)
		}
		target = path
	case err != nil:
		return err
	default:
		info, err := os.Stat(target)
		if err != nil {
			return err
		}
		if !info.Mode().IsRegular() {
			return fmt.Errorf("%s is not a regular file", path)
		}
	}
	return maybe.WriteFile(target, data, 0o644)
}
