// Release makes the files by which sensito is had: for each system an archive with
// the program, its completions, the manual, the texts that the README leads to and the
// licences, a package for Debian, and the checksums of all. Run it from the root of the project:
//
//	go run ./.release [--only linux/amd64] VERSION FOLDER
//	go run ./.release --check
//
// The same commit and the same Go give the same bytes. Files have the time of the
// commit, or that of SOURCE_DATE_EPOCH. With --check it makes the files of this
// system alone, twice, tries them as somebody would who has them, and keeps nothing.
package main

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"
)

// systems are those that a release is for, as GOOS/GOARCH.
var systems = []string{"linux/amd64", "linux/arm64", "darwin/amd64", "darwin/arm64", "windows/amd64"}

func main() {
	only := flag.String("only", "", "make the files of one `SYSTEM` alone: "+strings.Join(systems, ", "))
	check := flag.Bool("check", false, "make the files of this system, try them, and keep nothing")
	flag.Parse()
	if err := run(*only, *check, flag.Args()); err != nil {
		fmt.Fprintln(os.Stderr, "release:", err)
		os.Exit(1)
	}
}

func run(only string, check bool, args []string) error {
	if check {
		if len(args) > 0 || only != "" {
			return errors.New("--check goes alone")
		}
		return tried()
	}
	if len(args) != 2 {
		return errors.New("give the version and the folder for its files: go run ./.release 1.2.0 DIR")
	}
	wanted := systems
	if only != "" {
		if !slices.Contains(systems, only) {
			return fmt.Errorf("--only %q is not one of %s", only, strings.Join(systems, ", "))
		}
		wanted = []string{only}
	}
	r, err := newRelease(args[0])
	if err != nil {
		return err
	}
	defer os.RemoveAll(r.temp)
	if r.changed {
		return fmt.Errorf("files differ from commit %.12s: commit them first, so that the release is of a commit", r.commit)
	}
	if old, err := os.ReadDir(args[1]); err == nil && len(old) > 0 {
		return fmt.Errorf("%s is not empty", args[1])
	}
	return r.write(args[1], wanted)
}

// A release is what all files of a version have in common.
type release struct {
	version string // "1.2.0"
	commit  string
	date    time.Time // of every file, UTC
	changed bool      // files differ from the commit
	temp    string

	host    string // the program for this machine
	common  []file // beside every program
	manual  []file // pages
	scripts []file // of shells
}

var versionForm = regexp.MustCompile(`^\d+\.\d+\.\d+(-[0-9a-z.]+)?$`)

func newRelease(version string) (*release, error) {
	if !versionForm.MatchString(version) {
		return nil, fmt.Errorf("%q is not a version like 1.2.0 or 1.2.0-beta.1", version)
	}
	r := &release{version: version}
	var err error
	if r.commit, err = output(nil, "git", "rev-parse", "HEAD"); err != nil {
		return nil, err
	}
	changes, err := output(nil, "git", "status", "--porcelain")
	if err != nil {
		return nil, err
	}
	r.changed = changes != ""
	seconds := os.Getenv("SOURCE_DATE_EPOCH")
	if seconds == "" {
		if seconds, err = output(nil, "git", "log", "-1", "--format=%ct"); err != nil {
			return nil, err
		}
	}
	n, err := strconv.ParseInt(seconds, 10, 64)
	if err != nil {
		return nil, fmt.Errorf("SOURCE_DATE_EPOCH %q is not a number of seconds", seconds)
	}
	r.date = time.Unix(n, 0).UTC()
	if r.temp, err = os.MkdirTemp("", "release"); err != nil {
		return nil, err
	}
	if err := r.prepare(); err != nil {
		os.RemoveAll(r.temp)
		return nil, err
	}
	return r, nil
}

