package page_test

import (
	"bufio"
	"fmt"
	"html"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sensito/cmd/sensito/internal/page"
	"sensito/cmd/sensito/internal/page/pagetest"
	"sensito/sensito"
	"sensito/sensito/notebook"
)

// A desk is a notebook that is served, with one of its trials.
type desk struct {
	*pagetest.Client
	t    *testing.T
	dir  string
	path string // of the trial
	at   string // its address
}

func serve(t *testing.T, trial string) *desk {
	dir := t.TempDir()
	text, err := os.ReadFile(filepath.Join("../../demo", trial+".toml"))
	require.NoError(t, err)
	path := filepath.Join(dir, trial+".toml")
	require.NoError(t, os.WriteFile(path, text, 0o600))
	h, err := page.New(dir, pagetest.Open{})
	require.NoError(t, err)
	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	return &desk{&pagetest.Client{Base: server.URL}, t, dir, path, "/t/" + trial}
}

func (d *desk) get(address string) *pagetest.Page {
	d.t.Helper()
	p, err := d.Get(address)
	require.NoError(d.t, err)
	require.Equal(d.t, http.StatusOK, p.Status, p.Words())
	return p
}

// send fills in the form of a page that is sent to an address with the ending.
func (d *desk) send(p *pagetest.Page, ending string, fields ...string) *pagetest.Page {
	d.t.Helper()
	f, ok := p.Form(ending)
	require.True(d.t, ok, "a form to %s in %s", ending, p.Address)
	out, err := d.Submit(f, fields...)
	require.NoError(d.t, err)
	return out
}

// key sends the form of a step as it stands on the page.
func (d *desk) key(p *pagetest.Page, do, text string) *pagetest.Page {
	d.t.Helper()
	path, _, _ := strings.Cut(p.Address, "?")
	return d.send(p, path, "do", do, "density", text)
}

func (d *desk) strip(number int) sensito.StripSpec {
	d.t.Helper()
	trial, err := notebook.ReadFile(d.path)
	require.NoError(d.t, err)
	require.GreaterOrEqual(d.t, len(trial.Strips()), number)
	return trial.Strips()[number-1].Spec()
}

func (d *desk) bytes() string {
	text, err := os.ReadFile(d.path)
	require.NoError(d.t, err)
	return string(text)
}

// begin begins a strip and returns the page of its first step.
func (d *desk) begin(fields ...string) *pagetest.Page {
	d.t.Helper()
	p := d.send(d.get(d.at+"/strips/new"), "/strips/new", fields...)
	require.Equal(d.t, http.StatusOK, p.Status, p.Words())
	return p
}

const filmTrial = "larkfield-brinewater"

