package simulated

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// ReadReference returns the rows of a CSV file in testdata/reference as maps.
func ReadReference(t testing.TB, name string) []map[string]string {
	root := "."
	for range 5 { // from the folder of the test, whichever room it is
		if _, err := os.Stat(filepath.Join(root, "go.mod")); err == nil {
			break
		}
		root = filepath.Join("..", root)
	}
	file, err := os.Open(filepath.Join(root, "testdata", "reference", name))
	require.NoError(t, err)
	defer file.Close()
	r := csv.NewReader(file)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	var out []map[string]string
	for _, row := range rows[1:] {
		m := make(map[string]string)
		for i, cell := range row {
			m[rows[0][i]] = cell
		}
		out = append(out, m)
	}
	require.NotEmpty(t, out)
	return out
}

// Number reads a cell of such a row.
func Number(t testing.TB, s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}
