package page_test

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/xml"
	"errors"
	"fmt"
	"html"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/page"
	"sensito/sensito/notebook"
)

// filesOf are the files of a folder, for a report.
func filesOf(t testing.TB, dir string) []page.ReportFile {
	t.Helper()
	entries, err := notebook.List(dir)
	require.NoError(t, err)
	var out []page.ReportFile
	for _, e := range entries {
		f := page.ReportFile{Entry: e}
		f.Data, f.Err = os.ReadFile(e.Path)
		out = append(out, f)
	}
	return out
}

func reported(t testing.TB, dir string) string {
	t.Helper()
	data, err := page.Report("Harrow Quay", "2026-06-08", filesOf(t, dir))
	require.NoError(t, err)
	return string(data)
}

var (
	styleElement = regexp.MustCompile(`(?s)<style>(.*?)</style>`)
	void         = regexp.MustCompile(`<(meta|br|hr|input|link)\b[^>]*[^/]>`)
)

// standsAlone fails for what is not well-formed, for what asks for anything outside of the
// file, and for what its own policy forbids.
func standsAlone(t testing.TB, body string) {
	t.Helper()
	styles := styleElement.FindAllStringSubmatch(body, -1)
	require.Len(t, styles, 1)
	sum := sha256.Sum256([]byte(styles[0][1]))
	policy := regexp.MustCompile(`<meta http-equiv="Content-Security-Policy" content="([^"]*)">`).FindStringSubmatch(body)
	require.NotNil(t, policy)
	assert.Equal(t, "default-src 'none'; style-src 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'; base-uri 'none'; form-action 'none'", html.UnescapeString(policy[1]))
	assert.Less(t, strings.Index(body, policy[0]), strings.Index(body, "<style>"), "the policy comes first")
	sheet := strings.ReplaceAll(styles[0][1], "url(#", "") // a filter of the page itself
	for _, asks := range []string{"url(", "@import", "src:", "image-set"} {
		assert.NotContains(t, sheet, asks)
	}

	rest := strings.Replace(body, styles[0][0], "", 1)
	d := xml.NewDecoder(strings.NewReader(void.ReplaceAllStringFunc(rest, func(e string) string { return strings.TrimSuffix(e, ">") + "/>" })))
	d.Entity = xml.HTMLEntity
	ids, links, headings := map[string]bool{}, []string{}, 0
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err, "well-formed")
		e, is := token.(xml.StartElement)
		if !is {
			continue
		}
		switch name := e.Name.Local; name {
		case "script", "link", "style", "base", "iframe", "object", "embed", "form", "input", "button", "img", "image", "use", "audio", "video":
			assert.Fail(t, "element "+name)
		case "h1":
			headings++
		}
		for _, a := range e.Attr {
			key := strings.ToLower(a.Name.Local)
			switch {
			case key == "style", strings.HasPrefix(key, "on"), strings.Contains(a.Value, "url("):
				assert.Fail(t, "attribute "+key+" of "+e.Name.Local)
			case slices.Contains(carriers, key):
				assert.True(t, strings.HasPrefix(a.Value, "#"), "%s=%q", key, a.Value)
				links = append(links, strings.TrimPrefix(a.Value, "#"))
			case key == "id":
				assert.False(t, ids[a.Value], "id %s twice", a.Value)
				ids[a.Value] = true
			case key == "aria-labelledby":
				links = append(links, strings.Fields(a.Value)...)
			}
		}
	}
	assert.Equal(t, 1, headings)
	for _, to := range links {
		assert.True(t, ids[to], "nothing is called %s", to)
	}
	assert.Empty(t, slices.DeleteFunc([]rune(body), func(r rune) bool {
		return r >= ' ' && r != 0x7f && (r < 0x202a || r > 0x202e) && r != '\ufffd' || r == '\n' || r == '\t'
	}), "characters that do not print")
}

// A report asks for nothing outside of it, whatever files and titles are called.
func TestReportStandsAlone(t *testing.T) {
	standsAlone(t, reported(t, demoNotebook(t, nil)))
	body := reported(t, demoNotebook(t, hostileFiles(t)))
	standsAlone(t, body)
	assert.Contains(t, body, "&lt;script&gt;alert(1)&lt;/script&gt;")
	assert.NotContains(t, body, "<script>")
	assert.Contains(t, body, "torn.toml: Cannot be read: line 1")
	data, err := page.Report(hostile[0], "2026-06-08", filesOf(t, demo))
	require.NoError(t, err)
	standsAlone(t, string(data))
	assert.Contains(t, string(data), "<h1>&lt;script&gt;alert(1)&lt;/script&gt;</h1>")
}

var tableElement = regexp.MustCompile(`(?s)<table.*?</table>`)