// Keying in goes from step to step: readings in all their spellings, one that is far off
// and read again, one left out, one read once more, and a step back.
func TestKeyingIn(t *testing.T) {
	d := serve(t, filmTrial)
	p := d.begin("minutes", "8:00", "base_fog", "0.11 12", "developed", "2026-03-05", "temperature_c", "20,5", "note", "second try")
	require.Equal(t, d.at+"/strips/6/1", p.Address)
	assert.NotContains(t, p.Words(), "expected, give", "nothing is expected before a reading")
	p = d.key(p, "save", "")
	require.Equal(t, d.at+"/strips/6/1", p.Address, "nothing was keyed in")
	p = d.key(p, "save", "201")
	require.Equal(t, d.at+"/strips/6/2?after=1", p.Address)
	assert.Regexp(t, `Step 1: 2\.01\. \d\.\d\d was expected, give or take 0\.\d\d\.`, p.Words())
	assert.Regexp(t, `Saved \d\d:\d\d:\d\d`, p.Words())
	p = d.key(p, "save", "1,89")
	p = d.key(p, "save", "2.78") // a slip
	require.Equal(t, d.at+"/strips/6/3?typed=2.78", p.Address)
	assert.Regexp(t, `2\.78 is \d\.\d\d above the curve\. Read the step again and key in what you find; the same again keeps it\. Keep 2\.78 Leave the step out`, p.Words())
	assert.Regexp(t, `3 2\.78\? 1\.\d\d`, p.Words())
	assert.Len(t, p.Address, len(d.at+"/strips/6/3?typed=2.78"))
	assert.NotContains(t, d.bytes(), "2.78")
	p = d.key(p, "save", "")
	assert.Contains(t, p.Words(), "2.78 is", "the question stays")
	p = d.key(p, "save", "1.78")
	require.Equal(t, d.at+"/strips/6/4?after=3", p.Address)
	p = d.key(p, "again", "1.77")
	require.Equal(t, d.at+"/strips/6/4?after=3", p.Address)
	assert.Contains(t, p.Words(), "Step 3: 1.78 and 1.77, mean 1.775.")
	p = d.key(p, "again", "1.30")
	assert.Contains(t, p.Words(), "Step 3: it was read as 1.78 and 1.77 before; 1.30 is too far from it")
	p = d.key(p, "skip", "")
	require.Equal(t, d.at+"/strips/6/5?after=4", p.Address)
	assert.Contains(t, p.Words(), "Step 4 is left out.")
	p = d.key(p, "back", "")
	require.Equal(t, d.at+"/strips/6/4", p.Address)
	p = d.key(p, "save", "167")
	p = d.key(p, "back", "")
	assert.Contains(t, p.Words(), "Step 4 has 1.67. Key in another reading, or keep it.")
	p = d.key(p, "keep", "")
	require.Equal(t, d.at+"/strips/6/5?after=4", p.Address)
	p = d.key(p, "save", "abc")
	assert.Contains(t, p.Words(), `"abc" is not a reading, like 1.13`)
	s := d.strip(6)
	assert.Equal(t, 5, s.NextStep)
	assert.Equal(t, []sensito.Density{1.78, 1.77}, s.Repeats[3])
	assert.Equal(t, sensito.Density(1.67), s.Density[3])
	assert.Equal(t, []sensito.Density{0.11, 0.12}, s.BaseFog)
	assert.Equal(t, [3]any{"2026-03-05", "second try", 20.5}, [3]any{s.Date, s.Note, s.Process.TemperatureC})
}

// What is questioned can be kept: by its button, by the same once more, and by one within
// 0.02 of it, which keeps both.
func TestKeyingQuestioned(t *testing.T) {
	for _, c := range []struct {
		do, text string
		want     []sensito.Density
	}{
		{"keep", "", []sensito.Density{1.30}}, {"save", "1.30", []sensito.Density{1.30}}, {"save", "1.28", []sensito.Density{1.30, 1.28}},
		{"save", "1.09", []sensito.Density{1.09}}, {"skip", "", nil},
	} {
		d := serve(t, filmTrial)
		was := d.strip(4)
		p := d.key(d.get(d.at+"/strips/4/9"), "save", "1.30")
		require.Contains(t, p.Words(), "1.30 is 0.22 above the curve.")
		p = d.key(p, c.do, c.text)
		require.Equal(t, d.at+"/strips/4?after=9", p.Address, "a strip that was complete stays so")
		is := d.strip(4)
		switch {
		case len(c.want) > 1:
			assert.Equal(t, c.want, is.Repeats[9])
		case len(c.want) == 1:
			assert.Equal(t, c.want[0], is.Density[8])
		default:
			assert.NotEqual(t, is.Density[8], is.Density[8], "is NaN")
		}
		is.Density[8], is.Repeats = was.Density[8], was.Repeats
		assert.Equal(t, was, is, "all the rest")
	}
}

