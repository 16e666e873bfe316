package browsertest

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/page/pagetest"
	"sensito/sensito/notebook"
)

// keyedFiles is how many trials the clients that key in share.
const keyedFiles = 5

// A load is what clients do to a server and how it answers.
type load struct {
	t      testing.TB
	server *server
	http   *http.Client

	mu      sync.Mutex
	took    []time.Duration
	saved   map[string]map[string]float64 // file, then "strip step": readings that were answered Saved
	strange []string                      // answers that are none
}

var regexpStrip = regexp.MustCompile(`/strips/(\d+)/\d+$`)

// reading is that of a step, the same in no two strips that are keyed in at a time.
func reading(client, step int) float64 { return float64(230-10*step+client%5) / 100 }

// ask asks once and takes the time.
func (l *load) ask(what string, ask func() (*pagetest.Page, error)) *pagetest.Page {
	from := time.Now()
	p, err := ask()
	took := time.Since(from)
	l.mu.Lock()
	defer l.mu.Unlock()
	l.took = append(l.took, took)
	switch {
	case err != nil:
		l.strange = append(l.strange, what+": "+err.Error())
		return nil
	case p.Status != http.StatusOK:
		l.strange = append(l.strange, fmt.Sprintf("%s: %d %s", what, p.Status, p.Words()))
		return nil
	}
	return p
}

// A hand is a client that keys in strips, an act at a time.
type hand struct {
	client int
	trial  string
	page   *pagetest.Page // nil before a strip is begun
	begun  int
	step   int
}

// act begins a strip or keys in a reading.
func (l *load) act(h *hand, c *pagetest.Client) {
	if h.page == nil {
		p := l.ask("new strip", func() (*pagetest.Page, error) { return c.Get("/t/" + h.trial + "/strips/new") })
		if p == nil {
			return
		}
		f, ok := p.Form("/strips/new")
		if !ok {
			l.fault("no form: " + p.Words())
			return
		}
		h.begun++
		minutes := fmt.Sprintf("%d:%02d", 10+h.begun, h.client)
		h.page, h.step = l.ask("begin", func() (*pagetest.Page, error) { return c.Submit(f, "minutes", minutes, "base_fog", "0.11") }), 1
		return
	}
	path, _, _ := strings.Cut(h.page.Address, "?")
	f, ok := h.page.Form(path)
	if !ok {
		l.fault("no form: " + h.page.Words())
		return
	}
	do, text := "save", fmt.Sprintf("%.2f", reading(h.client, h.step))
	if strings.Contains(h.page.Address, "typed=") { // questioned
		do, text = "keep", ""
	}
	p := l.ask("reading", func() (*pagetest.Page, error) { return c.Submit(f, "do", do, "density", text) })
	if p == nil {
		return
	}
	h.page = p
	if strings.Contains(p.Address, "typed=") {
		return
	}
	if !strings.Contains(p.Words(), "Saved ") {
		l.fault("not saved: " + p.Words())
		return
	}
	number := regexpStrip.FindStringSubmatch(path)[1]
	l.mu.Lock()
	if l.saved[h.trial] == nil {
		l.saved[h.trial] = map[string]float64{}
	}
	l.saved[h.trial][fmt.Sprintf("%s %d", number, h.step)] = reading(h.client, h.step)
	l.mu.Unlock()
	if h.step++; h.step > 21 {
		h.page = nil
	}
}

func (l *load) fault(what string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.strange = append(l.strange, what)
}

// computed are the pages that clients ask for who do not key in. %d is any number.
var computed = []string{"/t/keyed%d", "/scene?trial=keyed%d&range=7", "/card?trial=keyed%d", "/t/larkfield-camera", "/log", "/", "/p/slate"}

