package page_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

// marshals is a report that is written as its fields stand.
type marshals struct{ of any }

func (m marshals) MarshalJSON() ([]byte, error) { return json.Marshal(m.of) }

func readDemo(t testing.TB, name string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(demo, name))
	require.NoError(t, err)
	return string(data)
}

func filmOf(name string, speed sensito.Speed) sensito.Film {
	return sensito.Film{Name: name, RatedSpeed: speed}
}
