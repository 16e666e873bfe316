package complete

import (
	"slices"
	"strings"
	"unicode"

	"github.com/spf13/cobra"

	"sensito/sensito/printable"
)

// Func offers what can stand at a place of a command line.
type Func = cobra.CompletionFunc

const (
	// alone says that what is offered is all there can be: no names of files.
	alone = cobra.ShellCompDirectiveNoFileComp
	// inOrder is alone for what has an order of its own.
	inOrder = alone | cobra.ShellCompDirectiveKeepOrder
)

// begun returns those of words that begin as typed and can be printed; what
// follows a tab describes the word.
func begun(words []string, typed string) []string {
	var out []string
	for _, w := range words {
		word, told, _ := strings.Cut(w, "\t")
		if strings.HasPrefix(word, typed) && printable.Text(word) == word && printable.Text(told) == told {
			out = append(out, w)
		}
	}
	return out
}

// Words offers words in their order. After one that ends with = its value follows
// at once.
func Words[T ~string](words ...T) Func {
	var all []string
	for _, w := range words {
		all = append(all, string(w))
	}
	return func(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
		found := begun(all, typed)
		if len(found) == 1 && strings.HasSuffix(found[0], "=") {
			return found, inOrder | cobra.ShellCompDirectiveNoSpace
		}
		return found, inOrder
	}
}

// List offers words for a list with commas between them, each of them once.
func List[T ~string](words ...T) Func {
	return func(cmd *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		before, last := "", typed
		if i := strings.LastIndex(typed, ","); i >= 0 {
			before, last = typed[:i+1], typed[i+1:]
		}
		var found []string
		for _, w := range words {
			if strings.HasPrefix(string(w), last) && !strings.Contains(","+before, ","+string(w)+",") {
				found = append(found, before+string(w))
			}
		}
		return found, inOrder
	}
}

// Units offers the units of a number, once that is typed.
func Units(units ...string) Func {
	return func(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
		number := strings.TrimRightFunc(typed, func(r rune) bool { return unicode.IsLetter(r) || r == '%' })
		if strings.IndexFunc(number, unicode.IsDigit) < 0 {
			return nil, alone
		}
		var all []string
		for _, u := range units {
			if u != "" {
				all = append(all, number+u)
			}
		}
		return begun(all, typed), inOrder
	}
}

// Arguments offers for so many arguments of a command, none of them twice; most of
// 0 sets no limit.
func Arguments(most int, of Func) Func {
	return func(cmd *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		if most > 0 && len(args) >= most {
			return nil, alone
		}
		found, directive := of(cmd, args, typed)
		var fresh []string
		for _, f := range found {
			if word, _, _ := strings.Cut(f, "\t"); !slices.Contains(args, word) {
				fresh = append(fresh, f)
			}
		}
		return fresh, directive
	}
}

// Commands offers the commands and the topics of help.
func Commands(cmd *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
	if len(args) > 0 {
		return nil, alone
	}
	var all []string
	for _, c := range cmd.Root().Commands() {
		if c.IsAvailableCommand() || c.IsAdditionalHelpTopicCommand() {
			all = append(all, c.Name()+"\t"+c.Short)
		}
	}
	return begun(all, typed), alone
}