// Clients key in and have scenes computed, each an act in two seconds: nothing fails, no
// reading that was answered is lost, memory stays flat. With SENSITO_LOAD=1 they are fifty
// and do so for a minute, and half of the answers come within 150 ms.
func TestLoad(t *testing.T) {
	if testing.Short() {
		t.Skip("programs are slow beside the race detector")
	}
	clients, lasts, pace := 5, 3*time.Second, 200*time.Millisecond
	whole := os.Getenv("SENSITO_LOAD") == "1"
	if whole {
		clients, lasts, pace = 50, time.Minute, 2*time.Second
	}
	dir := demoNotebook(t)
	text, err := os.ReadFile(filepath.Join(dir, "larkfield-brinewater.toml"))
	require.NoError(t, err)
	for i := range keyedFiles {
		require.NoError(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("keyed%d.toml", i)), text, 0o666))
	}
	s := serve(t, dir)
	l := &load{t: t, server: s, http: s.client(), saved: map[string]map[string]float64{}}
	l.http.Transport = &http.Transport{MaxIdleConnsPerHost: clients}
	end := time.Now().Add(lasts)
	var wg sync.WaitGroup
	for i := range clients {
		wg.Go(func() {
			c := &pagetest.Client{Base: s.base, HTTP: *l.http}
			h := &hand{client: i, trial: fmt.Sprintf("keyed%d", i/2%keyedFiles)}
			time.Sleep(time.Duration(rand.Int64N(int64(pace))))
			for tick := time.NewTicker(pace); time.Now().Before(end); <-tick.C {
				if i%2 == 0 {
					l.act(h, c)
					continue
				}
				address := computed[rand.IntN(len(computed))]
				if strings.Contains(address, "%d") {
					address = fmt.Sprintf(address, rand.IntN(keyedFiles))
				}
				l.ask(address, func() (*pagetest.Page, error) { return c.Get(address) })
			}
		})
	}
	memory := make(chan []int)
	go func() {
		var sizes []int
		for time.Now().Before(end) {
			if size := residentKB(s.cmd.Process.Pid); size > 0 {
				sizes = append(sizes, size)
			}
			time.Sleep(lasts / 60)
		}
		memory <- sizes
	}()
	wg.Wait()
	assert.Empty(t, l.strange)
	readings := 0
	for trial, saved := range l.saved {
		is, err := notebook.ReadFile(filepath.Join(dir, trial+".toml"))
		require.NoError(t, err)
		for place, want := range saved {
			var strip, step int
			fmt.Sscan(place, &strip, &step)
			assert.InDelta(t, want, float64(is.Strips()[strip-1].Spec().Density[step-1]), 1e-9, "%s, strip and step %s", trial, place)
			readings++
		}
	}
	require.Positive(t, readings)
	slices.Sort(l.took)
	median := l.took[len(l.took)/2]
	t.Logf("%d clients: %d answers, median %v, 95 %% within %v, longest %v; %d readings, all in the files",
		clients, len(l.took), median, l.took[len(l.took)*95/100], l.took[len(l.took)-1], readings)
	if whole {
		assert.LessOrEqual(t, median, 150*time.Millisecond)
	}
	if sizes := <-memory; len(sizes) > 30 {
		before, after := slices.Max(sizes[len(sizes)/3:2*len(sizes)/3]), slices.Max(sizes[2*len(sizes)/3:])
		t.Logf("resident: %d MiB at first, at most %d MiB in the second third and %d MiB in the last", sizes[0]>>10, before>>10, after>>10)
		assert.LessOrEqual(t, after, before+before/4+16<<10, "KiB resident")
	}
}

// residentKB returns the memory that a process has, 0 where the system does not say.
func residentKB(process int) int {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", process))
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(text), "VmRSS:")
	size, _ := strconv.Atoi(strings.Fields(rest + " 0")[0])
	return size
}

// BenchmarkStart measures from the start of the program to its first line.
func BenchmarkStart(b *testing.B) {
	dir := demoNotebook(b)
	s := serve(b, dir)
	for b.Loop() {
		b.StopTimer()
		s.kill()
		b.StartTimer()
		s.start()
	}
}