// prepare makes what is the same for all systems.
func (r *release) prepare() (err error) {
	if r.host, err = r.build(runtime.GOOS + "/" + runtime.GOARCH); err != nil {
		return err
	}
	for _, name := range []string{"README.md", "LICENSE"} {
		f, err := read(name, name)
		if err != nil {
			return err
		}
		r.common = append(r.common, f)
	}
	pictures, err := folder(".readme", ".readme")
	if err != nil {
		return err
	}
	licences, err := r.licences()
	if err != nil {
		return err
	}
	const topics = "cmd/sensito/internal/topics" // which the README leads to
	texts, err := folder(topics, "topics")
	if err != nil {
		return err
	}
	texts = slices.DeleteFunc(texts, func(f file) bool { return filepath.Ext(f.name) != ".md" })
	r.common[0].data = bytes.ReplaceAll(r.common[0].data, []byte("]("+topics+"/"), []byte("](topics/"))
	r.common = slices.Concat(r.common, texts, pictures, []file{licences})

	pages := filepath.Join(r.temp, "man")
	if err := os.Mkdir(pages, 0o755); err != nil {
		return err
	}
	if _, err := output(nil, "go", "test", "-count=1", "./cmd/sensito", "-run", "^TestManual$",
		"-manual", pages, "-manual-version", r.version, "-manual-date", r.date.Format(time.DateOnly)); err != nil {
		return err
	}
	if r.manual, err = folder(pages, "man"); err != nil {
		return err
	}
	for _, s := range []struct{ shell, name string }{{"bash", "sensito.bash"}, {"zsh", "_sensito"}, {"fish", "sensito.fish"}, {"powershell", "sensito.ps1"}} {
		script, err := output(nil, r.host, "completion", s.shell)
		if err != nil {
			return err
		}
		r.scripts = append(r.scripts, file{name: "completions/" + s.name, data: []byte(script + "\n")})
	}
	return nil
}

// build builds the program for a system and returns its path.
func (r *release) build(system string) (string, error) {
	goos, goarch, _ := strings.Cut(system, "/")
	path := filepath.Join(r.temp, goos+"-"+goarch, "sensito")
	if goos == "windows" {
		path += ".exe"
	}
	if _, err := os.Stat(path); err == nil {
		return path, nil
	}
	set := []string{"-s", "-w", "-X", "main.version=" + r.version, "-X", "main.commit=" + r.commit, "-X", "main.date=" + r.date.Format(time.DateOnly)}
	env := []string{"CGO_ENABLED=0", "GOOS=" + goos, "GOARCH=" + goarch, "GOAMD64=v1", "GOARM64=v8.0", "GOFLAGS="}
	_, err := output(env, "go", "build", "-trimpath", "-buildvcs=false", "-ldflags", strings.Join(set, " "), "-o", path, "./cmd/sensito")
	return path, err
}

// write makes the files of the systems, and their checksums, in a folder.
func (r *release) write(dir string, systems []string) error {
	made := map[string][]byte{}
	for _, system := range systems {
		files, err := r.filesFor(system)
		if err != nil {
			return err
		}
		for name, data := range files {
			made[name] = data
		}
	}
	made["SHA256SUMS"] = checksums(made)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	for name, data := range made {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
			return err
		}
	}
	fmt.Printf("sensito %s of commit %.12s, %s: %d files in %s\n", r.version, r.commit, runtime.Version(), len(made), dir)
	return nil
}

// filesFor returns the archive of a system, and its package where it has one, by
// their names.
func (r *release) filesFor(system string) (map[string][]byte, error) {
	goos, goarch, _ := strings.Cut(system, "/")
	path, err := r.build(system)
	if err != nil {
		return nil, err
	}
	program, err := read(path, filepath.Base(path))
	if err != nil {
		return nil, err
	}
	program.runs = true
	name := fmt.Sprintf("sensito-%s-%s-%s", r.version, goos, goarch)
	files := slices.Concat([]file{program}, r.common, r.scripts)
	if goos == "windows" {
		help, err := r.help()
		if err != nil {
			return nil, err
		}
		packed, err := zipped(name, append(files, help), r.date)
		return map[string][]byte{name + ".zip": packed}, err
	}
	packed, err := tarred(name, append(files, r.manual...), r.date)
	if err != nil {
		return nil, err
	}
	made := map[string][]byte{name + ".tar.gz": packed}
	if goos == "linux" {
		deb, err := r.deb(goarch, program)
		if err != nil {
			return nil, err
		}
		made[fmt.Sprintf("sensito_%s_%s.deb", debVersion(r.version), goarch)] = deb
	}
	return made, nil
}

// output runs a program, with more in its environment, and returns what it prints.
func output(env []string, name string, args ...string) (string, error) {
	c := exec.Command(name, args...)
	c.Env = append(os.Environ(), env...)
	out, err := c.Output()
	if failed := (*exec.ExitError)(nil); errors.As(err, &failed) {
		return "", fmt.Errorf("%s %s: %w\n%s%s", name, strings.Join(args, " "), err, out, failed.Stderr)
	}
	return strings.TrimRight(string(out), "\n"), err
}
