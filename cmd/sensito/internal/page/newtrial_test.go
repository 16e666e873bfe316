package page_test

import (
	"fmt"
	"html"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/page/pagetest"
	"sensito/sensito"
	"sensito/sensito/notebook"
)

// A new trial is begun by six facts, which its address keeps, and is written with its first
// strip under a name that is free; until all of it is understood, all that was typed stays.
func TestNewTrial(t *testing.T) {
	d := serve(t, filmTrial)
	files := func() int {
		names, err := os.ReadDir(d.dir)
		require.NoError(t, err)
		return len(names)
	}
	before := files()
	p := d.get("/new")
	var fields []string
	for _, name := range regexp.MustCompile(`<input[^>]* name="([^"]+)"`).FindAllStringSubmatch(p.Text[:strings.Index(p.Text, "</main>")], -1) {
		fields = append(fields, name[1])
	}
	assert.Equal(t, []string{"film", "developer", "temperature_c", "agitation", "illuminance_lx", "seconds"}, slices.Compact(fields))
	ask := func(fill ...string) *pagetest.Page {
		q := url.Values{"film": {"Larkfield 125"}, "developer": {"Brinewater 1+19"}, "temperature_c": {"20"}, "agitation": {"continuous"}, "illuminance_lx": {"4.2"}, "seconds": {"1/2"}}
		for i := 0; i < len(fill); i += 2 {
			q.Set(fill[i], fill[i+1])
		}
		p, err := d.Get("/new?" + q.Encode())
		require.NoError(t, err)
		return p
	}
	p = ask("temperature_c", "200", "illuminance_lx", "")
	require.Equal(t, http.StatusUnprocessableEntity, p.Status)
	assert.Contains(t, p.Words(), "2 things to put right. Nothing was saved, and nothing is lost.")
	for _, text := range []string{`value="Brinewater 1&#43;19"`, `value="200" autocomplete="off" spellcheck="false" aria-invalid="true" aria-describedby="h-temperature_c"`, `href="#f-illuminance_lx"`} {
		assert.Contains(t, p.Text, text)
	}
	for _, name := range []string{"", "-2"} {
		p = ask("developer", "Brinewater 1:19")
		require.Equal(t, http.StatusOK, p.Status, p.Words())
		assert.Contains(t, p.Words(), "The first strip Larkfield 125 in Brinewater 1+19 at 20 °C, continuous agitation: 21 steps, exposed in contact at 4.2 lux for 1/2 s.")
		back := regexp.MustCompile(`href="(/new[^"]*)">Change`).FindStringSubmatch(p.Text)
		require.NotNil(t, back)
		assert.Contains(t, d.get(html.UnescapeString(back[1])).Text, `value="Brinewater 1:19"`)
		was := files()
		p = d.send(p, "/t", "minutes", "soon", "note", "kept")
		require.Equal(t, http.StatusUnprocessableEntity, p.Status)
		assert.Contains(t, p.Words(), "One thing to put right. Nothing was saved, and nothing is lost.")
		assert.Contains(t, p.Text, `value="kept"`)
		assert.Equal(t, was, files())
		p = d.send(p, "/t", "minutes", "6:30", "base_fog", "0.11 12")
		require.Equal(t, "/t/larkfield-125-in-brinewater-1-19"+name+"/strips/1/1", p.Address, "no file is replaced")
		trial, err := notebook.ReadFile(filepath.Join(d.dir, "larkfield-125-in-brinewater-1-19"+name+".toml"))
		require.NoError(t, err)
		assert.Equal(t, [3]any{"Larkfield 125", "Brinewater", "1+19"}, [3]any{trial.Film().Name, trial.Process().Developer, trial.Process().Dilution})
		assert.Equal(t, [2]float64{4.2, 0.5}, [2]float64{trial.Exposures().IlluminanceLx(), float64(trial.Exposures().Seconds())})
		strip := trial.Strips()[0]
		assert.Equal(t, "6:30", strip.Minutes().Clock(1))
		assert.Equal(t, []sensito.Density{0.11, 0.12}, strip.BaseFog())
		assert.Equal(t, "kept", strip.Note())
	}
	assert.Equal(t, before+2, files())
	p = d.key(p, "save", "0.2")
	assert.Equal(t, http.StatusOK, p.Status)
}

