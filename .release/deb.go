package main

import (
	"bytes"
	"crypto/md5"
	"fmt"
	"path"
	"strings"
	"time"
)

// maintainer is in every package; the address is one for examples.
const maintainer = "The sensito authors <sensito@example.org>"

// debVersion writes a version before a release so that it sorts before it.
func debVersion(version string) string { return strings.ReplaceAll(version, "-", "~") }

// deb returns a package for Debian: an ar archive of the format's version, the
// control files and the files (deb(5), format 2.0).
func (r *release) deb(arch string, program file) ([]byte, error) {
	const doc = "usr/share/doc/sensito/"
	program.name = "usr/bin/sensito"
	files := []file{program}
	where := map[string]string{"sensito.bash": "usr/share/bash-completion/completions/sensito",
		"_sensito": "usr/share/zsh/vendor-completions/_sensito", "sensito.fish": "usr/share/fish/vendor_completions.d/sensito.fish"}
	for _, s := range r.scripts {
		if at := where[path.Base(s.name)]; at != "" {
			files = append(files, file{name: at, data: s.data})
		}
	}
	for _, page := range r.manual {
		packed, err := gzipped(page.data)
		if err != nil {
			return nil, err
		}
		files = append(files, file{name: "usr/share/man/man" + strings.TrimPrefix(path.Ext(page.name), ".") + "/" + path.Base(page.name) + ".gz", data: packed})
	}
	var copyright []byte
	for _, f := range r.common {
		switch f.name {
		case "LICENSE":
			copyright = append(f.data, copyright...)
		case "LICENSES-OF-PARTS.txt":
			copyright = append(append(copyright, '\n'), f.data...)
		default:
			files = append(files, file{name: doc + strings.Replace(f.name, ".readme", "readme", 1), data: bytes.ReplaceAll(f.data, []byte("](.readme/"), []byte("](readme/"))})
		}
	}
	files = append(files, file{name: doc + "copyright", data: copyright})

	var sums bytes.Buffer
	size := 0
	all, _ := sorted(files)
	for _, f := range all {
		fmt.Fprintf(&sums, "%x  %s\n", md5.Sum(f.data), f.name)
		size += len(f.data)
	}
	about, err := r.about()
	if err != nil {
		return nil, err
	}
	control := fmt.Sprintf("Package: sensito\nVersion: %s\nArchitecture: %s\nMaintainer: %s\nInstalled-Size: %d\nSection: graphics\nPriority: optional\nDescription: %s\n",
		debVersion(r.version), arch, maintainer, (size+1023)/1024, about)
	controls, err := tarred(".", []file{{name: "control", data: []byte(control)}, {name: "md5sums", data: sums.Bytes()}}, r.date)
	if err != nil {
		return nil, err
	}
	data, err := tarred(".", files, r.date)
	if err != nil {
		return nil, err
	}
	return ar([]file{{name: "debian-binary", data: []byte("2.0\n")}, {name: "control.tar.gz", data: controls}, {name: "data.tar.gz", data: data}}, r.date), nil
}

// about returns the first paragraph of the help as a description: a short line, and
// the others begin with a blank.
func (r *release) about() (string, error) {
	help, err := output(nil, r.host, "--help")
	if err != nil {
		return "", err
	}
	first, _, _ := strings.Cut(help, "\n\n")
	return "exposure index and development time from densitometer readings\n " + strings.ReplaceAll(first, "\n", "\n "), nil
}

// ar returns an archive of that format, as deb(5) wants it.
func ar(files []file, date time.Time) []byte {
	var b bytes.Buffer
	b.WriteString("!<arch>\n")
	for _, f := range files {
		fmt.Fprintf(&b, "%-16s%-12d%-6d%-6d%-8s%-10d`\n", f.name, date.Unix(), 0, 0, "100644", len(f.data))
		b.Write(f.data)
		if len(f.data)%2 == 1 {
			b.WriteString("\n")
		}
	}
	return b.Bytes()
}
