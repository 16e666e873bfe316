package notebook

import (
	"bytes"
	"encoding/csv"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/camera"
	"sensito/sensito/notebook/notebooktest"
	"sensito/sensito/scene"
)

func readRoll(t require.TestingT, file string) []scene.Frame {
	frames, err := ReadRoll("r.csv", strings.NewReader(file))
	require.NoError(t, err)
	return frames
}

func TestReadRoll(t *testing.T) {
	spots := &camera.Metering{Shadow: camera.SpotReading{EV: 8, Zone: 3}, Highlight: camera.SpotReading{EV: 12.5, Zone: 8}}
	want := []scene.Frame{
		{Name: "Lamp room", Stops: 9},
		{Name: "Harbour, fog", Stops: 5.5},
		{Name: "Gallery", Stops: 6.5, Metering: spots},
	}
	for name, file := range map[string]string{
		"comma":           "name,range_stops,shadow,highlight\nLamp room,9,,\n\"Harbour, fog\",5.5,,\nGallery,,8@III,12.5@VIII\n",
		"semicolon":       "name;range_stops;shadow;highlight\nLamp room;9;;\nHarbour, fog;5,5;;\nGallery;;8@III;12,5@VIII\n",
		"tab":             "name\trange_stops\tshadow\thighlight\nLamp room\t9\nHarbour, fog\t5.5\nGallery\t\t8@3\t12.5@8\n",
		"byte order mark": "\ufeffname,range_stops,shadow,highlight\r\nLamp room,9,,\r\n\"Harbour, fog\",5.5,,\r\nGallery,,8@III,12.5@VIII\r\n",
		"capitals":        "Name;Range_Stops;SHADOW;Highlight\r\nLamp room;9;;\r\nHarbour, fog;5,5;;\r\nGallery;;8@III;12,5@VIII\r\n",
		"other order":     "shadow,highlight,range_stops,name\n,,9,Lamp room\n,,5.5,\"Harbour, fog\"\n8@III,12.5@VIII,,Gallery",
		"blanks":          "\n name , range_stops , shadow , highlight ,\n\nLamp room, 9,,,\n,,,,\n\"Harbour, fog\",5.5,,,\n Gallery ,, 8@III , 12.5@VIII,\n\n",
	} {
		assert.Equal(t, want, readRoll(t, file), name)
	}
	assert.Equal(t, want[:1], readRoll(t, "name,range_stops\nLamp room,9\n"))
	assert.Equal(t, want[2:], readRoll(t, "name,shadow,highlight\nGallery,8@III,12.5@VIII\n"))

	path := filepath.Join(t.TempDir(), "roll.csv")
	require.NoError(t, os.WriteFile(path, []byte("name,range_stops\nLamp room,9\n"), 0o600))
	frames, err := ReadRollFile(path)
	require.NoError(t, err)
	assert.Equal(t, want[:1], frames)
	_, err = ReadRollFile(path + "x")
	assert.ErrorIs(t, err, os.ErrNotExist)
	_, err = ReadRoll("r.csv", failing{})
	assert.EqualError(t, err, "r.csv: torn")
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errors.New("torn") }

