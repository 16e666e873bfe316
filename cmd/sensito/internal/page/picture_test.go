package page_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image/png"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/pictures"
	"sensito/sensito/picture"
	"sensito/sensito/picture/lighttable"
	"sensito/sensito/report"
)

// Where the strip and the tablet of the demonstration's picture lie, in its 460 by 129 pixels, which are shown 720 wide.
const (
	stripAt  = "33.4,34.3:427.2,38.4"
	tabletAt = "32.8,90.4:426.6,94.5"
	shown    = 720 / 460.0
)

// pictured is the address of that picture with all that is asked before it is marked, key and value in turn otherwise.
func pictured(path string, pairs ...string) string {
	v := url.Values{"file": {"larkfield-ashlar.png"}, "into": {"larkfield-ashlar"}, "minutes": {"8:00"}, "tablet": {"tablet"}, "fog": {"step=22"}}
	for i := 0; i < len(pairs); i += 2 {
		if v.Del(pairs[i]); pairs[i+1] != "" {
			v.Add(pairs[i], pairs[i+1])
		}
	}
	return path + "?" + v.Encode()
}

var inFull = []string{"tablet-ends", tabletAt, "ends", stripAt}

// commandAsks answers the command that a page names, as --json has it.
func commandAsks(t testing.TB, body string) (*ask.PictureAnswer, map[string]any) {
	t.Helper()
	words := inTerminal(t, body)
	require.Equal(t, []string{"sensito", "picture"}, words[:2])
	q, f := &ask.Picture{}, pflag.NewFlagSet("", pflag.ContinueOnError)
	q.Register(f)
	require.NoError(t, f.Parse(words[2:]), words)
	a, err := q.Ask(console.New(strings.NewReader(""), io.Discard, io.Discard), f.Args())
	require.NoError(t, err, words)
	if a.Proposed != nil {
		return a, nil
	}
	r, err := a.Report()
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, report.JSON(&b, r))
	var out map[string]any
	require.NoError(t, json.Unmarshal(b.Bytes(), &out))
	return a, out
}

// Every number of the page of a picture is that of --json, by the command that the page names; rows that it proposes are
// those that the command proposes.
func TestPictureAsJSON(t *testing.T) {
	parent := t.TempDir()
	dir := filepath.Join(parent, "it's here")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demo)))
	s := served(t, dir)
	t.Chdir(parent)
	for _, pairs := range [][]string{{"anchor", ""}, {"anchor", "5=1.40, 12=0.66, 21=0.17", "encoding", "linear"}, {"fog", "440,36", "patch", "20"}, {"into", "", "steps", "21", "minutes", ""}} {
		status, body := got(t, s, pictured("/picture", append(pairs, inFull...)...))
		require.Equal(t, http.StatusOK, status, text(body))
		_, j := commandAsks(t, body)
		page := text(body)
		require.Len(t, j["densities"], 21)
		for _, d := range j["densities"].([]any) {
			assert.Contains(t, page, fmt.Sprintf("%.0f %.3f %.3f", number(t, d, "step"), number(t, d, "value"), number(t, d, "sd")), pairs)
		}
		fog := j["base_fog"]
		assert.Contains(t, page, fmt.Sprintf("Base plus fog %.3f ±%.3f", number(t, fog, "value"), number(t, fog, "sd")))
		for _, w := range j["warnings"].([]any) {
			message := w.(map[string]any)["message"].(string)
			assert.Contains(t, strings.ToLower(page), strings.ToLower(message[:min(len(message), 40)]), pairs)
		}
	}
	// Two pictures of the same strip.
	require.NoError(t, os.WriteFile(filepath.Join(dir, "again.png"), []byte(readFile(t, filepath.Join(dir, "larkfield-ashlar.png"))), 0o666))
	status, body := got(t, s, pictured("/picture", inFull...)+"&file=again.png")
	require.Equal(t, http.StatusOK, status, text(body))
	two, _ := commandAsks(t, body)
	assert.Len(t, two.Files, 2)
	assert.Contains(t, body, "n=1")

	// By the calibration that the command keeps.
	require.NoError(t, os.WriteFile(filepath.Join(dir, "bed.toml"), pictures.FormatCalibration(two.Calibration), 0o666))
	status, body, _ = followed(t, muxOf(s), pictured("/picture", append([]string{"tablet", "", "by", "bed"}, inFull...)...))
	require.Equal(t, http.StatusOK, status, text(body))
	assert.Contains(t, body, `<option value="by=bed" selected>the calibration bed`)
	_, j := commandAsks(t, body)
	for _, d := range j["densities"].([]any) {
		assert.Contains(t, text(body), fmt.Sprintf("%.0f %.3f %.3f", number(t, d, "step"), number(t, d, "value"), number(t, d, "sd")))
	}

	// Made even by a picture of the empty table, which is chosen from those of the notebook.
	even := lighttable.Scene{Width: 155.77, Height: 43.68, Glass: 60}.Picture(lighttable.Flatbed(75), 1)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "table.png"), lighttable.PNG(even), 0o666))
	status, body = got(t, s, pictured("/picture", append([]string{"empty", "table.png"}, inFull...)...))
	require.Equal(t, http.StatusOK, status, text(body))
	assert.Contains(t, body, `<option value="table.png" selected>made even by the empty table in table.png`)
	assert.Contains(t, text(body), "Made even by the empty table of table.png.")
	a, j := commandAsks(t, body)
	require.NotNil(t, a.Empty)
	for _, d := range j["densities"].([]any) {
		assert.Contains(t, text(body), fmt.Sprintf("%.0f %.3f %.3f", number(t, d, "step"), number(t, d, "value"), number(t, d, "sd")))
	}
	status, body = got(t, s, pictured("/picture", append([]string{"empty", "again.jpg"}, inFull...)...))
	assert.Equal(t, http.StatusNotFound, status, text(body))

	// Paper beside a tablet of film is refused in the words of the command.
	status, body = got(t, s, pictured("/picture", append([]string{"into", "foxglove", "minutes", ""}, inFull...)...))
	assert.Equal(t, http.StatusBadRequest, status)
	assert.Contains(t, text(body), "Foxglove.toml is a paper, read by light that comes back, which needs a grey scale on paper")

	_, body = got(t, s, pictured("/picture"))
	a, _ = commandAsks(t, body)
	require.Len(t, a.Proposed, 2)
	for _, l := range a.Proposed {
		assert.Contains(t, text(body), fmt.Sprintf("from %s to %s: take it", l.Ends.First, l.Ends.Last))
	}
}

