package blind

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

// MessageOf returns the message of the first warning of a code, "" if there is none.
func MessageOf(ws sensito.Warnings, code string) string {
	for _, w := range ws {
		if w.Code == code {
			return w.Message()
		}
	}
	return ""
}

// Codes returns the codes of warnings.
func Codes(ws sensito.Warnings) []string {
	out := []string{}
	for _, w := range ws {
		out = append(out, w.Code)
	}
	return out
}

// Faults holds an error to every fault that it must tell, one FieldError each, in
// order.
func Faults(t testing.TB, err error, want []string) {
	t.Helper()
	require.Error(t, err)
	assert.Equal(t, strings.Join(want, "\n"), err.Error())
	all := []error{err}
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		all = joined.Unwrap()
	}
	require.Len(t, all, len(want))
	for i, f := range all {
		field := (*sensito.FieldError)(nil)
		require.True(t, errors.As(f, &field))
		assert.Equal(t, want[i], field.Key+": "+field.Reason)
	}
}
