package guard

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A filled form with files, and the header that says what it is.
func filesForm(t *testing.T, fields ...string) (kind, body string) {
	t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for i := 0; i < len(fields); i += 2 {
		if name, file := strings.CutPrefix(fields[i], "file:"); file {
			w, err := m.CreateFormFile(name, "strip.png")
			require.NoError(t, err)
			_, err = io.WriteString(w, fields[i+1])
			require.NoError(t, err)
		} else {
			require.NoError(t, m.WriteField(fields[i], fields[i+1]))
		}
	}
	require.NoError(t, m.Close())
	return "Content-Type: " + m.FormDataContentType(), b.String()
}

// A form with files is let through by its first field, and then whole: the
// handler can stream it. A plain form has been read, without its token.
func TestFormsReachPageWhole(t *testing.T) {
	inCache(t)
	type received struct {
		fields, query, token string
		large                bool
	}
	got := make(chan received, 1)
	var g *Guard
	s := serve(t, Options{}, func(w http.ResponseWriter, r *http.Request) {
		seen := received{token: g.FormToken(r)}
		defer func() { got <- seen }()
		if m, err := r.MultipartReader(); err == nil {
			for {
				part, err := m.NextPart()
				if err == io.EOF {
					return
				}
				var large *http.MaxBytesError
				if seen.large = errors.As(err, &large); seen.large || !assert.NoError(t, err) {
					return
				}
				sum := sha256.New()
				n, err := io.Copy(sum, part)
				if seen.large = errors.As(err, &large); seen.large {
					return
				}
				seen.fields += fmt.Sprintf("%s %d %x, ", part.FormName(), n, sum.Sum(nil)[:4])
			}
		}
		seen.fields, seen.query = r.PostForm.Encode(), r.Form.Encode()
	})
	g = s.g
	cookie := s.letIn()
	token := s.formToken(0, cookie)
	post := func(path, kind, body string, headers ...string) answer {
		return s.send(0, ask{method: "POST", target: path, headers: append(headers, cookie, kind), body: body})
	}
	expected := func(fields ...string) (list string) {
		for i := 0; i < len(fields); i += 2 {
			list += fmt.Sprintf("%s %d %x, ", strings.TrimPrefix(fields[i], "file:"), len(fields[i+1]), func() []byte { s := sha256.Sum256([]byte(fields[i+1])); return s[:4] }())
		}
		return list
	}

	for _, size := range []int{0, 1, 3000, 5000, 64 << 10, 1<<20 - 1000, 3 << 20} {
		fields := []string{"token", token, "name", "strip", "file:picture", strings.Repeat("\r\n--x", size/5), "last", "yes"}
		kind, body := filesForm(t, fields...)
		path := "/picture"
		if size > 1<<20 {
			path = "/import/larkfield.toml"
		}
		a := post(path, kind, body)
		require.Equal(t, http.StatusOK, a.StatusCode, "%d: %s", size, a.text)
		seen := <-got
		assert.Equal(t, expected(fields...), seen.fields)
		assert.Equal(t, token, seen.token)
	}
	// With the header the form needs no field.
	kind, body := filesForm(t, "file:picture", "p", "last", "yes")
	assert.Equal(t, http.StatusOK, post("/t", kind, body, "X-Sensito-Token: "+token).StatusCode)
	assert.Equal(t, expected("picture", "p", "last", "yes"), (<-got).fields)
	assert.Equal(t, http.StatusOK, post("/t", plainForm, "reading=1.18", "X-Sensito-Token: "+token).StatusCode)
	assert.Equal(t, "reading=1.18", (<-got).fields)
	assert.Equal(t, http.StatusOK, post("/t", "Accept: */*", "", "X-Sensito-Token: "+token).StatusCode, "nothing is sent")
	<-got
	assert.Equal(t, http.StatusOK, post("/t?range=7", plainForm, "reading=1.18&note=a+%26+b&token="+token).StatusCode)
	seen := <-got
	assert.Equal(t, "note=a+%26+b&reading=1.18", seen.fields)
	assert.Equal(t, "note=a+%26+b&range=7&reading=1.18", seen.query)

	before := s.reached.Load()
	for name, form := range map[string][]string{
		"no token":               {"name", "strip"},
		"token after another":    {"name", "strip", "token", token},
		"token as a file":        {"file:token", token},
		"token of another":       {"token", s.formToken(0, "x="+s.g.keys.newCookie(s.g.doors[0].address))},
		"token and more":         {"token", token + "x"},
		"token and much more":    {"token", token + strings.Repeat("x", 1<<17)},
		"a field before, as far": {"name", strings.Repeat("x", 1<<17), "token", token},
	} {
		kind, body := filesForm(t, form...)
		assert.Equal(t, http.StatusForbidden, post("/picture", kind, body).StatusCode, name)
	}
	kind, body = filesForm(t, "token", token)
	for name, spoilt := range map[string]string{"cut off": body[:20], "a long preamble": strings.Repeat("x\r\n", 1<<16) + body, "nothing of it": "x"} {
		assert.Equal(t, http.StatusBadRequest, post("/picture", kind, spoilt).StatusCode, name)
	}
	assert.Equal(t, http.StatusBadRequest, post("/picture", "Content-Type: multipart/form-data", body).StatusCode, "no boundary")
	assert.Equal(t, http.StatusBadRequest, post("/t", plainForm, "token="+token+"&reading=%zz").StatusCode)
	// A plain form is held in memory, and so is small where files may be large.
	assert.Equal(t, http.StatusRequestEntityTooLarge, post("/picture", plainForm, "token="+token+"&note="+strings.Repeat("x", 1<<20)).StatusCode)
	assert.Equal(t, before, s.reached.Load())

	// In chunks the size shows as it comes.
	kind, body = filesForm(t, "token", token, "file:picture", strings.Repeat("x", 1<<20))
	a := post("/t", kind, fmt.Sprintf("%x\r\n%s\r\n0\r\n\r\n", len(body), body), "Transfer-Encoding: chunked")
	assert.Equal(t, http.StatusOK, a.StatusCode)
	assert.True(t, (<-got).large)
}