// clicked clicks on the picture of a page, at a place of the picture as it is shown, and returns the address it leads to.
func clicked(t testing.TB, s http.Handler, address string, x, y float64) string {
	t.Helper()
	w := httptest.NewRecorder()
	s.ServeHTTP(w, httptest.NewRequest(http.MethodGet, fmt.Sprintf("%s&at.x=%.0f&at.y=%.0f", address, x, y), nil))
	require.Equal(t, http.StatusSeeOther, w.Code, text(w.Body.String()))
	return w.Header().Get("Location")
}

// Four clicks mark tablet and strip, of each row the first end first, to a pixel of what is shown. A click without a
// place marks nothing; a closer look marks more finely, and a place beside the rows is marked by one click.
func TestPictureClicks(t *testing.T) {
	s := served(t, demoNotebook(t, nil))
	want := map[string]string{"tablet-ends": tabletAt, "ends": stripAt}
	at := pictured("/picture")
	for _, flag := range []string{"tablet-ends", "ends"} {
		e, err := picture.ParseEnds(want[flag])
		require.NoError(t, err)
		for _, p := range []picture.Point{e.First, e.Last} {
			unmarked := clicked(t, s, at, 0, 0)
			status, body := got(t, s, unmarked)
			require.Equal(t, http.StatusOK, status)
			assert.Contains(t, text(body), "That click came without a place.")
			assert.Equal(t, unmarked, clicked(t, s, unmarked, -1, 900), "outside")
			at = clicked(t, s, unmarked, p.X*shown-0.5, p.Y*shown-0.5)
			assert.NotContains(t, at, "missed")
		}
		u, err := url.Parse(at)
		require.NoError(t, err)
		is, err := picture.ParseEnds(u.Query().Get(flag))
		require.NoError(t, err, at)
		for i, p := range []picture.Point{is.First, is.Last} {
			near := []picture.Point{e.First, e.Last}[i]
			assert.InDelta(t, near.X, p.X, 0.5)
			assert.InDelta(t, near.Y, p.Y, 0.5)
		}
	}
	_, body := got(t, s, at)
	assert.Contains(t, text(body), "21 of 21 steps read, densities 0.16 to 1.78.")

	closer := pictured("/picture", "closer", "1", "tablet-ends", tabletAt)
	closer = clicked(t, s, closer, 400*shown, 40*shown)
	assert.Contains(t, closer, "near=400")
	// A cut of 115 pixels, from 342 and 0 on, 720 wide.
	closer = clicked(t, s, closer, (427.2-343)*720/115, 38.4*720/115)
	u, err := url.Parse(closer)
	require.NoError(t, err)
	p, err := picture.ParsePoint(u.Query().Get("first"))
	require.NoError(t, err, closer)
	assert.InDelta(t, 427.2, p.X, 0.6)
	assert.InDelta(t, 38.4, p.Y, 0.6)
	assert.False(t, u.Query().Has("near"))

	fog := clicked(t, s, pictured("/picture", append([]string{"fog", "", "mark", "fog"}, inFull...)...), 440*shown, 36*shown)
	assert.Contains(t, fog, "fog=4")
	assert.NotContains(t, fog, "mark")
	status, body := got(t, s, pictured("/picture", "first", "412,300", "near", "100,30"))
	require.Equal(t, http.StatusOK, status)
	assert.Contains(t, body, "first=412%2C300", "whole pixels are not one number with a comma")
}

