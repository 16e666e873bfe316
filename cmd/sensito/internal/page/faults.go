package page

import (
	"errors"
	"net/http"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
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
	switch {
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
	p.Content = &message{Says: says, Links: []link{{"/", "To the notebook"}}}
	if err := s.writeStatus(w, status, "message", p); err != nil {
		http.Error(w, "the page could not be set", http.StatusInternalServerError)
	}
}
