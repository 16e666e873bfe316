//go:build !unix

package store

import (
	"io/fs"
	"os"
)

// Here neither owners nor folders are for a program to set or sync.

func keepOwner(*os.File, fs.FileInfo) {}

func syncFolder(string) error { return nil }