// formOf returns the fields of a page's form that is sent to an address that begins so, and that address.
func formOf(t testing.TB, body, begins string) (string, url.Values) {
	t.Helper()
	to, fields := "", url.Values{}
	for _, tag := range tags(t, body) {
		switch {
		case tag.Name.Local == "form":
			to = attribute(tag, "action")
		case tag.Name.Local == "input" && strings.HasPrefix(to, begins) && attribute(tag, "type") == "hidden":
			fields.Set(attribute(tag, "name"), attribute(tag, "value"))
		}
		if tag.Name.Local == "button" && strings.HasPrefix(to, begins) {
			return to, fields
		}
	}
	return "", nil
}

func posted(t testing.TB, s http.Handler, address string, fields url.Values) *httptest.ResponseRecorder {
	t.Helper()
	r := httptest.NewRequest(http.MethodPost, address, strings.NewReader(fields.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

// What a page has read goes into the trial as the command has it, byte by byte, once; what others did to the trial
// meanwhile stays. Nothing goes in where the picture has changed since, or the form is none of this page.
func TestPictureAdded(t *testing.T) {
	dir := demoNotebook(t, nil)
	s := served(t, dir)
	at := pictured("/picture", inFull...)
	path := filepath.Join(dir, "larkfield-ashlar.toml")
	old := readFile(t, path)
	_, body := got(t, s, at)
	require.Equal(t, old, readFile(t, path), "looking writes nothing")
	to, form := formOf(t, body, "/picture/add")
	require.NotEmpty(t, to)

	t.Run("another form", func(t *testing.T) {
		w := posted(t, s, to, url.Values{"read": {"0000"}})
		assert.Equal(t, http.StatusConflict, w.Code)
		assert.Contains(t, text(w.Body.String()), "This was changed elsewhere. The picture, the tablet or the trial is not what the page was made of. This is what is read now: look at it. Nothing was saved.")
	})
	t.Run("another picture", func(t *testing.T) {
		im := lighttable.Beside(lighttable.Even(0.2, 0.07, 21), lighttable.Even(0.05, 0.15, 21)).Picture(lighttable.Flatbed(75), 1)
		was := readFile(t, filepath.Join(dir, "larkfield-ashlar.png"))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "larkfield-ashlar.png"), lighttable.PNG(im), 0o666))
		w := posted(t, s, to, form)
		assert.GreaterOrEqual(t, w.Code, 400)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "larkfield-ashlar.png"), []byte(was), 0o666))
	})
	t.Run("not read yet", func(t *testing.T) {
		assert.Equal(t, http.StatusBadRequest, posted(t, s, pictured("/picture/add"), form).Code)
	})
	require.Equal(t, old, readFile(t, path))

	edited := strings.Replace(old, "\n[", "\n# by hand\n[", 1)
	require.NoError(t, os.WriteFile(path, []byte(edited), 0o666))
	w := posted(t, s, to, form)
	require.Equal(t, http.StatusSeeOther, w.Code, text(w.Body.String()))
	assert.Equal(t, "/t/larkfield-ashlar", w.Header().Get("Location"))

	beside := demoNotebook(t, nil)
	other := filepath.Join(beside, "larkfield-ashlar.toml")
	require.NoError(t, os.WriteFile(other, []byte(edited), 0o666))
	q, f := &ask.Picture{Made: ask.Date()}, pflag.NewFlagSet("", pflag.ContinueOnError)
	q.Register(f)
	for flag, v := range map[string]string{"ends": stripAt, "tablet-ends": tabletAt, "tablet": filepath.Join(beside, "tablet.toml"), "into": other, "minutes": "8:00", "fog": "step=22"} {
		require.NoError(t, ask.Set(f, flag, v))
	}
	a, err := q.Ask(console.New(strings.NewReader(""), io.Discard, io.Discard), []string{filepath.Join(beside, "larkfield-ashlar.png")})
	require.NoError(t, err)
	_, err = ask.AddPicture(other, a)
	require.NoError(t, err)
	assert.Equal(t, readFile(t, other), readFile(t, path))
	trial, err := notebook.ReadFile(path)
	require.NoError(t, err)
	strips := trial.Strips()
	assert.True(t, strings.HasPrefix(strips[len(strips)-1].Picture(), "larkfield-ashlar.png, "))

	added := readFile(t, path)
	assert.Equal(t, http.StatusSeeOther, posted(t, s, to, form).Code, "an answer that was lost can be asked for again")
	assert.Equal(t, added, readFile(t, path))
	_, body = got(t, s, at)
	assert.Contains(t, text(body), "read in the same file, and is left out")
	to, _ = formOf(t, body, "/picture/add")
	assert.Empty(t, to)
}

