package guard

import (
	"io/fs"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A server that was killed and started again has the port it had, and lets in the
// browser that was in; the server of another notebook does not.
func TestRestartKeepsPagesOpen(t *testing.T) {
	inCache(t)
	notebook := t.TempDir()
	s := serve(t, Options{Notebook: notebook}, nil)
	cookie, port := s.letIn(), s.g.doors[0].port()
	token := s.formToken(0, cookie)
	s.stop()
	s = serve(t, Options{Notebook: notebook}, nil)
	require.Equal(t, port, s.g.doors[0].port())
	assert.Equal(t, http.StatusOK, s.get(0, "/", cookie).StatusCode)
	a := s.send(0, ask{method: "POST", target: "/t", headers: []string{cookie, plainForm}, body: "reading=1.18&token=" + token})
	assert.Equal(t, http.StatusOK, a.StatusCode, "a form that was open")

	// While the port is taken a second server has another.
	second := serve(t, Options{Notebook: notebook}, nil)
	assert.NotEqual(t, port, second.g.doors[0].port())
	_, err := New(Options{Notebook: notebook, Port: port})
	assert.ErrorContains(t, err, "another port will do")
	second.stop()
	s.stop()

	other := serve(t, Options{Notebook: t.TempDir(), Port: port}, nil)
	assert.Equal(t, http.StatusForbidden, other.get(0, "/", cookie).StatusCode)
	assert.Zero(t, other.reached.Load())
	other.stop()
	link := filepath.Join(t.TempDir(), "link")
	if os.Symlink(notebook, link) == nil {
		linked := serve(t, Options{Notebook: link, Port: port}, nil)
		assert.Equal(t, http.StatusOK, linked.get(0, "/", cookie).StatusCode, "the same notebook by another name")
	}
}

// onlyKeep returns the one folder in which something is kept.
func onlyKeep(t *testing.T) string {
	t.Helper()
	cache, err := os.UserCacheDir()
	require.NoError(t, err)
	found, err := filepath.Glob(filepath.Join(cache, "sensito", "*"))
	require.NoError(t, err)
	require.Len(t, found, 1)
	return found[0]
}

func TestSecretIsKeptToOneself(t *testing.T) {
	inCache(t)
	s := serve(t, Options{}, nil)
	dir := onlyKeep(t)
	if runtime.GOOS != "windows" {
		for name, want := range map[string]fs.FileMode{dir: 0o700 | fs.ModeDir, filepath.Join(dir, "secret"): 0o600, filepath.Join(dir, "port"): 0o600} {
			info, err := os.Lstat(name)
			require.NoError(t, err)
			assert.Equal(t, want, info.Mode(), name)
		}
	}
	found, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, found, 2, "nothing else is left")
	text, err := os.ReadFile(filepath.Join(dir, "secret"))
	require.NoError(t, err)
	cookie := s.letIn()
	for _, shown := range []string{cookie, s.formToken(0, cookie), s.out.String(), s.err.String()} {
		assert.NotContains(t, shown, string(text[:64]))
	}
}

// A secret that others could read or that is not whole is made anew, and what it
// let in before is out; nothing that a link leads to is touched.
func TestSecretIsRenewed(t *testing.T) {
	for name, spoil := range map[string]func(t *testing.T, dir, file, outside string){
		"others may read":    func(t *testing.T, dir, file, outside string) { require.NoError(t, os.Chmod(file, 0o644)) },
		"a group may write":  func(t *testing.T, dir, file, outside string) { require.NoError(t, os.Chmod(file, 0o620)) },
		"the folder is open": func(t *testing.T, dir, file, outside string) { require.NoError(t, os.Chmod(dir, 0o777)) },
		"torn":               func(t *testing.T, dir, file, outside string) { require.NoError(t, os.Truncate(file, 40)) },
		"empty":              func(t *testing.T, dir, file, outside string) { require.NoError(t, os.Truncate(file, 0)) },
		"lengthened":         func(t *testing.T, dir, file, outside string) { require.NoError(t, os.Truncate(file, 300)) },
		"blanked": func(t *testing.T, dir, file, outside string) {
			require.NoError(t, os.WriteFile(file, make([]byte, 82), 0o600))
		},
		"zeros": func(t *testing.T, dir, file, outside string) {
			require.NoError(t, os.WriteFile(file, []byte(strings.Repeat("0", 64)+" "+strings.Repeat("0", 16)+"\n"), 0o600))
		},
		"a digit changed": func(t *testing.T, dir, file, outside string) {
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			text[3] = map[bool]byte{true: '0', false: '1'}[text[3] != '0']
			require.NoError(t, os.WriteFile(file, text, 0o600))
		},
		"a link": func(t *testing.T, dir, file, outside string) {
			require.NoError(t, os.Rename(file, outside))
			require.NoError(t, os.Symlink(outside, file))
		},
		"a folder": func(t *testing.T, dir, file, outside string) {
			require.NoError(t, os.Remove(file))
			require.NoError(t, os.Mkdir(file, 0o700))
		},
	} {
		t.Run(name, func(t *testing.T) {
			if runtime.GOOS == "windows" {
				t.Skip("modes say nothing here")
			}
			inCache(t)
			notebook := t.TempDir()
			s := serve(t, Options{Notebook: notebook}, nil)
			cookie := s.letIn()
			port := s.g.doors[0].port()
			s.stop()
			assert.NotContains(t, s.err.String(), "warning")
			dir := onlyKeep(t)
			file, outside := filepath.Join(dir, "secret"), filepath.Join(t.TempDir(), "outside")
			before, err := os.ReadFile(file)
			require.NoError(t, err)
			spoil(t, dir, file, outside)

			s = serve(t, Options{Notebook: notebook, Port: port}, nil)
			assert.Contains(t, s.err.String(), "sensito: warning: "+dir)
			assert.Contains(t, s.err.String(), "ask for a new address")
			if name == "a link" || name == "a folder" {
				assert.Contains(t, s.err.String(), "it is not a regular file")
			}
			assert.Equal(t, http.StatusForbidden, s.get(0, "/", cookie).StatusCode)
			cookie = s.letIn()
			s.stop()
			info, err := os.Lstat(file)
			require.NoError(t, err)
			assert.Equal(t, fs.FileMode(0o600), info.Mode())
			info, err = os.Lstat(dir)
			require.NoError(t, err)
			assert.Equal(t, 0o700|fs.ModeDir, info.Mode())
			if name == "a link" {
				text, err := os.ReadFile(outside)
				require.NoError(t, err)
				assert.Equal(t, before, text)
			}
			s = serve(t, Options{Notebook: notebook, Port: port}, nil)
			assert.NotContains(t, s.err.String(), "warning", "it is whole again")
			assert.Equal(t, http.StatusOK, s.get(0, "/", cookie).StatusCode)
		})
	}
}

