package store

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/gofrs/flock"
)

// A writer of a file has a lock file beside it, on which it holds an advisory
// lock and in which it says who it is. It alone may have the temporary file, so
// that whoever gets the lock knows a temporary for the remains of a process that
// was killed. The lock is not on the file itself, which is another one after
// every rename.
const (
	lockSuffix      = ".sensito-lock"
	temporarySuffix = ".sensito-new"

	// heldSuffix is that of the lock file where the file system has no advisory
	// locks: whoever creates it has the lock until it is removed.
	heldSuffix = ".sensito-held"
)

// beside returns the hidden name that goes with a file, in the same folder. A
// name too long to be added to is shortened.
func beside(name, suffix string) string {
	const longest, kept = 200, 160
	_, base := filepath.Split(name)
	if len(base) > longest {
		sum := sha256.Sum256([]byte(base))
		cut := kept
		for !utf8.RuneStart(base[cut]) {
			cut--
		}
		base = fmt.Sprintf("%s-%x", base[:cut], sum[:8])
	}
	return filepath.Join(filepath.Dir(name), "."+base+suffix)
}

// How long a writer waits for another, and how often it looks.
var lockWait = 10 * time.Second

const lockPoll = 3 * time.Millisecond

// latest is the lock that this process gave back last. One that writes the same
// file again at once leaves a pause in which others, who only look now and then,
// get their turn.
var latest struct {
	sync.Mutex
	name string
	at   time.Time
}

// A HeldError says that another writer kept a file locked.
type HeldError struct {
	Path   string
	Holder string // in words: program, process, machine, and since when
	Waited time.Duration
}

func (e *HeldError) Error() string {
	return fmt.Sprintf("%s is being written by %s; waited %s, nothing was written", e.Path, e.Holder, e.Waited.Round(100*time.Millisecond))
}

type lock struct {
	name  string
	flock *flock.Flock // nil where there are no advisory locks
	stale bool         // whoever had the file before did not remove it
}

// tryFlock takes an advisory lock. A test stands in for a file system without.
var tryFlock = (*flock.Flock).TryLock

// noLocks says whether an error means that a file system has no advisory locks.
// ENOLCK is what a network file system without a lock service says.
func noLocks(err error) bool {
	return errors.Is(err, errors.ErrUnsupported) || errors.Is(err, syscall.ENOLCK)
}

// Unlocked says whether the file at path is on a file system without advisory
// locks. Writers of it still take turns; but one that is killed keeps the others
// waiting, and two on different machines may not see each other.
func Unlocked(path string) bool {
	t, err := find(path)
	if err != nil {
		return false
	}
	l, err := tryLock(beside(t.name, lockSuffix))
	if l != nil {
		l.release()
	}
	return noLocks(err)
}

// hold waits until no other writer has the lock of the target, takes it, and
// clears the folder of what killed writers left.
func hold(t target) (*lock, error) {
	name, held := beside(t.name, lockSuffix), beside(t.name, heldSuffix)
	start, cleared := time.Now(), false
	latest.Lock()
	again := (latest.name == name || latest.name == held) && time.Since(latest.at) < lockPoll
	latest.Unlock()
	if again {
		time.Sleep(2 * lockPoll)
	}
	said, since := "", start // the holder where there are no advisory locks, and since when
	for {
		l, err := tryLock(name)
		if noLocks(err) {
			if l, err = createLock(held); l == nil && err == nil {
				switch who := holder(held); {
				case who != said:
					said, since = who, time.Now()
				case time.Since(since) >= lockWait/2: // no write takes so long: it was killed
					os.Remove(held)
				}
			}
		}
		switch {
		case err != nil:
			return nil, fmt.Errorf("%s: nothing can be written in its folder: %w", t.path, Cause(err))
		case l == nil:
			if waited := time.Since(start); waited >= lockWait {
				return nil, &HeldError{Path: t.path, Holder: cmp.Or(said, holder(name)), Waited: waited}
			}
			time.Sleep(lockPoll)
		case l.stale && !cleared: // it may be another user's, and names another holder
			l.release()
			cleared = true // or else it cannot be removed, and will do
		default:
			l.sign()
			Sweep(filepath.Dir(name))
			return l, nil
		}
	}
}