// Ends that may be off by a step are added once somebody says that they are not.
func TestPictureDoubtful(t *testing.T) {
	dir := demoNotebook(t, nil)
	s := served(t, dir)
	path := filepath.Join(dir, "larkfield-ashlar.toml")
	old := readFile(t, path)
	_, body := got(t, s, pictured("/picture", "fog", "", "tablet-ends", tabletAt, "ends", "52.2,34.5:445.9,38.6")) // a step on
	to, form := formOf(t, body, "/picture/add")
	require.NotEmpty(t, to, text(body))
	require.Contains(t, text(body), "I have looked: each number stands on its step")
	w := posted(t, s, to, form)
	assert.Equal(t, http.StatusConflict, w.Code)
	assert.Contains(t, text(w.Body.String()), "Look at the numbers first.")
	assert.Equal(t, old, readFile(t, path))
	form.Set("looked", "yes")
	assert.Equal(t, http.StatusSeeOther, posted(t, s, to, form).Code)
	assert.NotEqual(t, old, readFile(t, path))
}

// Several strips of one picture are marked in the order of their times, and added together.
func TestPictureOfSeveralStrips(t *testing.T) {
	dir := demoNotebook(t, nil)
	s := served(t, dir)
	scene := lighttable.Several(lighttable.Even(1.5, -0.07, 21), lighttable.Even(1.9, -0.09, 21), lighttable.Even(0.05, 0.15, 21))
	scene.Masked = true
	require.NoError(t, os.WriteFile(filepath.Join(dir, "several.png"), lighttable.PNG(scene.Picture(lighttable.Flatbed(75), 3)), 0o666))
	v := url.Values{"file": {"several.png"}, "into": {"larkfield-ashlar"}, "minutes": {"6:10,  12:40"}, "known": {"tablet=tablet"}}
	_, _, at := followed(t, muxOf(s), "/picture?"+v.Encode())
	for i, c := range []struct {
		flag    string
		row     int
		heading string
	}{{"tablet-ends", 2, "the tablet"}, {"ends", 0, "strip 1, 6:10"}, {"ends", 1, "strip 2, 12:40"}} {
		status, body := got(t, s, at)
		require.Equal(t, http.StatusOK, status)
		assert.Contains(t, text(body), "The first end of "+c.heading)
		assert.Equal(t, 3-i, strings.Count(text(body), "take it from its other end"), "rows that are not marked yet")
		at += "&" + url.Values{c.flag: {scene.Ends(c.row, 75).String()}}.Encode()
	}
	_, body := got(t, s, at)
	to, form := formOf(t, body, "/picture/add")
	require.NotEmpty(t, to, text(body))
	assert.Contains(t, text(body), "Strip 2, 12:40")
	require.Equal(t, http.StatusSeeOther, posted(t, s, to, form).Code)
	trial, err := notebook.ReadFile(filepath.Join(dir, "larkfield-ashlar.toml"))
	require.NoError(t, err)
	for _, strip := range trial.Strips() {
		switch strip.Minutes().Clock(1) {
		case "6:10":
			assert.InDelta(t, 1.5-4*0.07, float64(strip.Spec().Density[4]), 0.03) // not beside clear film
		case "12:40":
			assert.InDelta(t, 1.9-4*0.09, float64(strip.Spec().Density[4]), 0.03)
			assert.NotEmpty(t, strip.Picture())
		}
	}
	require.Contains(t, readFile(t, filepath.Join(dir, "larkfield-ashlar.toml")), "12:40")
}

