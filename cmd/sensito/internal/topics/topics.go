// Package topics holds what `sensito help TOPIC` tells beside the commands: the
// words, the faults of negatives, what the files may hold. A topic is a Markdown
// file of this folder, whose console blocks are run by a test of the command, so
// that they stay true; begin with All.
package topics

import (
	"embed"
	"io/fs"
	"strings"
)

//go:embed *.md
var files embed.FS

// A Topic is one text.
type Topic struct {
	Name  string // what is typed behind help, and the file's name without its ending
	Title string // its first line
	Text  string // Markdown, without the title
}

// All returns the topics in the order of their names.
func All() []Topic {
	entries, err := fs.ReadDir(files, ".")
	if err != nil {
		panic(err) // it is built into the program
	}
	var all []Topic
	for _, e := range entries {
		text, err := files.ReadFile(e.Name())
		if err != nil {
			panic(err)
		}
		title, rest, _ := strings.Cut(string(text), "\n")
		all = append(all, Topic{Name: strings.TrimSuffix(e.Name(), ".md"), Title: strings.TrimPrefix(title, "# "), Text: strings.TrimSpace(rest) + "\n"})
	}
	return all
}
