package complete

import (
	"cmp"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sensito/sensito/notebook"
)

// endings are those that files of a notebook have, by what they are: only such
// files are opened.
func endings(kinds []notebook.Kind) []string {
	if slices.Contains(kinds, notebook.RollKind) {
		return []string{"csv", "txt"}
	}
	return []string{"toml"}
}

// Files offers the files of a notebook that are of some kinds, by what is in them,
// and folders. Where there is none the shell offers the files that it sees.
func Files(kinds ...notebook.Kind) Func {
	ends := endings(kinds)
	return paths(func(path string) bool { return ended(path, ends) && slices.Contains(kinds, notebook.FileKind(path)) })
}

// Endings offers files whose names end in one of these, without the point, and
// folders.
func Endings(ends ...string) Func {
	return paths(func(path string) bool { return ended(path, ends) })
}

// Folders offers folders.
func Folders(cmd *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
	found, directive := paths(func(string) bool { return false })(cmd, args, typed)
	return found, directive | alone
}

// AnyFile leaves the place to the shell, which offers all files.
func AnyFile(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return nil, cobra.ShellCompDirectiveDefault
}

func ended(path string, ends []string) bool {
	return slices.Contains(ends, strings.ToLower(strings.TrimPrefix(filepath.Ext(path), ".")))
}

// paths offers the files that are wanted, and folders.
func paths(wanted func(path string) bool) Func {
	return func(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
		folder, begins := "", typed // as typed
		if i := strings.LastIndexFunc(typed, isSeparator); i >= 0 {
			folder, begins = typed[:i+1], typed[i+1:]
		}
		entries, err := os.ReadDir(cmp.Or(folder, "."))
		if err != nil {
			return nil, cobra.ShellCompDirectiveDefault
		}
		var found []string
		filesToo := false
		for _, e := range entries {
			if !strings.HasPrefix(e.Name(), begins) || strings.HasPrefix(e.Name(), ".") && begins == "" {
				continue
			}
			path := folder + e.Name()
			switch info, err := os.Stat(path); {
			case err != nil:
			case info.IsDir():
				found = append(found, path+separator(folder))
			case info.Mode().IsRegular() && wanted(path):
				found = append(found, path)
				filesToo = true
			}
		}
		directive := cobra.ShellCompDirectiveDefault
		if !filesToo && len(found) > 0 {
			directive = cobra.ShellCompDirectiveNoSpace // a name goes on behind that of its folder
		}
		return begun(found, typed), directive
	}
}

func isSeparator(r rune) bool { return r == '/' || r == filepath.Separator }

// separator returns the one that a path has, or that of the system.
func separator(path string) string {
	if strings.Contains(path, "/") {
		return "/"
	}
	return string(filepath.Separator)
}