// Under red the files of the pictures hold no green and no blue.
func TestPictureInRed(t *testing.T) {
	s := served(t, demoNotebook(t, nil))
	for _, address := range []string{pictured("/picture/seen.png", "first", "30,30"), pictured("/picture/found.png"), pictured("/picture/found.png", inFull...)} {
		for _, look := range []string{"", "red"} {
			r := httptest.NewRequest(http.MethodGet, address, nil)
			if look != "" {
				r.AddCookie(&http.Cookie{Name: "look", Value: look})
			}
			w := httptest.NewRecorder()
			s.ServeHTTP(w, r)
			require.Equal(t, http.StatusOK, w.Code, address)
			require.Equal(t, "image/png", w.Header().Get("Content-Type"))
			img, err := png.Decode(w.Body)
			require.NoError(t, err)
			assert.LessOrEqual(t, img.Bounds().Dx(), 1600)
			var most [3]uint32
			for y := range img.Bounds().Dy() {
				for x := range img.Bounds().Dx() {
					r, g, b, _ := img.At(x, y).RGBA()
					most = [3]uint32{max(most[0], r), max(most[1], g), max(most[2], b)}
				}
			}
			assert.Greater(t, most[0], uint32(0xf000), address)
			if look == "red" {
				assert.Zero(t, most[1]+most[2], address)
			} else {
				assert.Equal(t, [3]uint32{most[0], most[0], most[0]}, most, "grey")
			}
		}
	}
}

// Pictures are those of the folder alone: no path, no link that leaves it, nothing hidden, and no drawing of a picture.
// What is said to be one and is none is refused in words.
func TestPictureOfTheNotebookOnly(t *testing.T) {
	outer := demoNotebook(t, nil)
	dir := filepath.Join(outer, "inner")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demo)))
	require.NoError(t, os.Symlink(filepath.Join(outer, "larkfield-ashlar.png"), filepath.Join(dir, "link.png")))
	for name, data := range map[string]string{".hidden.png": readDemo(t, "larkfield-ashlar.png"), "torn.png": readDemo(t, "larkfield-ashlar.png")[:3000],
		"huge.tif": "II*\x00\xff\xff\xff\xff", "drawn.png": "\x89PNG\r\n\x1a\n....tEXtSoftware\x00sensito picture"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(data), 0o666))
	}
	s := served(t, dir)
	_, body := got(t, s, "/picture")
	assert.Contains(t, body, ">larkfield-ashlar.png</a>")
	for _, name := range []string{"link.png", ".hidden.png", "drawn.png", "../larkfield-ashlar.png", "..\\larkfield-ashlar.png", filepath.Join(outer, "larkfield-ashlar.png"), "tablet.toml", "inner/larkfield-ashlar.png", "."} {
		assert.NotContains(t, body, ">"+name+"</a>")
		for _, path := range []string{"/picture", "/picture/seen.png", "/picture/found.png"} {
			status, _ := got(t, s, path+"?"+url.Values{"file": {name}}.Encode())
			assert.Equal(t, http.StatusNotFound, status, path+" "+name)
		}
	}
	for _, name := range []string{"torn.png", "huge.tif"} {
		status, body := got(t, s, "/picture?file="+name)
		assert.Equal(t, http.StatusUnprocessableEntity, status, name)
		assert.Contains(t, text(body), "This picture is not read.", name)
		assert.NotContains(t, body, outer)
	}
}

// Whatever the query holds is refused or shown as text. Of keys and values every third pair is tried, and each
// key with a control character; of a picture that is marked every twelfth pair.
func TestPictureHostile(t *testing.T) {
	s := muxOf(served(t, demoNotebook(t, nil)))
	f := pflag.NewFlagSet("", pflag.ContinueOnError)
	(&ask.Picture{}).Register(f)
	keys := []string{"mark", "first", "near", "closer", "missed", "known", "n", "at.x", "at.y", "file", `<b>"key`}
	f.VisitAll(func(f *pflag.Flag) { keys = append(keys, f.Name) })
	values := append(hostile, "-1", "1e400", "NaN", "\x00", "\xff\xfe", strings.Repeat("9", 2000), "0,0:0,0", "1e9,1e9:-1,2", `"><img src=x onerror=alert(1)>`)
	for i, key := range keys {
		for j, v := range values {
			for n, of := range [][]string{{key, v}, append([]string{key, v}, inFull...)} {
				tried := (i+j)%(3+9*n) == 0 || v == "\x00" && n == 0
				if !tried || n > 0 && (key == "ends" || key == "tablet-ends") {
					continue
				}
				address := pictured("/picture", of...)
				status, body, _ := followed(t, s, address)
				require.Less(t, status, 500, address)
				assert.Empty(t, faults(t, body), address)
				for _, forbidden := range []string{"<script>", "<img src=x", `<b>"key`} {
					assert.NotContains(t, body, forbidden, address)
				}
			}
		}
	}
}
