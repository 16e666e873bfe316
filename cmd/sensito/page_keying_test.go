package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/page"
	"sensito/cmd/sensito/internal/page/pagetest"
	"sensito/sensito/notebook"
)

// copied puts a trial of the demo into a folder of its own.
func copied(t *testing.T, trial string) (dir, path string) {
	t.Helper()
	dir = t.TempDir()
	path = filepath.Join(dir, trial)
	text, err := os.ReadFile(filepath.Join("demo", trial))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, text, 0o600))
	return dir, path
}

// keyAt sends the form of the step that a page shows.
func keyAt(c *pagetest.Client, p *pagetest.Page, do, text string) (*pagetest.Page, error) {
	path, _, _ := strings.Cut(p.Address, "?")
	f, ok := p.Form(path)
	if !ok {
		return nil, fmt.Errorf("no form to %s in %s", path, p.Words())
	}
	return c.Submit(f, "do", do, "density", text)
}

// What is keyed in on the page gives the same file, byte for byte, as the same lines of
// enter.
func TestPageKeysInAsEnter(t *testing.T) {
	type act struct{ do, text, line string }
	read := func(text string) act { return act{"save", text, text} }
	for _, c := range []struct {
		name, trial, minutes, fog string
		acts                      []act
	}{
		{"film", "larkfield-brinewater.toml", "9:30", "0.11 0.12", []act{
			read("2.25"), read("2,13"), read("201"), {"again", "2.00", "again 2.00"}, read("1.88"), {"skip", "", "skip"}, read("1.62"), {"back", "", "back"}, read("1.63"),
			read("1.49"), read("1.98"), {"keep", "", ""}, read("1.22"), read("1.10"), read("0.97"), read("0.82"), read("0.70"), read("0.58"),
			read("0.47"), read("0.38"), read("28"), read("0.22"), read("0.18"), read("0.16"), read("0.13")}},
		{"EV", "larkfield-meter.toml", "9:30", "11.9", []act{read("5 2/3"), read("6"), {"again", "6.1", "again 6.1"}, {"skip", "", "skip"}, read("6,7"), {"back", "", "back"}, read("6.8")}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, byEnter := copied(t, c.trial)
			lines := "fog " + c.fog + "\nstep 1\n"
			dir, byPage := copied(t, c.trial)
			h, err := page.New(dir, pagetest.Open{})
			require.NoError(t, err)
			server := httptest.NewServer(h)
			defer server.Close()
			client := &pagetest.Client{Base: server.URL}
			name, _ := strings.CutSuffix(c.trial, ".toml")
			p, err := client.Get("/t/" + name + "/strips/new")
			require.NoError(t, err)
			f, ok := p.Form("/strips/new")
			require.True(t, ok)
			p, err = client.Submit(f, "minutes", c.minutes, "base_fog", c.fog)
			require.NoError(t, err)
			for _, a := range c.acts {
				p, err = keyAt(client, p, a.do, a.text)
				require.NoError(t, err)
				require.Equal(t, http.StatusOK, p.Status, p.Words())
				if a.line != "" {
					lines += a.line + "\n"
				}
			}
			cmd := exec.Command("sensito", "enter", byEnter, "--minutes", c.minutes)
			cmd.Stdin = strings.NewReader(lines + "stop\n")
			out, err := cmd.CombinedOutput()
			require.NoError(t, err, "%s", out)
			want, err := os.ReadFile(byEnter)
			require.NoError(t, err)
			got, err := os.ReadFile(byPage)
			require.NoError(t, err)
			assert.Equal(t, string(want), string(got))
		})
	}
}

var served = regexp.MustCompile(`http://127\.0\.0\.1:\d+(/\S*)?`)