// tryLock returns nil when another has the lock. With the lock goes that there
// is no temporary file.
func tryLock(name string) (*lock, error) {
	flags := os.O_RDONLY
	switch info, err := os.Lstat(name); {
	case err != nil:
		flags |= os.O_CREATE
	case !info.Mode().IsRegular():
		return nil, fmt.Errorf("%s is in the way", name)
	}
	f := flock.New(name, flock.SetFlag(flags), flock.SetPermissions(0o666))
	if ok, err := tryFlock(f); !ok {
		if flags == os.O_RDONLY && errors.Is(err, fs.ErrNotExist) {
			return nil, nil // its holder removed it just now
		}
		if noLocks(err) {
			os.Remove(name) // for nobody can have the lock
		}
		return nil, err
	}
	// Its holder may have removed the file after it was opened here; then the
	// lock on it is worth nothing.
	got, err := f.Stat()
	if err != nil {
		f.Unlock()
		return nil, err
	}
	if there, err := os.Lstat(name); err != nil || !os.SameFile(got, there) {
		f.Unlock()
		return nil, nil
	}
	removeTemporary(strings.TrimSuffix(name, lockSuffix))
	return &lock{name: name, flock: f, stale: got.Size() > 0}, nil
}

// createLock is tryLock where there are no advisory locks; the name is another.
func createLock(name string) (*lock, error) {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if errors.Is(err, fs.ErrExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	removeTemporary(strings.TrimSuffix(name, heldSuffix))
	return &lock{name: name}, f.Close()
}

// removeTemporary removes the temporary file of a killed writer; whoever calls
// it has the lock.
func removeTemporary(of string) {
	temporary := of + temporarySuffix
	if info, err := os.Lstat(temporary); err == nil && info.Mode().IsRegular() {
		os.Remove(temporary)
	}
}

// release removes the lock file while nobody else can have the lock; Windows
// does not remove a file that anybody has open.
func (l *lock) release() {
	switch {
	case l.flock == nil:
		os.Remove(l.name)
	case runtime.GOOS == "windows":
		l.flock.Unlock()
		os.Remove(l.name)
	default:
		os.Remove(l.name)
		l.flock.Unlock()
	}
	latest.Lock()
	defer latest.Unlock()
	latest.name, latest.at = l.name, time.Now()
}

// signature is where a lock file says who holds it: the first byte is the one
// that is locked, which on Windows keeps others from reading it.
const signature = 1

// sign says in the lock file who holds it. That it may fail is of no harm.
func (l *lock) sign() {
	f, err := os.OpenFile(l.name, os.O_WRONLY, 0)
	if err != nil {
		return
	}
	defer f.Close()
	program := strings.TrimSuffix(filepath.Base(os.Args[0]), ".exe")
	if len(os.Args) > 1 && strings.IndexFunc(os.Args[1], func(r rune) bool { return !unicode.IsLetter(r) }) < 0 {
		program += " " + os.Args[1]
	}
	host, err := os.Hostname()
	if err != nil {
		host = "a machine without a name"
	}
	who := fmt.Sprintf("%s, process %d on %s, since %s", program, os.Getpid(), host, time.Now().Format("2006-01-02 15:04:05 -0700"))
	f.WriteAt([]byte(who+"\n"), signature)
}

// holder returns who says in the lock file that it holds it.
func holder(name string) string {
	const unknown = "another program"
	f, err := os.Open(name)
	if err != nil {
		return unknown
	}
	defer f.Close()
	said := make([]byte, 500)
	n, _ := f.ReadAt(said, signature)
	who, _, whole := bytes.Cut(said[:n], []byte("\n"))
	if !whole || len(who) == 0 || !utf8.Valid(who) || bytes.ContainsFunc(who, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return unknown
	}
	return string(who)
}

// Sweep removes from a folder what killed writers left there, as every write to
// it does. Files of writers at work stay; so does what cannot be removed.
func Sweep(dir string) {
	d, err := os.Open(dir)
	if err != nil {
		return
	}
	names, _ := d.Readdirnames(-1)
	d.Close()
	for _, name := range names {
		if !strings.HasPrefix(name, ".") {
			continue
		}
		of, ours := strings.CutSuffix(name, temporarySuffix)
		if !ours {
			of, ours = strings.CutSuffix(name, lockSuffix)
		}
		if !ours {
			continue
		}
		if l, _ := tryLock(filepath.Join(dir, of+lockSuffix)); l != nil {
			l.release()
		}
	}
}