// Each path takes so much and no more.
func TestBodyLimits(t *testing.T) {
	inCache(t)
	s := serve(t, Options{}, func(w http.ResponseWriter, r *http.Request) { fmt.Fprint(w, r.ContentLength) })
	cookie := s.letIn()
	header := "X-Sensito-Token: " + s.formToken(0, cookie)
	for path, most := range map[string]int{
		"/": 1 << 20, "/t/larkfield.toml": 1 << 20, "/importer": 1 << 20, "/t/import": 1 << 20, "/pictures": 1 << 20, "/p/picture/x": 1 << 20,
		"/import": 20 << 20, "/import/larkfield.toml": 20 << 20, "/picture": 256 << 20, "/picture/corners": 256 << 20,
	} {
		ofSize := func(size int) answer {
			return s.send(0, ask{method: "POST", target: path, body: "", headers: []string{cookie, header, "Content-Type: multipart/form-data; boundary=b", fmt.Sprintf("Content-Length: %d", size)}})
		}
		before := s.reached.Load()
		a := ofSize(most + 1)
		assert.Equal(t, http.StatusRequestEntityTooLarge, a.StatusCode, path)
		assert.Contains(t, a.text, fmt.Sprintf("At most %d MiB", most>>20))
		assert.Equal(t, before, s.reached.Load())
		// A body of the most is begun; the handler, which does not read it, answers at once.
		c, r := s.dial(ask{method: "POST", target: path, host: s.g.doors[0].hosts[0],
			headers: []string{cookie, header, "Content-Type: multipart/form-data; boundary=b", fmt.Sprintf("Content-Length: %d", most), "Expect: 100-continue"}}.String())
		a2, err := http.ReadResponse(r, nil)
		require.NoError(t, err)
		assert.Equal(t, http.StatusOK, a2.StatusCode, path)
		text, err := io.ReadAll(a2.Body)
		require.NoError(t, err)
		assert.Equal(t, fmt.Sprint(most), string(text))
		c.Close()
	}
	assert.Empty(t, s.g.FormToken(&http.Request{}), "not of the page")
}
