package grammar

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/pelletier/go-toml/v2"
	"github.com/stretchr/testify/require"
)

// requirePlain requires that what plain makes of a file, if anything, is what the library
// makes of it, and says whether it is anything.
func requirePlain(t *testing.T, file []byte) bool {
	t.Helper()
	got, ok := plain(file)
	if !ok {
		return false
	}
	var want map[string]any
	require.NoError(t, toml.Unmarshal(file, &want), "%q", file)
	require.Equal(t, spelled(want), spelled(got), "%q", file)
	return true
}

// spelled writes values with their types, but for the numbers of a list that has nothing
// else, which plain does not keep apart.
func spelled(v any) string {
	switch v := v.(type) {
	case map[string]any:
		text := "{"
		for _, name := range slices.Sorted(maps.Keys(v)) {
			text += fmt.Sprintf("%q = %s; ", name, spelled(v[name]))
		}
		return text + "}"
	case []float64:
		list, _ := AsList(v)
		return spelled(list)
	case []any:
		numbers := len(v) > 0 && !slices.ContainsFunc(v, func(v any) bool { return KindOfValue(v) != "a number" })
		text := "["
		for _, v := range v {
			if i, ok := v.(int64); ok && numbers {
				v = float64(i)
			}
			text += spelled(v) + ", "
		}
		return text + "]"
	}
	return fmt.Sprintf("%T %#v", v, v)
}

// notebooks are the files of the demo.
func notebooks(t testing.TB) (files [][]byte) {
	paths, err := filepath.Glob("../../../../cmd/sensito/demo/*.toml")
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	for _, path := range paths {
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		files = append(files, data)
	}
	return files
}

// notPlain are files that plain leaves to the library, most of them faulty.
var notPlain = []string{
	"a = 1\na = 2", "[a]\n[a]", "a = 1\n[a]", "[a]\n[[a]]", "[[a]]\n[a]", "a = [1]\n[[a]]", "a = []\n[[a]]",
	"a.b = 1", "[a.b]", "a = { b = 1 }", "a = []", `a = ["b"]`, "a = [[1]]", "a = [1, true]", "a = 1_000", "a = [1_000]", "a = 0x1f",
	"a = 07", "a = 1e999", "a = 9223372036854775808", "a = [9223372036854775808]", "a = 2026-02-30", "a = 07:30:00", "a = ", "= 1", "a = \"\xff\"", "a = 1 2",
}

// It takes the files of trials, and no others than the library takes.
func TestPlain(t *testing.T) {
	for _, file := range []string{"", "# nothing", "a = 1\nb = 1.5\nc = \"x\\ty\"\nd = 'x\\ty'\ne = \"\"\"\nx\"\"\"\nf = true\ng = 2026-03-01", "a = [1, 2.5, nan, -inf, +1,]",
		"\"b c\" = \"\"\n[[a]]\nb = 1\n[[a]]\nb = -0.0\n[c]\nb = [\n1.10, # one\n1.20]"} {
		require.True(t, requirePlain(t, []byte(file)), file)
	}
	for _, file := range notPlain {
		require.False(t, requirePlain(t, []byte(file)), file)
	}
	taken := 0
	for _, file := range notebooks(t) {
		if requirePlain(t, file) {
			taken++
		}
	}
	require.GreaterOrEqual(t, taken, 10, "files of the demo")
}

// Files with a few characters changed, which are faulty in all ways.
func TestPlainWithSlips(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 4))
	files, bits := notebooks(t), append(slices.Clone(notPlain), "[", "]", "\"", "=", "\n", "#", ".", "nan", "[[strip]]\n", "[film]\n", "-", "9", "e")
	taken := 0
	for range 3000 {
		file := slices.Clone(files[r.IntN(len(files))])
		for range 1 + r.IntN(2) {
			at := r.IntN(len(file))
			file = slices.Replace(file, at, min(at+r.IntN(3), len(file)), []byte(bits[r.IntN(len(bits))])...)
		}
		if requirePlain(t, file) {
			taken++
		}
	}
	require.Greater(t, taken, 300)
}

func FuzzPlain(f *testing.F) {
	for _, file := range notebooks(f) {
		f.Add(file)
	}
	for _, file := range notPlain {
		f.Add([]byte(file))
	}
	f.Fuzz(func(t *testing.T, file []byte) { requirePlain(t, file) })
}
