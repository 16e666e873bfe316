package console

import (
	"fmt"
	"io"
	"runtime"
	"time"
)

// InOrder does work on every item, several at a time, and hands the results to
// take in the order of the items. No more than a few results exist at once, so
// memory does not grow with the number of items. An error from take ends it. A
// panic of work is passed on here, with where it began.
func InOrder[I, R any](items []I, work func(item I) (R, error), take func(i int, r R, err error) error) error {
	type result struct {
		r     R
		err   error
		crash *Crash
	}
	type job struct {
		item I
		done chan result // filled when its work is done
	}
	attempt := func(item I) (res result) {
		defer func() {
			if v := recover(); v != nil {
				res.crash = CrashOf(v)
			}
		}()
		res.r, res.err = work(item)
		return res
	}
	workers := min(runtime.GOMAXPROCS(0), len(items))
	pending := make(chan chan result, 2*workers) // in order
	// What was taken two items before the last that pending has room for needs its channel
	// no more.
	done := make([]chan result, cap(pending)+2)
	for i := range done {
		done[i] = make(chan result, 1)
	}
	jobs := make(chan job, workers)
	stop := make(chan struct{})
	for range workers {
		go func() {
			for j := range jobs {
				j.done <- attempt(j.item)
			}
		}()
	}
	go func() {
		defer close(pending)
		defer close(jobs)
		for i, item := range items {
			j := job{item, done[i%len(done)]}
			select {
			case pending <- j.done:
			case <-stop:
				return
			}
			jobs <- j
		}
	}()
	defer close(stop)
	i := 0
	for done := range pending {
		res := <-done
		if res.crash != nil {
			panic(res.crash)
		}
		if err := take(i, res.r, res.err); err != nil {
			return err
		}
		i++
	}
	return nil
}

// Progress says on a terminal how far a long run has come.
type Progress struct {
	w     io.Writer
	total int
	next  time.Time // when to say something next; zero for never
	shown bool
}

const progressAfter, progressEvery = time.Second, 200 * time.Millisecond

// NewProgress returns the progress of a run over so many, which is told on w if that
// is a terminal.
func NewProgress(w io.Writer, total int) *Progress {
	p := &Progress{w: w, total: total}
	if total > 1 && IsTerminal(w) {
		p.next = time.Now().Add(progressAfter)
	}
	return p
}

// Step says that so many are done, if nothing was said for a while.
func (p *Progress) Step(done int) {
	if p.next.IsZero() || time.Now().Before(p.next) {
		return
	}
	fmt.Fprintf(p.w, "\rsensito: %d of %d trials", done, p.total)
	p.shown = true
	p.next = time.Now().Add(progressEvery)
}

// End clears what was said.
func (p *Progress) End() {
	if p.shown {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}
