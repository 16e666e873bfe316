package listing

import (
	"slices"
	"strings"

	"sensito/sensito"
)

// Film says whether the trial is one of film.
func (s *Trial) Film() bool { return s.Trial.Material() == sensito.FilmMaterial }

// Compared returns the trials that say something beside each other: of each film that was
// developed in several developers or dilutions, the trial of each that has the most strips,
// the newer of two. Of a film the oldest comes first, which the others are held against.
// Trials that give no times are left out.
func (n *Notebook) Compared() [][]Entry {
	var films []string
	best := map[string][]Entry{} // by film
	same := func(a, b Entry) bool {
		p, q := a.Trial.Trial.Process(), b.Trial.Trial.Process()
		return strings.EqualFold(p.Developer, q.Developer) && strings.EqualFold(p.Dilution, q.Dilution)
	}
	for _, e := range n.Entries {
		if e.Trial == nil || !e.Trial.Film() || e.Trial.Normal == nil {
			continue
		}
		film := e.Trial.Trial.Film().Name
		of := best[film]
		i := slices.IndexFunc(of, func(o Entry) bool { return same(o, e) })
		switch {
		case i < 0:
			if len(of) == 0 {
				films = append(films, film)
			}
			best[film] = append(of, e)
		case len(e.Trial.Strips) > len(of[i].Trial.Strips):
			of[i] = e
		}
	}
	var out [][]Entry
	for _, film := range films {
		if len(best[film]) > 1 {
			slices.Reverse(best[film])
			out = append(out, best[film])
		}
	}
	return out
}