// What a report says is what the pages say, whose numbers are those of --json: every table
// of a trial, a paper, a control log, the comparison and the log is in it, and so is every
// answer.
func TestReportAsPages(t *testing.T) {
	dir := demoNotebook(t, nil)
	s := served(t, dir)
	body := reported(t, dir)
	all := text(styleElement.ReplaceAllString(body, ""))
	tables := 0
	for _, address := range []string{"/t/larkfield-brinewater", "/t/larkfield-ashlar", "/t/larkfield-camera", "/t/larkfield-meter", "/t/tern-ashlar", "/p/slate", "/p/foxglove",
		"/control/control", "/compare", "/log"} {
		_, of := got(t, s, address)
		for _, table := range tableElement.FindAllString(of, -1) {
			tables++
			assert.True(t, strings.Contains(all, text(table)), "%s: %s", address, text(table))
		}
		if answer := regexp.MustCompile(`(?s)<dl class="answer">.*?</dl>`).FindString(of); answer != "" {
			assert.True(t, strings.Contains(all, text(answer)), "%s: %s", address, text(answer))
		}
		title := regexp.MustCompile(`<h1>(.*?)</h1>`).FindStringSubmatch(of)[1]
		assert.Contains(t, body, ">"+title+"</h2>", address)
		assert.Contains(t, body, ">"+title+"</a>", "the contents lead to %s", address)
	}
	assert.Greater(t, tables, 16)
	_, of := got(t, s, "/scene?trial=larkfield-brinewater&range=7")
	_, card := got(t, s, "/card?trial=larkfield-brinewater")
	for _, table := range append(tableElement.FindAllString(of, -1), tableElement.FindAllString(card, -1)...) {
		tables++
		assert.True(t, strings.Contains(all, text(table)), text(table))
	}
	assert.Greater(t, tables, 18)
	assert.Contains(t, all, "made on 8 June 2026 by sensito")
	assert.Contains(t, all, "Made 8 June 2026 from strips developed from 2 to 3 March 2026")
	assert.Contains(t, all, "Chemicals are hazardous")
	assert.Contains(t, all, "Larkfield 125 in Brinewater 1+19 5:55, EI 80")
	assert.Contains(t, all, "The tank of Brinewater has been out of control since 16 April (first signal 30 April)")
}

// A report of nothing is none.
func TestReportOfNothing(t *testing.T) {
	_, err := page.Report("x", "2026-06-08", filesOf(t, t.TempDir()))
	assert.EqualError(t, err, "there is no trial and no control log to report")
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "stand.toml"), []byte(readDemo(t, "stand.toml")), 0o600))
	_, err = page.Report("x", "2026-06-08", filesOf(t, dir))
	assert.Error(t, err)
}

// copies is a notebook of copies of trials of the demonstration under titles of their own.
func copies(t testing.TB, names []string, n int) string {
	t.Helper()
	dir := t.TempDir()
	title := regexp.MustCompile(`(?m)^title.*$`)
	for i := range n {
		text := title.ReplaceAllString(readDemo(t, names[i%len(names)]+".toml"), fmt.Sprintf("title = %q", fmt.Sprintf("Film of page %d", i+1)))
		require.NoError(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("t%02d.toml", i)), []byte(text), 0o600))
	}
	return dir
}

func twenty(t testing.TB) string {
	return copies(t, []string{"larkfield-brinewater", "larkfield-ashlar", "larkfield-camera", "larkfield-meter", "tern-ashlar"}, 20)
}

// Of 20 trials a report is below 5 MB.
func TestReportSize(t *testing.T) {
	body := reported(t, twenty(t))
	assert.Less(t, len(body), 5_000_000)
	assert.Equal(t, 20, strings.Count(body, `<h2 class="chapter" id="f`))
}

// BenchmarkReport is a report of 20 trials, by the clock.
func BenchmarkReport(b *testing.B) {
	files := filesOf(b, twenty(b))
	for b.Loop() {
		_, err := page.Report("x", "2026-06-08", files)
		require.NoError(b, err)
	}
}

var trialTitle = regexp.MustCompile(`^Film of page \d+$`)

// Printed, each trial begins a page after the first, on either paper. It needs a browser and
// the tools of a reader of PDF.
func TestReportPrints(t *testing.T) {
	if os.Getenv("SENSITO_BROWSER") == "" {
		t.Skip("SENSITO_BROWSER=half runs it, or all")
	}
	for _, tool := range []string{"chromium", "pdfinfo", "pdftotext"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skip(tool + " is not there")
		}
	}
	dir := t.TempDir()
	names := []string{"larkfield-brinewater", "larkfield-ashlar", "larkfield-camera", "tern-ashlar"}
	body := reported(t, copies(t, names, len(names)))
	policy := regexp.MustCompile(`<meta http-equiv="Content-Security-Policy"[^>]*>`).FindString(body)
	require.NotEmpty(t, policy)
	for paper, size := range map[string]string{"A4": `59[45]\S* x 84[12]`, "letter": "612 x 792"} {
		file := filepath.Join(dir, paper+".html")
		// As a printer with this paper has it, which a browser without a window does not ask.
		on := strings.Replace(strings.Replace(body, policy, "", 1), "</style>", "@page { size: "+paper+" }</style>", 1)
		require.NoError(t, os.WriteFile(file, []byte(on), 0o600))
		pdf := filepath.Join(dir, paper+".pdf")
		out, err := exec.Command("chromium", "--headless", "--no-sandbox", "--disable-gpu", "--user-data-dir="+t.TempDir(), "--no-pdf-header-footer", "--print-to-pdf="+pdf, "file://"+file).CombinedOutput()
		require.NoError(t, err, "%s", out)
		info, err := exec.Command("pdfinfo", pdf).Output()
		require.NoError(t, err)
		assert.Regexp(t, `Page size: +`+size, string(info))
		plain, err := exec.Command("pdftotext", "-layout", pdf, "-").Output()
		require.NoError(t, err)
		pages := strings.Split(strings.TrimSuffix(string(plain), "\f"), "\f")
		assert.Contains(t, pages[0], "Contents")
		assert.Contains(t, pages[0], "set the meter to", "the first trial begins below the contents")
		begun := 0
		for i, p := range pages {
			first, _, _ := strings.Cut(strings.TrimSpace(p), "\n")
			if trialTitle.MatchString(first) {
				begun++
			}
			assert.LessOrEqual(t, strings.Count(p, "set the meter to"), 1, "page %d of %s", i+1, paper)
		}
		assert.Equal(t, len(names)-1, begun, "trials that begin a page, of %s", paper)
		assert.LessOrEqual(t, len(pages), 4*len(names)+6, "pages of %s", paper)
	}
}
