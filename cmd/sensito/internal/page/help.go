package page

import (
	"html/template"
	"net/http"

	"sensito/cmd/sensito/internal/page/screen"
	"sensito/cmd/sensito/internal/topics"
)

// help answers with the topics there are.
func (s *Server) help(w http.ResponseWriter, r *http.Request) error {
	p := s.page(r, "Help", "/help")
	p.Content, p.Terminal = topics.All(), "sensito --help"
	return s.write(w, "help", p)
}

// topic answers with one topic. Each word of the glossary has its own place in it.
func (s *Server) topic(w http.ResponseWriter, r *http.Request) error {
	for _, t := range topics.All() {
		if t.Name != r.PathValue("topic") {
			continue
		}
		text, err := t.HTML(screen.TermID)
		if err != nil {
			return err
		}
		p := s.page(r, t.Title, "/help")
		p.Content, p.Terminal = template.HTML(text), "sensito help "+t.Name // of our own, with no HTML in it
		return s.write(w, "topic", p)
	}
	return &missingError{"There is no such topic."}
}