// serving starts the page of a folder as a program of its own, and enters as its first
// line says where no earlier one let the client in.
func serving(t *testing.T, dir string, port int, c *pagetest.Client, enter bool) *exec.Cmd {
	t.Helper()
	cmd := exec.Command("sensito", "serve", dir, "--port", fmt.Sprint(port))
	r, w := io.Pipe()
	cmd.Stdout, cmd.Stderr = w, w
	require.NoError(t, cmd.Start())
	address := make(chan string, 1)
	go func() {
		in := bufio.NewScanner(r)
		for in.Scan() {
			if found := served.FindString(in.Text()); found != "" {
				select {
				case address <- found:
				default:
				}
			}
		}
	}()
	select {
	case url := <-address:
		if !enter {
			break
		}
		answer, err := c.HTTP.Get(url)
		require.NoError(t, err)
		answer.Body.Close()
	case <-time.After(time.Minute):
		require.Fail(t, "serve did not say its address")
	}
	return cmd
}

// Whenever the program is killed, every reading that was answered is in the file, and the
// one that was under way can be sent again. SENSITO_KEYING_KILLS is how often it is killed.
func TestPageKilledWhileKeying(t *testing.T) {
	if testing.Short() {
		t.Skip("programs start slowly under the race detector")
	}
	t.Setenv("XDG_CACHE_HOME", t.TempDir()) // where the guard keeps its secret
	dir, path := copied(t, "larkfield-brinewater.toml")
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	port := l.Addr().(*net.TCPAddr).Port
	l.Close()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	c := &pagetest.Client{Base: fmt.Sprintf("http://127.0.0.1:%d", port), HTTP: http.Client{Jar: jar, Timeout: time.Minute}}
	cmd := serving(t, dir, port, c, true)
	defer func() { cmd.Process.Kill(); cmd.Wait() }()

	const steps = 21
	reading := func(round, step int) float64 {
		return math.Round(100*(2.30-0.1*float64(step)+0.01*float64(round%3))) / 100
	}
	kills, strips, answered := 0, 0, 0
	wanted := depth("SENSITO_KEYING_KILLS", 4)
	var p *pagetest.Page
	for kills < wanted {
		strips++
		for {
			if p, err = c.Get("/t/larkfield-brinewater/strips/new"); err == nil {
				break
			}
			cmd.Wait()
			cmd = serving(t, dir, port, c, false)
		}
		f, ok := p.Form("/strips/new")
		require.True(t, ok, p.Words())
		for { // a strip that is begun twice is there once
			if p, err = c.Submit(f, "minutes", fmt.Sprintf("%d:%02d", 8+strips/60, strips%60), "base_fog", "0.11"); err == nil {
				break
			}
			cmd.Wait()
			cmd = serving(t, dir, port, c, false)
		}
		require.Equal(t, http.StatusOK, p.Status, p.Words())
		number := 5 + strips
		for step := 1; step <= steps; {
			if kills < wanted {
				kill := cmd.Process
				time.AfterFunc(time.Duration(rand.IntN(300_000))*time.Microsecond, func() { kill.Kill() })
			}
			for ; step <= steps; step++ {
				text := fmt.Sprintf("%.2f", reading(strips, step))
				answer, err := keyAt(c, p, "save", text)
				if err == nil && strings.Contains(answer.Address, "typed=") {
					p = answer
					answer, err = keyAt(c, p, "keep", "")
				}
				if err != nil {
					break
				}
				require.Equal(t, http.StatusOK, answer.Status, answer.Words())
				require.Contains(t, answer.Words(), "Saved ")
				p = answer
				answered++
			}
			trial, err := notebook.ReadFile(path)
			require.NoError(t, err)
			is := trial.Strips()[number-1].Spec()
			for done := 1; done < step; done++ {
				require.InDelta(t, reading(strips, done), float64(is.Density[done-1]), 1e-9, "step %d of strip %d, after %d kills", done, number, kills)
			}
			if step <= steps {
				kills++
				cmd.Wait()
				cmd = serving(t, dir, port, c, false)
			}
		}
	}
	t.Logf("killed %d times, %d readings answered, all in the file", kills, answered)
	require.Positive(t, answered)
}