// Two pages that key in different steps of one strip are joined, whatever the number of
// the strip has become; where both change one, the later one is asked, and what is marked
// is saved.
func TestKeyingConflict(t *testing.T) {
	d := serve(t, filmTrial)
	one, two, three := d.get(d.at+"/strips/4/9"), d.get(d.at+"/strips/4/14"), d.get(d.at+"/strips/4/9")
	gone := d.get(d.at + "/strips/1/delete")
	require.Equal(t, http.StatusOK, d.key(one, "save", "1.08").Status)
	p := d.send(gone, "/delete")
	assert.Equal(t, d.at, p.Address)
	p = d.key(two, "save", "0.54")
	require.Equal(t, d.at+"/strips/3?after=14", p.Address, "the strip is found by what it was")
	p = d.key(three, "save", "1.09")
	require.Equal(t, http.StatusConflict, p.Status)
	assert.Contains(t, p.Words(), "This strip was changed elsewhere")
	assert.Regexp(t, `step 9 1\.18 1\.08 1\.09`, p.Words())
	assert.NotContains(t, p.Words(), "step 14")
	kept := d.send(p, "/strips/3") // the file's, as marked
	assert.Equal(t, d.at+"/strips/3", kept.Address)
	s := d.strip(3)
	assert.Equal(t, []sensito.Density{1.08, 0.54}, []sensito.Density{s.Density[8], s.Density[13]})
	d.send(p, "/strips/3", "take-s9", "mine")
	assert.Equal(t, sensito.Density(1.09), d.strip(3).Density[8])

	// An answer that was lost is asked for again, and changes nothing more.
	text := d.bytes()
	p = d.key(two, "save", "0.54")
	assert.Equal(t, http.StatusOK, p.Status)
	assert.Equal(t, text, d.bytes())

	old := d.get(d.at + "/strips/3/1")
	trial, err := notebook.ReadFile(d.path)
	require.NoError(t, err)
	out, err := notebook.RemoveStrip([]byte(text), 3)
	require.NoError(t, err)
	require.Len(t, trial.Strips(), 4)
	require.NoError(t, os.WriteFile(d.path, out, 0o600))
	p = d.key(old, "save", "2.02")
	require.Equal(t, http.StatusConflict, p.Status)
	assert.Contains(t, p.Words(), "The strip is not in the file as it was shown")
	assert.Contains(t, p.Words(), "2.02", "nothing is lost")
	assert.Equal(t, string(out), d.bytes())
}

// The fields of a strip are saved together, or none of them; what is wrong stands in the
// summary and at its field, and all that was typed is kept.
func TestKeyingStripFields(t *testing.T) {
	d := serve(t, filmTrial)
	before := d.bytes()
	p := d.send(d.get(d.at+"/strips/4/9"), "/strips/4", "minutes", "eight", "note", "kept")
	require.Equal(t, http.StatusUnprocessableEntity, p.Status)
	assert.Contains(t, p.Words(), "Nothing was saved, and nothing is lost.")
	assert.Contains(t, p.Text, `value="eight"`)
	assert.Contains(t, p.Text, `value="kept"`)
	assert.Contains(t, p.Text, `aria-invalid="true" aria-describedby="h-minutes"`)
	assert.Equal(t, before, d.bytes())
	p = d.send(p, "/strips/4", "minutes", "8:10")
	require.Equal(t, d.at+"/strips/4", p.Address)
	s := d.strip(4)
	assert.InDelta(t, 8+10.0/60, float64(s.Minutes), 1e-9)
	assert.Equal(t, "kept", s.Note)

	p = d.send(p, "/undo", "back", d.at+"/strips/4")
	assert.Equal(t, before, d.bytes())
	stale, _ := p.Form("/undo")
	d.send(p, "/strips/4", "note", "by another")
	after := d.bytes()
	p, err := d.Submit(stale)
	require.NoError(t, err)
	assert.Equal(t, http.StatusConflict, p.Status)
	assert.Equal(t, after, d.bytes(), "what another saved is not undone")
}

