package page_test

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/picture/lighttable"
)

func readFile(t testing.TB, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(data)
}

// sent sends a file as a browser does.
func sent(t testing.TB, s http.Handler, address, name string, data []byte, most int64) *httptest.ResponseRecorder {
	t.Helper()
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	require.NoError(t, form.WriteField("token", "token"))
	part, err := form.CreateFormFile("picture", name)
	require.NoError(t, err)
	_, err = part.Write(data)
	require.NoError(t, err)
	require.NoError(t, form.Close())
	r := httptest.NewRequest(http.MethodPost, address, &b)
	r.Header.Set("Content-Type", form.FormDataContentType())
	w := httptest.NewRecorder()
	r.Body = http.MaxBytesReader(w, r.Body, most)
	s.ServeHTTP(w, r)
	return w
}

// A picture that is sent is a new file of the notebook with the name it came with, as far as that is one; no file is
// replaced. Of what is no picture, or too large, nothing stays.
func TestPictureSent(t *testing.T) {
	dir := demoNotebook(t, nil)
	s := served(t, dir)
	data := []byte(readFile(t, filepath.Join(dir, "larkfield-ashlar.png")))
	tiff := lighttable.TIFF(lighttable.Alone(lighttable.Even(0.1, 0.1, 9)).Picture(lighttable.Flatbed(30), 1))
	const mega = 1 << 20
	for _, c := range []struct {
		name string
		data []byte
		as   string
	}{
		{"larkfield-ashlar.png", data, "larkfield-ashlar.png"}, {"larkfield-ashlar.png", tiff, "larkfield-ashlar-2.png"}, {"tablet.toml", tiff, "tablet-2.toml"},
		{"../../up.tif", tiff, "up.tif"}, {`C:\scans\neg 1.tif`, tiff, "neg 1.tif"}, {".hidden", tiff, "picture.hidden"}, {"Größe <b>.tif", tiff, "Größe _b_.tif"},
		{strings.Repeat("ä", 300) + ".tif", tiff, strings.Repeat("ä", 48) + ".tif"}, {"...", tiff, "picture"},
	} {
		w := sent(t, s, "/picture?into=larkfield-ashlar", c.name, c.data, mega)
		require.Equal(t, http.StatusSeeOther, w.Code, "%s: %s", c.name, text(w.Body.String()))
		to, err := url.Parse(w.Header().Get("Location"))
		require.NoError(t, err)
		assert.Equal(t, url.Values{"file": {c.as}, "into": {"larkfield-ashlar"}}, to.Query(), c.name)
		assert.Equal(t, string(c.data), readFile(t, filepath.Join(dir, c.as)))
		status, _ := got(t, s, to.String())
		assert.Equal(t, http.StatusOK, status, c.as)
	}
	assert.Equal(t, readDemo(t, "tablet.toml"), readFile(t, filepath.Join(dir, "tablet.toml")))
	before, err := os.ReadDir(dir)
	require.NoError(t, err)
	for name, c := range map[string]struct {
		data   []byte
		status int
		says   string
	}{
		"a text":   {[]byte("no picture"), http.StatusUnprocessableEntity, "This picture is not read, and was not kept."},
		"torn":     {data[:len(data)/2], http.StatusUnprocessableEntity, "This picture is not read, and was not kept."},
		"nothing":  {nil, http.StatusBadRequest, "Nothing was sent: choose a picture."},
		"too much": {bytes.Repeat(data, 40), http.StatusRequestEntityTooLarge, "larger than this page takes"},
	} {
		w := sent(t, s, "/picture", "new.png", c.data, mega)
		assert.Equal(t, c.status, w.Code, name)
		assert.Contains(t, text(w.Body.String()), c.says, name)
	}
	assert.Equal(t, http.StatusBadRequest, posted(t, s, "/picture", url.Values{"picture": {"x"}}).Code)
	after, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Equal(t, before, after)
}
