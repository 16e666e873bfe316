package main

import (
	"bytes"
	"debug/elf"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
)

// tried makes the files of this system and uses them: unpacked by tar and dpkg-deb,
// their sums checked by sha256sum, the program run, the pages read by groff.
func tried() error {
	const version = "0.0.0"
	system := runtime.GOOS + "/" + runtime.GOARCH
	r, err := newRelease(version)
	if err != nil {
		return err
	}
	defer os.RemoveAll(r.temp)
	made := filepath.Join(r.temp, "made")
	if err := r.write(made, []string{system}); err != nil {
		return err
	}
	name := fmt.Sprintf("sensito-%s-%s-%s", version, runtime.GOOS, runtime.GOARCH)
	deb := fmt.Sprintf("sensito_%s_%s.deb", version, runtime.GOARCH)
	unpacked := filepath.Join(r.temp, "a folder of ours") // with blanks, as people have them
	for _, step := range []struct {
		what string
		do   func() error
	}{
		{"a second time the bytes are the same", func() error { return r.again(system, made) }},
		{"checksums", func() error { return in(made, "sha256sum", "--check", "--strict", "--quiet", "SHA256SUMS") }},
		{"archive", func() error {
			if err := os.Mkdir(unpacked, 0o755); err != nil {
				return err
			}
			return in(unpacked, "tar", "-xzf", filepath.Join(made, name+".tar.gz"))
		}},
		{"links of the README in it", func() error { return linked(filepath.Join(unpacked, name)) }},
		{"the program in it", func() error { return r.works(filepath.Join(unpacked, name, "sensito"), unpacked) }},
		{"completions", func() error {
			return in(filepath.Join(unpacked, name, "completions"), "bash", "-n", "sensito.bash")
		}},
		{"manual", func() error { return pagesRead(filepath.Join(unpacked, name, "man")) }},
		{"package for Debian", func() error { return r.debWorks(filepath.Join(made, deb)) }},
	} {
		if err := step.do(); errors.Is(err, exec.ErrNotFound) {
			return fmt.Errorf("%s: this check needs a program: %w", step.what, err)
		} else if err != nil {
			return fmt.Errorf("%s: %w", step.what, err)
		}
		fmt.Println("  " + step.what)
	}
	return nil
}

// again links and packs once more and compares.
func (r *release) again(system, made string) error {
	if err := os.Remove(r.host); err != nil {
		return err
	}
	files, err := r.filesFor(system)
	if err != nil {
		return err
	}
	for name, data := range files {
		first, err := os.ReadFile(filepath.Join(made, name))
		if err != nil {
			return err
		}
		if !bytes.Equal(first, data) {
			return fmt.Errorf("%s differs", name)
		}
	}
	return nil
}

// linked fails where the README of a folder leads to a file that is not there.
func linked(dir string) error {
	text, err := os.ReadFile(filepath.Join(dir, "README.md"))
	if err != nil {
		return err
	}
	links := regexp.MustCompile(`\]\(([^)#:]+)\)`).FindAllSubmatch(text, -1)
	if len(links) < 15 {
		return fmt.Errorf("README.md has %d links", len(links))
	}
	for _, l := range links {
		if _, err := os.Stat(filepath.Join(dir, filepath.FromSlash(string(l[1])))); err != nil {
			return fmt.Errorf("README.md leads to %s: %w", l[1], err)
		}
	}
	return nil
}

// works runs a program that was had: it is static, says its version, and does the
// demo.
func (r *release) works(program, dir string) error {
	f, err := elf.Open(program)
	if err != nil {
		return err
	}
	defer f.Close()
	for _, p := range f.Progs {
		if p.Type == elf.PT_INTERP {
			return errors.New("it is not static: it asks for a loader of libraries")
		}
	}
	said, err := output(nil, program, "--version")
	if want := fmt.Sprintf("sensito %s (commit %.12s, %s)", r.version, r.commit, r.date.Format("2006-01-02")); err != nil || said != want {
		return fmt.Errorf("--version says %q, not %q: %v", said, want, err)
	}
	demo := filepath.Join(dir, "demo")
	if _, err := output(nil, program, "demo", demo); err != nil {
		return err
	}
	card, err := os.ReadFile(filepath.Join(demo, "card.pdf"))
	if err != nil || !bytes.HasPrefix(card, []byte("%PDF-")) {
		return fmt.Errorf("the demo drew no card: %v", err)
	}
	offered, err := output(nil, program, "__complete", "paper", demo+"/s")
	if err != nil || !strings.HasPrefix(offered, demo+"/slate.toml\n") {
		return fmt.Errorf("completion offers %q: %v", offered, err)
	}
	return nil
}

// debWorks lets dpkg-deb read the package, unpacks it and runs what is in it.
func (r *release) debWorks(deb string) error {
	field, err := output(nil, "dpkg-deb", "--field", deb, "Package", "Version", "Architecture", "Description")
	if err != nil {
		return err
	}
	for _, want := range []string{"Package: sensito\n", "Version: " + debVersion(r.version) + "\n", "Architecture: " + runtime.GOARCH + "\n", "Description: exposure index"} {
		if !strings.Contains(field, want) {
			return fmt.Errorf("%q is not in:\n%s", want, field)
		}
	}
	contents, err := output(nil, "dpkg-deb", "--contents", deb)
	if err != nil {
		return err
	}
	for _, want := range []string{"-rwxr-xr-x root/root", "./usr/bin/sensito\n", "./usr/share/man/man1/sensito-scene.1.gz\n", "./usr/share/man/man7/sensito-warnings.7.gz\n",
		"./usr/share/bash-completion/completions/sensito\n", "./usr/share/zsh/vendor-completions/_sensito\n", "./usr/share/fish/vendor_completions.d/sensito.fish\n",
		"./usr/share/doc/sensito/copyright\n"} {
		if !strings.Contains(contents+"\n", want) {
			return fmt.Errorf("%q is not in:\n%s", want, contents)
		}
	}
	root := filepath.Join(r.temp, "root")
	if _, err := output(nil, "dpkg-deb", "--raw-extract", deb, root); err != nil {
		return err
	}
	if err := in(root, "md5sum", "--check", "--strict", "--quiet", "DEBIAN/md5sums"); err != nil {
		return err
	}
	if err := linked(filepath.Join(root, "usr", "share", "doc", "sensito")); err != nil {
		return err
	}
	return r.works(filepath.Join(root, "usr", "bin", "sensito"), root)
}

// pagesRead fails where groff has a warning about a page.
func pagesRead(dir string) error {
	pages, err := filepath.Glob(filepath.Join(dir, "sensito*.[17]"))
	if err != nil || len(pages) < 15 {
		return fmt.Errorf("%d pages of the manual: %v", len(pages), err)
	}
	for _, page := range pages {
		said, err := exec.Command("groff", "-man", "-Tutf8", "-ww", "-z", page).CombinedOutput()
		if err != nil || len(said) > 0 {
			return fmt.Errorf("%s: %s (%v)", page, said, err)
		}
	}
	return nil
}

// in runs a program in a folder.
func in(dir, name string, args ...string) error {
	c := exec.Command(name, args...)
	c.Dir = dir
	if out, err := c.CombinedOutput(); err != nil {
		return fmt.Errorf("%s: %w\n%s", name, err, out)
	}
	return nil
}
