package page

import (
	"errors"
	"fmt"
	"net/http"
	"strings"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/printable"
)

// A message is a page that says one thing.
type message struct {
	Says  []string
	Lines []line // of a file
	Links []link
}

// A line is one of a file that is shown.
type line struct {
	Text   string
	Faulty bool
}

// A link leads to another page.
type link struct{ Address, Text string }

// fail answers a request with what went wrong: one place where errors become a status and
// a page.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	title, status := "This cannot be answered", http.StatusUnprocessableEntity
	says := []string{printable.Lines(err.Error())}
	var missing *missingError
	var bad *badRequestError
	var unanswerable *sensito.Unanswerable
	var tooLarge *http.MaxBytesError
	var lines []line
	var broken *brokenError
	switch {
	case errors.As(err, &broken):
		title, says, lines = broken.page()
	case errors.As(err, &missing):
		title, status = "Nothing here", http.StatusNotFound
	case errors.As(err, &tooLarge):
		title, status = "Too large", http.StatusRequestEntityTooLarge
		says = []string{"What was sent is larger than this page takes. Nothing was saved."}
	case errors.As(err, &bad), errors.As(err, new(console.UsageError)):
		title, status = "Not understood", http.StatusBadRequest
	case errors.As(err, &unanswerable):
		if unanswerable.Hint != "" {
			says = append(says, printable.Lines(unanswerable.Hint))
		}
	}
	p := s.page(r, title, "")
	p.Content = &message{Says: says, Lines: lines, Links: []link{{"/", "To the notebook"}}}
	if err := s.writeStatus(w, status, "message", p); err != nil {
		http.Error(w, "the page could not be set", http.StatusInternalServerError)
	}
}

// A brokenError says why a file of the notebook cannot be read.
type brokenError struct {
	file *file
	err  error
}

func (e *brokenError) Error() string { return e.err.Error() }
func (e *brokenError) Unwrap() error { return e.err }

// mostFaults is how many faults of a file are told, and around how many lines before and
// behind the first of them the file is shown.
const mostFaults, shownAround = 5, 4

// page returns what a page tells of the file: its first faults, and the lines about the
// first of them.
func (e *brokenError) page() (title string, says []string, lines []line) {
	title = printable.Text(e.file.Name) + " cannot be read"
	var faults notebook.Errors
	if !errors.As(e.err, &faults) {
		return title, []string{printable.Lines(e.err.Error())}, nil
	}
	faulty := map[int]bool{}
	first := 0
	for i, f := range faults {
		if first == 0 {
			first = f.Line
		}
		faulty[f.Line] = true
		if i >= mostFaults {
			continue
		}
		text := f.Msg
		if f.Key != "" {
			text = f.Key + ": " + text
		}
		if f.Line > 0 {
			text = fmt.Sprintf("Line %d: %s", f.Line, text)
		}
		says = append(says, printable.Lines(text)+".")
	}
	if more := len(faults) - mostFaults; more > 0 {
		says = append(says, fmt.Sprintf("And %d more.", more))
	}
	says = append(says, "Mend the file in a text editor, save it, and load this page again.")
	if first == 0 {
		return title, says, nil
	}
	for i, text := range strings.Split(strings.TrimRight(string(e.file.data), "\n"), "\n") {
		if n := i + 1; n >= first-shownAround && n <= first+shownAround {
			lines = append(lines, line{fmt.Sprintf("%4d  %s", n, printable.Text(strings.TrimRight(text, "\r"))), faulty[n]})
		}
	}
	return title, says, lines
}
