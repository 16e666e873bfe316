package guard

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"

	"sensito/sensito/notebook/store"
)

// A secret is what cookies and form tokens of a notebook are made from.
type secret [32]byte

func newSecret() (s secret) {
	rand.Read(s[:]) // never fails
	return s
}

// line returns the secret as its file holds it, with a sum that tells a torn or
// blanked file.
func (s secret) line() []byte {
	sum := sha256.Sum256(s[:])
	return fmt.Appendf(nil, "%x %x\n", s, sum[:8])
}

// A keep is the folder in the user's cache where the secret and the port of a
// notebook stay from one start of the server to the next.
type keep struct{ dir string }

// keepOf returns the keep of the notebook in a folder, made where it is not there.
// Renewed says that others could write to it, so that nothing in it is trusted.
func keepOf(notebook string) (k keep, renewed bool, err error) {
	cache, err := os.UserCacheDir()
	if err != nil {
		return keep{}, false, err
	}
	if real, err := filepath.EvalSymlinks(notebook); err == nil {
		notebook = real
	}
	sum := sha256.Sum256([]byte(notebook))
	k.dir = filepath.Join(cache, "sensito", "serve-"+hex.EncodeToString(sum[:12]))
	if err := os.MkdirAll(k.dir, 0o700); err != nil {
		return keep{}, false, err
	}
	info, err := os.Lstat(k.dir)
	switch {
	case err != nil:
		return keep{}, false, err
	case !info.IsDir(): // a link to one
		return keep{}, false, fmt.Errorf("%s is not a folder", k.dir)
	case open(info):
		if err := os.Chmod(k.dir, 0o700); err != nil {
			return keep{}, false, err
		}
		for _, name := range []string{k.secretFile(), k.portFile()} {
			if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return keep{}, false, err
			}
		}
		return k, true, nil
	}
	return k, false, nil
}

func (k keep) secretFile() string { return filepath.Join(k.dir, "secret") }
func (k keep) portFile() string   { return filepath.Join(k.dir, "port") }

// open says whether others than the owner may use a file. Windows does not tell
// by the mode; there the user's cache folder is closed to others.
func open(info fs.FileInfo) bool { return runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 }

// secret returns the secret that is kept, or a new one that is kept from now on.
// Renewed says why the one there was not taken, nil where it was or none was there.
func (k keep) secret() (s secret, renewed, err error) {
	name := k.secretFile()
	for range 3 { // another server may begin at the same time
		s, fault := readSecret(name)
		if fault == nil {
			return s, renewed, nil
		}
		if !errors.Is(fault, fs.ErrNotExist) {
			renewed = fault
			if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return secret{}, renewed, err
			}
		}
		s = newSecret()
		if err = store.CreatePrivate(name, s.line()); !errors.Is(err, fs.ErrExist) {
			return s, renewed, err
		}
	}
	return secret{}, renewed, err
}

// readSecret returns the secret in a file, or why it is of no use.
func readSecret(name string) (s secret, err error) {
	info, err := os.Lstat(name)
	switch {
	case err != nil:
		return s, err
	case !info.Mode().IsRegular():
		return s, errors.New("it is not a regular file")
	case open(info):
		return s, fmt.Errorf("others could read it (mode %04o, not 0600)", info.Mode().Perm())
	}
	f, err := os.Open(name)
	if err != nil {
		return s, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, 200))
	if err != nil {
		return s, err
	}
	word, _, _ := bytes.Cut(text, []byte(" "))
	if n, err := hex.Decode(s[:], word[:min(len(word), 2*len(s))]); err != nil || n != len(s) || !bytes.Equal(text, s.line()) {
		return secret{}, errors.New("it is not whole")
	}
	return s, nil
}

// port returns the port that the notebook had last, 0 where that is not known.
func (k keep) port() int {
	if k.dir == "" {
		return 0
	}
	text, err := os.ReadFile(k.portFile())
	if err != nil {
		return 0
	}
	port, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil || port < 1 || port > 65535 {
		return 0
	}
	return port
}

// keepPort remembers a port.
func (k keep) keepPort(port int) error {
	return store.WritePrivate(k.portFile(), fmt.Appendln(nil, port))
}
