package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"time"
)

func (f file) mode() fs.FileMode {
	if f.runs {
		return 0o755
	}
	return 0o644
}

// sorted returns the files in the order of their names, and the folders that they
// are in, each once and before what is in it.
func sorted(files []file) (all []file, folders []string) {
	all = slices.SortedFunc(slices.Values(files), func(a, b file) int { return strings.Compare(a.name, b.name) })
	seen := map[string]bool{}
	for _, f := range all {
		for dir := path.Dir(f.name); dir != "." && dir != "/" && !seen[dir]; dir = path.Dir(dir) {
			seen[dir] = true
		}
	}
	return all, slices.Sorted(maps.Keys(seen))
}

// tarOf returns a tar of files and their folders below a folder, all of root and of
// one time.
func tarOf(below string, files []file, date time.Time) ([]byte, error) {
	var b bytes.Buffer
	w := tar.NewWriter(&b)
	add := func(h tar.Header, data []byte) error {
		h.ModTime, h.Uname, h.Gname, h.Format = date, "root", "root", tar.FormatGNU
		if err := w.WriteHeader(&h); err != nil {
			return err
		}
		_, err := w.Write(data)
		return err
	}
	all, folders := sorted(files)
	for _, dir := range append([]string{""}, folders...) {
		if err := add(tar.Header{Typeflag: tar.TypeDir, Name: below + "/" + strings.TrimPrefix(dir+"/", "/"), Mode: 0o755}, nil); err != nil {
			return nil, err
		}
	}
	for _, f := range all {
		if err := add(tar.Header{Typeflag: tar.TypeReg, Name: below + "/" + f.name, Mode: int64(f.mode()), Size: int64(len(f.data))}, f.data); err != nil {
			return nil, err
		}
	}
	err := w.Close()
	return b.Bytes(), err
}

// gzipped compresses without a name or a time.
func gzipped(data []byte) ([]byte, error) {
	var b bytes.Buffer
	w, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := w.Write(data); err != nil {
		return nil, err
	}
	err = w.Close()
	return b.Bytes(), err
}

func tarred(below string, files []file, date time.Time) ([]byte, error) {
	data, err := tarOf(below, files, date)
	if err != nil {
		return nil, err
	}
	return gzipped(data)
}

func zipped(below string, files []file, date time.Time) ([]byte, error) {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	all, _ := sorted(files)
	for _, f := range all {
		h := &zip.FileHeader{Name: below + "/" + f.name, Method: zip.Deflate, Modified: date}
		h.SetMode(f.mode())
		part, err := w.CreateHeader(h)
		if err != nil {
			return nil, err
		}
		if _, err := part.Write(f.data); err != nil {
			return nil, err
		}
	}
	err := w.Close()
	return b.Bytes(), err
}

// checksums returns the lines that sha256sum --check reads.
func checksums(files map[string][]byte) []byte {
	var b bytes.Buffer
	for _, name := range slices.Sorted(maps.Keys(files)) {
		fmt.Fprintf(&b, "%x  %s\n", sha256.Sum256(files[name]), name)
	}
	return b.Bytes()
}