// Tables that lie in the folder are brought in without a dialog, which is white: under red
// the page says so before the field, and keeps that shut.
func TestImportUnderRed(t *testing.T) {
	d := serve(t, filmTrial)
	p := d.get("/import")
	assert.NotContains(t, p.Words(), "In the notebook’s folder")
	assert.NotContains(t, p.Words(), "white")
	assert.NotContains(t, p.Text, "<details>")
	require.NoError(t, os.WriteFile(filepath.Join(d.dir, "old & new.csv"), []byte("step,6:00\n1,1.2\n2,0.8\n3,0.4\n"), 0o600))
	r, err := http.NewRequest(http.MethodGet, d.Base+"/import", nil)
	require.NoError(t, err)
	r.AddCookie(&http.Cookie{Name: "look", Value: "red"})
	answer, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	p.Text = string(body)
	assert.Contains(t, p.Words(), "In the notebook’s folder old & new.csv From elsewhere White light. The dialog in which a file is chosen is the browser’s own, and white.")
	warned, shut, field := strings.Index(p.Text, "White light."), strings.Index(p.Text, "<details>"), strings.Index(p.Text, `type="file"`)
	assert.True(t, 0 < warned && warned < shut && shut < field, "%d, %d, %d", warned, shut, field)
	assert.Contains(t, d.get("/import/old%20&%20new.csv").Words(), "What old & new.csv was taken for")
	assert.Contains(t, p.Text, `href="/import/old%20&amp;%20new.csv"`)
}

// A table is shown as it was taken for before anything is written; then it becomes a new
// file, or strips of a trial.
func TestImport(t *testing.T) {
	d := serve(t, filmTrial)
	files := func() int {
		names, err := os.ReadDir(d.dir)
		require.NoError(t, err)
		return len(names)
	}
	before, strips := files(), len(strings.Split(d.bytes(), "[[strip]]"))
	send := func() string {
		var body strings.Builder
		m := multipart.NewWriter(&body)
		w, err := m.CreateFormFile("table", "readings.csv")
		require.NoError(t, err)
		fmt.Fprint(w, "step,wedge,6:00,9:00\n")
		for i := range 21 {
			fmt.Fprintf(w, "%d,%.2f,%.2f,%.2f\n", i+1, 0.05+0.15*float64(i), 1.8-0.08*float64(i), 2.1-0.09*float64(i))
		}
		require.NoError(t, m.Close())
		r, err := http.Post(d.Base+"/import", m.FormDataContentType(), strings.NewReader(body.String()))
		require.NoError(t, err)
		r.Body.Close()
		return r.Request.URL.Path
	}
	at := send()
	require.Regexp(t, `^/import/sent-[a-z0-9]+$`, at)
	p := d.get(at)
	assert.Contains(t, p.Words(), "What readings.csv was taken for")
	_, ready := p.Form(at)
	require.True(t, ready, "the form that asks")
	assert.NotContains(t, p.Text, "Write it", "film and light are not said")
	p = d.get(at + "?film=Tern+400&lux=2&seconds=0.5&developer=Ashlar+1%2B4")
	assert.Contains(t, p.Words(), "Tern 400: 2 strips (6:00, 9:00)")
	assert.Equal(t, before, files(), "nothing is written yet")
	write := func(p *pagetest.Page) *pagetest.Page {
		last := p.Text[strings.LastIndex(p.Text, `<form method="post" action="/import`):]
		return d.send(&pagetest.Page{Text: last}, at)
	}
	p = write(p)
	require.Equal(t, http.StatusOK, p.Status, p.Words())
	assert.Equal(t, before+1, files())
	at = send()
	p = write(d.get(at + "?into=" + filmTrial))
	assert.Equal(t, d.at, p.Address)
	assert.Len(t, strings.Split(d.bytes(), "[[strip]]"), strips+2)
}