// A trial that was read in EV is keyed in as the meter shows it.
func TestKeyingInEV(t *testing.T) {
	d := serve(t, "larkfield-meter")
	trial, err := notebook.ReadFile(d.path)
	require.NoError(t, err)
	require.Equal(t, sensito.UnitEV, trial.Reading().Unit)
	was := d.strip(2)
	read := func(v sensito.Density) string { return strings.Replace(fmt.Sprintf("%g", float64(v)), ".", ",", 1) }
	p := d.begin("minutes", was.Minutes.Clock(1), "base_fog", read(was.BaseFog[0]), "note", "read anew")
	number := len(trial.Strips()) + 1
	for i, v := range was.Density {
		if p = d.key(p, "save", read(v)); strings.Contains(p.Address, "typed=") {
			p = d.key(p, "keep", "")
		}
		require.Contains(t, p.Address, fmt.Sprintf("after=%d", i+1), p.Words())
		assert.Regexp(t, `Step \d+: [\d.]+ EV\. [\d.]+ EV was expected, give or take [\d.]+ EV\.`, p.Words())
	}
	assert.Contains(t, p.Words(), "All 21 steps are done")
	is := d.strip(number)
	assert.Equal(t, was.Density, is.Density)
	assert.Zero(t, is.NextStep)
	p = d.key(d.get(fmt.Sprintf("%s/strips/%d/3", d.at, number)), "save", "9 2/3")
	assert.NotContains(t, p.Words(), "is not a reading")
}

// The first strip of a trial has no expectation before step 5, and says so.
func TestKeyingFirstStrip(t *testing.T) {
	d := serve(t, filmTrial)
	head, _, _ := strings.Cut(d.bytes(), "[[strip]]")
	require.NoError(t, os.WriteFile(d.path, []byte(head+"[[strip]]\nminutes = 5\nnext_step = 1\ndensity = ["+strings.Repeat("nan, ", 21)+"]\n"), 0o600))
	p := d.get(d.at + "/strips/1/1")
	for i, text := range []string{"1.46", "1.37", "1.31", "1.22", "1.13"} {
		assert.Contains(t, p.Words(), fmt.Sprintf("Step %d of 21", i+1))
		assert.Equal(t, i < 4, strings.Contains(p.Words(), "The first strip has no expectation before step 5."), "step %d", i+1)
		assert.Equal(t, i >= 4, strings.Contains(p.Words(), "was expected"), "step %d: %s", i+1, p.Words())
		p = d.key(p, "save", text)
	}
	assert.Contains(t, p.Words(), "was expected")
}

// Two clients that key in steps of one strip at once lose nothing.
func TestKeyingTogether(t *testing.T) {
	d := serve(t, filmTrial)
	pages := []*pagetest.Page{}
	for step := 1; step <= 21; step++ {
		pages = append(pages, d.get(fmt.Sprintf("%s/strips/3/%d", d.at, step)))
	}
	var both sync.WaitGroup
	for client := range 2 {
		both.Go(func() {
			for i := client; i < len(pages); i += 2 {
				path, _, _ := strings.Cut(pages[i].Address, "?")
				f, ok := pages[i].Form(path)
				if !assert.True(t, ok) {
					return
				}
				answer, err := d.Submit(f, "do", "keep", "asked", fmt.Sprintf("%.2f", 1.73-float64(i)*0.07))
				if assert.NoError(t, err) {
					assert.Equal(t, http.StatusOK, answer.Status, answer.Words())
				}
			}
		})
	}
	both.Wait()
	for i, v := range d.strip(3).Density {
		assert.InDelta(t, 1.73-float64(i)*0.07, float64(v), 0.005, "step %d", i+1)
	}
}