// Where nothing can be kept the page is served all the same.
func TestSecretCannotBeKept(t *testing.T) {
	for name, spoil := range map[string]func(t *testing.T, cache string){
		"no cache folder": func(t *testing.T, cache string) {
			for _, name := range []string{"XDG_CACHE_HOME", "HOME", "LocalAppData"} {
				t.Setenv(name, "")
			}
		},
		"a file in the way": func(t *testing.T, cache string) {
			dir, err := os.UserCacheDir()
			require.NoError(t, err)
			require.NoError(t, os.MkdirAll(dir, 0o700))
			require.NoError(t, os.WriteFile(filepath.Join(dir, "sensito"), []byte("kept"), 0o600))
		},
	} {
		t.Run(name, func(t *testing.T) {
			spoil(t, inCache(t))
			s := serve(t, Options{}, nil)
			assert.Contains(t, s.err.String(), "nothing can be kept for the next start")
			assert.Equal(t, http.StatusOK, s.get(0, "/", s.letIn()).StatusCode)
		})
	}
}

// Servers that begin at the same time have one secret.
func TestSecretOfSeveralServers(t *testing.T) {
	inCache(t)
	k, _, err := keepOf(t.TempDir())
	require.NoError(t, err)
	var wg sync.WaitGroup
	var mu sync.Mutex
	found := map[secret]int{}
	for range 16 {
		wg.Go(func() {
			s, renewed, err := k.secret()
			assert.NoError(t, err)
			assert.NoError(t, renewed)
			mu.Lock()
			defer mu.Unlock()
			found[s]++
		})
	}
	wg.Wait()
	assert.Len(t, found, 1)
	assert.NotContains(t, found, secret{})
}

// The port that is remembered is taken where it is one.
func TestPortIsRemembered(t *testing.T) {
	inCache(t)
	k, _, err := keepOf(t.TempDir())
	require.NoError(t, err)
	assert.Zero(t, k.port())
	require.NoError(t, k.keepPort(50123))
	require.NoError(t, k.keepPort(50124))
	assert.Equal(t, 50124, k.port())
	for _, text := range []string{"", "x", "0", "-1", "65536", "50124 1"} {
		require.NoError(t, os.WriteFile(k.portFile(), []byte(text), 0o600))
		assert.Zero(t, k.port(), text)
	}
}

// Both doors have one port, also where the other address has the first one taken.
func TestDoorsShareAPort(t *testing.T) {
	o := aside(t)
	taken, err := net.Listen("tcp", "127.0.0.2:0")
	require.NoError(t, err)
	defer taken.Close()
	last := taken.Addr().(*net.TCPAddr).Port
	doors, err := openDoors(o.Listen, 0, last, o.addresses)
	require.NoError(t, err)
	defer closeAll(doors)
	require.Len(t, doors, 2)
	assert.NotEqual(t, last, doors[0].port())
	assert.Equal(t, doors[0].port(), doors[1].port())
	again, err := openDoors("", 0, last, nil)
	require.NoError(t, err, "a port whose second door cannot be had is given back")
	closeAll(again)
	assert.Equal(t, last, again[0].port())
}
