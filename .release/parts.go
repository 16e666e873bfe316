package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// A file is one in an archive.
type file struct {
	name string // with slashes
	data []byte
	runs bool // it is a program
}

func read(path, name string) (file, error) {
	data, err := os.ReadFile(path)
	return file{name: name, data: data}, err
}

// folder returns the files of a folder, as in another one.
func folder(dir, as string) ([]file, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var files []file
	for _, e := range entries {
		f, err := read(filepath.Join(dir, e.Name()), as+"/"+e.Name())
		if err != nil {
			return nil, err
		}
		files = append(files, f)
	}
	return files, nil
}

var licenceName = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice)`)

// licences returns the licences of all that is built into the programs, of any of
// the systems, which they ask to be given with it.
func (r *release) licences() (file, error) {
	goroot, err := output(nil, "go", "env", "GOROOT")
	if err != nil {
		return file{}, err
	}
	dirs := map[string]string{"The Go standard library and runtime": goroot}
	for _, system := range systems {
		goos, goarch, _ := strings.Cut(system, "/")
		list, err := output([]string{"CGO_ENABLED=0", "GOOS=" + goos, "GOARCH=" + goarch}, "go", "list", "-deps", "-json=Module", "./cmd/sensito")
		if err != nil {
			return file{}, err
		}
		for d := json.NewDecoder(strings.NewReader(list)); ; {
			var p struct {
				Module *struct {
					Path, Version, Dir string
					Main               bool
				}
			}
			if err := d.Decode(&p); err == io.EOF {
				break
			} else if err != nil {
				return file{}, err
			}
			if p.Module != nil && !p.Module.Main {
				dirs[p.Module.Path+" "+p.Module.Version] = p.Module.Dir
			}
		}
	}
	var names []string
	for name := range dirs {
		names = append(names, name)
	}
	slices.Sort(names)
	var all bytes.Buffer
	all.WriteString("The programs of sensito are built from these modules too. Their licences follow.\n")
	for _, name := range names {
		found, err := licencesIn(dirs[name])
		if err != nil {
			return file{}, err
		}
		if len(found) == 0 {
			return file{}, fmt.Errorf("%s has no licence in %s", name, dirs[name])
		}
		fmt.Fprintf(&all, "\n%s\n%s\n\n", strings.Repeat("=", 80), name)
		for _, text := range found {
			all.WriteString(text + "\n")
		}
	}
	return file{name: "LICENSES-OF-PARTS.txt", data: all.Bytes()}, nil
}

func licencesIn(dir string) ([]string, error) {
	var found []string
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		if licenceName.MatchString(e.Name()) && e.Type().IsRegular() {
			text, err := os.ReadFile(filepath.Join(dir, e.Name()))
			if err != nil {
				return nil, err
			}
			found = append(found, strings.TrimSpace(strings.ReplaceAll(string(text), "\r\n", "\n"))+"\n")
		}
	}
	return found, nil
}

// help returns the manual as text, for systems that have no man: what help says of
// the tool and of each command.
func (r *release) help() (file, error) {
	var all bytes.Buffer
	for _, page := range r.manual {
		name := strings.TrimPrefix(page.name, "man/sensito")
		args := []string{"help"}
		if command := strings.TrimPrefix(strings.TrimSuffix(name, filepath.Ext(name)), "-"); command != "" {
			args = append(args, command)
		}
		text, err := output(nil, r.host, args...)
		if err != nil {
			return file{}, err
		}
		rule := strings.Repeat("=", 80)
		fmt.Fprintf(&all, "%s\nsensito %s\n%s\n\n%s\n\n", rule, strings.Join(args, " "), rule, text)
	}
	return file{name: "MANUAL.txt", data: bytes.ReplaceAll(all.Bytes(), []byte("\n"), []byte("\r\n"))}, nil
}
