package enter

import (
	"context"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/entry"
	"sensito/sensito/notebook"
)

// lines is a talk in which these were typed.
func lines(asks bool, text ...string) *talk {
	typed := make(chan typedLine, len(text))
	for _, l := range text {
		typed <- typedLine{text: l}
	}
	close(typed)
	return &talk{streams: console.New(nil, io.Discard, io.Discard), asks: asks, typed: typed, name: console.StandardInput}
}

// What came with a line that raised a question waits for its turn.
func TestPastedLinesWait(t *testing.T) {
	k := lines(true, "a", "b", "c", "", "")
	ctx := context.Background()
	line, ok, err := k.next(ctx)
	require.NoError(t, err)
	require.True(t, ok)
	assert.Equal(t, "a", line.text)
	turn := false
	k.resume = func() bool { return turn }
	k.question("Is that so?")
	require.Len(t, k.held, 2, "without the end of the paste")
	_, waits := k.ready()
	assert.False(t, waits, "nothing has been typed")
	k.answered = true
	_, waits = k.ready()
	assert.False(t, waits, "it is not their turn")
	turn = true
	for _, want := range []string{"b", "c"} {
		line, waits = k.ready()
		require.True(t, waits)
		assert.Equal(t, want, line.text)
	}
	_, waits = k.ready()
	assert.False(t, waits)
}

// Answers come one a line, several in a row, or by their first letters; the question
// before can be answered anew, and what is asked depends on it.
func TestForm(t *testing.T) {
	questions := func() []question {
		return []question{
			{key: "kind", ask: "Kind", choices: []string{"clear", "cloudy", "fog"}, usual: "fog"},
			{key: "depth", ask: "Depth", need: true, when: func(a answers) bool { return a["kind"] != "clear" }},
			{key: "note", ask: "Note", whole: true},
		}
	}
	for text, want := range map[string]answers{
		"f|12|":                {"kind": "fog", "depth": "12", "note": ""},
		"|12|a; b":             {"kind": "fog", "depth": "12", "note": "a; b"},
		"cle|stays":            {"kind": "clear", "note": "stays"},
		"clo; 3; wet; and so":  {"kind": "cloudy", "depth": "3", "note": "wet; and so"},
		"clo\t3":               {"kind": "cloudy", "depth": "3", "note": ""},
		"clo|back|cle|x":       {"kind": "clear", "note": "x"},
		"f|7|-":                {"kind": "fog", "depth": "7", "note": ""},
		"help|f|?|1|back|2|no": {"kind": "fog", "depth": "2", "note": "no"},
	} {
		f := &form{talk: lines(true, strings.Split(text, "|")...), questions: questions(), answers: answers{}}
		require.NoError(t, f.fill(context.Background()), text)
		assert.Equal(t, want, f.answers, text)
	}
	f := &form{talk: lines(false, "f"), questions: questions(), answers: answers{}}
	assert.EqualError(t, f.fill(context.Background()), "standard input ended before depth was answered")
	f = &form{talk: lines(false, "c"), questions: questions(), answers: answers{}}
	assert.EqualError(t, f.fill(context.Background()), `standard input:1: kind: "c" can be clear or cloudy`)
	f = &form{talk: lines(true, "f", "stop"), questions: questions(), answers: answers{}}
	assert.Equal(t, errStopped, f.fill(context.Background()))
	f = &form{talk: lines(false), questions: questions(), answers: answers{}, record: true}
	assert.Equal(t, errNoMore, f.fill(context.Background()))
}

// A strip is in the file from its first reading on: a time alone leaves none behind.
func TestStripWithoutReadingIsNotSaved(t *testing.T) {
	trial, err := notebook.Read("few.toml", strings.NewReader(fourSteps))
	require.NoError(t, err)
	file := &kept{path: t.TempDir() + "/none.toml", trial: trial, begun: true, draft: &draft{off: true}}
	e := &enterer{talk: lines(true), file: file, Keying: entry.NewKeying(trial, 1)}
	for range e.Steps() {
		require.NoError(t, e.Skip())
	}
	before := stateOf(e.Keying)
	e.SetMinutes(sensito.Minutes(9))
	assert.NoError(t, e.keep(before), "there is no file that could be written")
	require.NoError(t, e.Fog(0.11))
	assert.Error(t, e.keep(before))
}
