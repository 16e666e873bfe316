package complete

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sensito/sensito"
	"sensito/sensito/notebook"
)

// mostFiles is how many files of a folder are read for the names in them, and
// mostBytes how large one may be: nobody waits long for a completion.
const mostFiles, mostBytes = 200, 1 << 20

// Named offers what trials of the notebook name: those in the folders of the
// arguments, or else in the folder that the command is given in.
func Named(name func(t *sensito.Trial) []string) Func {
	return func(_ *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		var names []string
		for _, t := range trials(folderOf(args), notebook.FilmKind, notebook.PaperKind) {
			names = append(names, name(t)...)
		}
		slices.Sort(names)
		names = slices.DeleteFunc(slices.Compact(names), func(name string) bool { return name == "" })
		return begun(names, typed), alone
	}
}

// Films returns the film of a trial, for Named.
func Films(t *sensito.Trial) []string { return material(t, sensito.FilmMaterial) }

// Papers returns the paper of a trial, for Named.
func Papers(t *sensito.Trial) []string { return material(t, sensito.PaperMaterial) }

func material(t *sensito.Trial, m sensito.Material) []string {
	if t.Material() != m {
		return nil
	}
	return []string{t.Film().Name}
}

// Developers returns the developer of a trial with its dilution, for Named.
func Developers(t *sensito.Trial) []string {
	return []string{strings.TrimSpace(t.Process().Developer + " " + t.Process().Dilution)}
}

// Dilutions returns the dilutions in a trial, for Named.
func Dilutions(t *sensito.Trial) []string {
	all := []string{t.Process().Dilution}
	for _, s := range t.Strips() {
		all = append(all, s.Process().Dilution)
	}
	return all
}

// Grades offers the grades of the paper that a flag names, or the first argument
// for "", as the file has them; where no paper is named the others.
func Grades(flag string, others ...string) Func {
	return func(cmd *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		path := ""
		if f := cmd.Flags().Lookup(flag); f != nil {
			path = f.Value.String()
		} else if len(args) > 0 {
			path = args[0]
		}
		if path == "" {
			return begun(others, typed), inOrder
		}
		var grades []string
		for _, t := range trials(path, notebook.PaperKind) {
			for _, s := range t.Strips() {
				if !slices.Contains(grades, s.Grade()) {
					grades = append(grades, s.Grade())
				}
			}
		}
		return begun(grades, typed), inOrder
	}
}

// Strips offers the numbers of the strips of the trial that is the first argument,
// with what each is.
func Strips(_ *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
	if len(args) == 0 {
		return nil, alone
	}
	found := trials(args[0], notebook.FilmKind, notebook.PaperKind)
	if len(found) != 1 {
		return nil, alone
	}
	var all []string
	for i, s := range found[0].Strips() {
		told := s.Minutes().Clock(1)
		if s.Grade() != "" {
			told += ", grade " + s.Grade()
		}
		all = append(all, fmt.Sprintf("%d\t%s", i+1, told))
	}
	return begun(all, typed), inOrder
}

// folderOf returns the folder that the first argument is, or is in; else the one
// that the command is given in.
func folderOf(args []string) string {
	if len(args) == 0 {
		return "."
	}
	if info, err := os.Stat(args[0]); err == nil && info.IsDir() {
		return args[0]
	}
	return filepath.Dir(args[0])
}

// trials reads the trials of some kinds that a path names: a file, or those in a
// folder. What cannot be read is no trial.
func trials(path string, kinds ...notebook.Kind) []*sensito.Trial {
	files := []string{path}
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		entries, err := os.ReadDir(path)
		if err != nil {
			return nil
		}
		files = nil
		for _, e := range entries {
			if name := e.Name(); !strings.HasPrefix(name, ".") && ended(name, endings(kinds)) && len(files) < mostFiles {
				files = append(files, filepath.Join(path, name))
			}
		}
	}
	var out []*sensito.Trial
	for _, file := range files {
		if info, err := os.Stat(file); err != nil || !info.Mode().IsRegular() || info.Size() > mostBytes || !slices.Contains(kinds, notebook.FileKind(file)) {
			continue
		}
		f, err := os.Open(file)
		if err != nil {
			continue
		}
		t, err := notebook.Read(file, f)
		f.Close()
		if err == nil {
			out = append(out, t)
		}
	}
	return out
}