// badRolls are files and every line of the error they must give, each less the
// name of the file.
var badRolls = []badCase{
	{"empty", "", []string{"1: is empty; the first line names the columns: name, and range_stops or shadow and highlight"}},
	{"a trial", notebooktest.Good, []string{"1: is a trial of film (for sensito curve, family, scene or card), and a roll of scenes was wanted"}},
	{"a table of readings", "step,density\n1,1.1\n", []string{"1: is a table of readings (for sensito import), and a roll of scenes was wanted"}},
	{"header alone", "name,range_stops\n", []string{"1: has no scene"}},
	{"blank rows alone", "name,range_stops\n,\n", []string{"1: has no scene"}},
	{"no header", "Lamp room,9\n", []string{
		"1: Lamp room: unknown column; the columns are name, range_stops, shadow, highlight",
		"1: 9: unknown column; the columns are name, range_stops, shadow, highlight"}},
	{"misspelt column", "name,range_stop\nLamp,9\n", []string{`1: range_stop: unknown column; did you mean "range_stops"?`}},
	{"no name column", "range_stops\n9\n", []string{"1: name: is missing from the columns"}},
	{"no range column", "name\nLamp\n", []string{"1: needs a column range_stops, or shadow and highlight"}},
	{"shadow alone", "name,range_stops,shadow\nLamp,9,\n", []string{"1: shadow and highlight go together"}},
	{"column twice", "name,name,range_stops\nLamp,Lamp,9\n", []string{"1: name: is there twice"}},
	{"column without name", "name,range_stops,\nLamp,9,x\n", []string{`2: "x" stands in a column without a name`}},
	{"no name", "name,range_stops\n,9\n", []string{"2: name: is missing"}},
	{"name twice", "name,range_stops\nLamp,9\n\nLamp,7\n", []string{`4: name: "Lamp" is the name of line 2 too`}},
	{"long name", "name,range_stops\n" + strings.Repeat("x", 61) + ",9\n", []string{`2: name: "` + strings.Repeat("x", 61) + `" is longer than 60 characters`}},
	{"name of two lines", "name,range_stops\n\"La\nmp\",9\n", []string{`2: name: "La\nmp" has more than one line`}},
	{"no range", "name,range_stops\nLamp,\n", []string{"2: has neither range_stops nor shadow and highlight"}},
	{"range in words", "name,range_stops\nLamp,wide\n", []string{`2: range_stops: "wide" is not a number of stops`}},
	{"range too short", "name,range_stops\nLamp,0.5\n", []string{"2: range_stops: 0.5 stops is outside 1 to 20"}},
	{"range too long", "name,range_stops\nLamp,21\n", []string{"2: range_stops: 21 stops is outside 1 to 20"}},
	{"range not a number", "name,range_stops\nLamp,nan\n", []string{"2: range_stops: nan stops is outside 1 to 20"}},
	{"range and readings", "name,range_stops,shadow,highlight\nLamp,9,8@III,13@VIII\n", []string{
		"2: range_stops: does not go with spot readings: give the range or the readings"}},
	{"shadow missing", "name,shadow,highlight\nLamp,,13@VIII\n", []string{"2: shadow: is missing beside highlight"}},
	{"highlight missing", "name,shadow,highlight\nLamp,8@III,\n", []string{"2: highlight: is missing beside shadow"}},
	{"readings in words", "name,shadow,highlight\nLamp,dark,13@XII\n", []string{
		`2: shadow: "dark" is not a meter reading on a zone, like 8@III or 10 1/3@VIII`,
		`2: highlight: "13@XII": "XII" is not a zone from 0 to X, like III, III.5 or 3`}},
	{"readings the wrong way", "name,shadow,highlight\nLamp,13@III,8@VIII\n", []string{
		"2: the highlight at EV 8 reads no brighter than the shadow at EV 13"}},
	{"readings too far", "name,shadow,highlight\nLamp,-5@III,20@VIII\n", []string{
		"2: the highlight falls on zone 28 and is wanted on VIII, N-20: a scene range of 27 stops is outside 1 to 20"}},
	{"comma not in quotes", "name,range_stops\nHarbour, fog,9\n", []string{
		"2: has 3 fields for 2 columns; a field that holds the separator goes in quotes"}},
	{"open quote", "name,range_stops\nLamp,9\n\"Harbour,7\nGallery,8\n", []string{`3: extraneous or missing " in quoted-field`}},
	{"not UTF-8", "name,range_stops\nL\xe4mp,9\n", []string{"2: is not text in UTF-8"}},
	{"all at once", "name,range_stops\n,30\nLamp,\nDoor,7\nDoor,x\n", []string{
		"2: name: is missing", "2: range_stops: 30 stops is outside 1 to 20",
		"3: has neither range_stops nor shadow and highlight",
		`5: name: "Door" is the name of line 4 too`, `5: range_stops: "x" is not a number of stops`}},
}

func TestBadRolls(t *testing.T) {
	require.GreaterOrEqual(t, len(badRolls), 31)
	for _, c := range badRolls {
		t.Run(c.name, func(t *testing.T) {
			frames, err := ReadRoll("r.csv", strings.NewReader(c.file))
			assert.Nil(t, frames)
			var list Errors
			require.ErrorAs(t, err, &list)
			var got []string
			for _, e := range list {
				got = append(got, strings.TrimPrefix(e.Error(), "r.csv:"))
			}
			assert.Equal(t, c.want, got)
		})
	}
	var many strings.Builder
	many.WriteString("name,range_stops\n")
	for i := range 501 {
		many.WriteString(strconv.Itoa(i) + ",7\n")
	}
	_, err := ReadRoll("r.csv", strings.NewReader(many.String()))
	assert.EqualError(t, err, "r.csv:502: brings the roll to more than 500 scenes")
	_, err = ReadRoll("r.csv", &notebooktest.Endless{})
	assert.EqualError(t, err, "r.csv:1: the file is larger than 16 MiB")
}

// written returns a roll in its canonical form.
func written(t require.TestingT, frames []scene.Frame) string {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	require.NoError(t, w.Write(rollColumns))
	for _, f := range frames {
		row := []string{f.Name, strconv.FormatFloat(f.Stops, 'g', -1, 64), "", ""}
		if m := f.Metering; m != nil {
			row = []string{f.Name, "", m.Shadow.String(), m.Highlight.String()}
		}
		require.NoError(t, w.Write(row))
	}
	w.Flush()
	require.NoError(t, w.Error())
	return out.String()
}

// FuzzReadRoll: an error has a line and no scenes; what is read is read again
// the same from its canonical form; nothing panics.
func FuzzReadRoll(f *testing.F) {
	for _, c := range badRolls {
		f.Add(c.file)
	}
	f.Add("name,range_stops,shadow,highlight\nLamp room,9,,\n\"Harbour, fog\",5.5,,\nGallery,,8@III,12 1/3@VIII.5\n")
	f.Add("name;range_stops\r\nLamp room;7,5\r\n")
	f.Add("name,range_stops\n\"[film]\",7\nfilm.jpg,9\n")
	f.Add("name\tshadow\thighlight\n\"a \"\"b\"\" c\"\t-1.33@0\t10@X\n")
	f.Fuzz(func(t *testing.T, file string) {
		frames, err := ReadRoll("r.csv", strings.NewReader(file))
		if err != nil {
			require.Nil(t, frames)
			requireLocated(t, err, file)
			return
		}
		require.NotEmpty(t, frames)
		require.Equal(t, frames, readRoll(t, written(t, frames)))
	})
}
