package table

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/notebook"
)

const demo = "../../../cmd/sensito/demo"

func read(t *testing.T, file string) *sensito.Trial {
	t.Helper()
	trial, err := notebook.Read("t.toml", strings.NewReader(file))
	require.NoError(t, err)
	return trial
}