// A page hears that its file was saved, by whomever.
func TestKeyingEvents(t *testing.T) {
	d := serve(t, filmTrial)
	r, err := http.Get(d.Base + "/events?file=" + filmTrial)
	require.NoError(t, err)
	defer r.Body.Close()
	lines := make(chan string, 10)
	go func() {
		in := bufio.NewScanner(r.Body)
		for in.Scan() {
			if text, ok := strings.CutPrefix(in.Text(), "data: "); ok {
				lines <- text
			}
		}
	}()
	next := func() string {
		select {
		case text := <-lines:
			return text
		case <-time.After(20 * time.Second):
			require.Fail(t, "no event came")
			return ""
		}
	}
	is := func() string {
		f, _ := d.get(d.at + "/strips/4/1").Form("/1")
		return f.Fields.Get("file")
	}
	require.Equal(t, is(), next())
	require.NoError(t, os.WriteFile(d.path, []byte(d.bytes()+"# by an editor\n"), 0o600))
	assert.Equal(t, is(), next())
}

// So it does of a file whose name has what a query takes for something else: the page has the
// name as it stands behind "/events?file=".
func TestKeyingEventsOfAnyName(t *testing.T) {
	d := serve(t, filmTrial)
	for _, name := range []string{"1+19 & 20 °C; 100%=all #2", "a b+c", filmTrial} {
		require.NoError(t, os.WriteFile(filepath.Join(d.dir, name+".toml"), []byte(d.bytes()), 0o600))
		p := d.get("/t/" + url.PathEscape(name) + "/strips/4/1")
		said := regexp.MustCompile(`data-file="([^"]*)"`).FindStringSubmatch(p.Text)
		require.Len(t, said, 2)
		r, err := http.Get(d.Base + "/events?file=" + html.UnescapeString(said[1]))
		require.NoError(t, err)
		assert.Equal(t, http.StatusOK, r.StatusCode, name)
		f, _ := p.Form("/1")
		in := bufio.NewReader(r.Body)
		_, _ = in.ReadString('\n') // its kind
		is, err := in.ReadString('\n')
		assert.NoError(t, err)
		assert.Equal(t, "data: "+f.Fields.Get("file")+"\n", is, name)
		r.Body.Close()
	}
}

// No form breaks the file, whatever it carries, and no answer is a fault of the program.
func TestKeyingAnyForm(t *testing.T) {
	d := serve(t, filmTrial)
	good, _ := d.get(d.at + "/strips/4/9").Form("/9")
	text := rapid.OneOf(rapid.String(), rapid.StringMatching(`[-+]?[0-9]{0,4}[.,/ ]?[0-9]{0,3}`), rapid.SampledFrom([]string{"", "1.18", "8:00", "nan", "Inf", "1e99",
		`{"s9":"1.18"}`, `{"s9":"1 1 1 1"}`, "null", "{}", "[]", "2026-13-40", "a\x00b", "\"\"\"", "]]\n[[strip]]"}))
	rapid.Check(t, func(t *rapid.T) {
		fields := []string{}
		for _, name := range rapid.SliceOfN(rapid.SampledFrom([]string{"file", "strip", "old", "do", "density", "asked", "marked", "take-s9", "s9", "s1", "s22", "minutes",
			"grade", "base_fog", "developed", "temperature_c", "note", "step"}), 0, 6).Draw(t, "names") {
			fields = append(fields, name, text.Draw(t, name))
		}
		fields = append(fields, "do", rapid.SampledFrom([]string{"save", "again", "skip", "keep", "back", "other"}).Draw(t, "do"))
		f := good
		f.Action = d.at + rapid.SampledFrom([]string{"/strips/4/9", "/strips/4", "/strips/new", "/strips/4/delete", "/undo", "/strips/9/1", "/strips/4/99"}).Draw(t, "action")
		p, err := d.Submit(f, fields...)
		if err != nil || p.Status >= 500 {
			t.Fatalf("%v %+v", err, p)
		}
		trial, err := notebook.ReadFile(d.path)
		if err != nil {
			t.Fatalf("the file is broken: %v", err)
		}
		if len(trial.Strips()) < 4 || rand.IntN(20) == 0 { // of what was deleted there is enough
			fresh, _ := os.ReadFile("../../demo/" + filmTrial + ".toml")
			if err := os.WriteFile(d.path, fresh, 0o600); err != nil {
				t.Fatal(err)
			}
		}
	})
}
