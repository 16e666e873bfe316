package enter

import (
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"time"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/told"
	"sensito/cmd/sensito/internal/typed"
	"sensito/sensito"
	"sensito/sensito/notebook"
)

// A known trial is the one of the notebook that was written last, from which
// answers for a new one are offered.
type known struct {
	name  string
	trial *sensito.Trial
}

// mostLooked is how many files are looked at for a trial that can be read.
const mostLooked = 20

// lastTrial returns the trial of film, or of paper, in the folder of a file that was
// written last; its trial is nil where there is none.
func lastTrial(s console.Streams, path, what string) known {
	kind := notebook.FilmKind
	if what == whatPaper {
		kind = notebook.PaperKind
	}
	list, err := notebook.List(filepath.Dir(path))
	if err != nil {
		return known{}
	}
	list = slices.DeleteFunc(list, func(e notebook.Entry) bool { return e.Kind != kind })
	modified := func(e notebook.Entry) time.Time {
		info, err := os.Stat(e.Path)
		if err != nil {
			return time.Time{}
		}
		return info.ModTime()
	}
	slices.SortStableFunc(list, func(a, b notebook.Entry) int { return modified(b).Compare(modified(a)) })
	for _, e := range list[:min(len(list), mostLooked)] {
		if trial, err := console.ReadInput(s, e.Path, notebook.Read); err == nil {
			return known{e.Name, trial}
		}
	}
	return known{}
}

// offers are the answers that the trial gives to the questions of another one.
func (k known) offers() answers {
	if k.trial == nil {
		return nil
	}
	a := answers{}
	if m := k.trial.Strips()[0].Minutes(); m > 0 {
		a["minutes"] = m.Clock(1)
	}
	put := func(key, value string) {
		if value != "" {
			a[key] = value
		}
	}
	num := func(key string, v float64) {
		if v != 0 {
			a[key] = typed.Written(v)
		}
	}
	p := k.trial.Process()
	dilution := p.Dilution
	if dilution != "" {
		dilution = " " + dilution
	}
	put("developer", p.Developer+dilution)
	num("temperature", p.TemperatureC)
	put("agitation", string(p.Agitation))
	maps.Copy(a, readingOffers(k.trial.Reading()))
	e := k.trial.Exposures()
	put("way", string(e.Kind()))
	num("lux", e.IlluminanceLx())
	num("seconds", float64(e.Seconds()))
	num("meter-index", float64(e.MeterIndex()))
	if wedge := e.Wedge(); wedge != nil {
		if count, first, step, even := evenly(wedge); even {
			a["wedge-count"], a["wedge-first"], a["wedge-step"] = count, first, step
		}
	}
	return a
}

// evenly returns a wedge or tablet of even steps as the answers that give it; even is
// false for any other.
func evenly(wedge []sensito.Density) (count, first, step string, even bool) {
	by := math.Round(float64(wedge[1]-wedge[0])*1e6) / 1e6
	even = slices.Equal(wedge, sensito.EvenWedge(wedge[0], sensito.Density(by), len(wedge)))
	return strconv.Itoa(len(wedge)), typed.Written(float64(wedge[0])), typed.Written(by), even
}

// question is whether a new trial was exposed as this one.
func (k known) question() question {
	return question{key: "as", ask: fmt.Sprintf("Exposed as %s (%s)", k.name, told.Exposures(k.trial.Exposures())), choices: []string{"yes", "no"}, usual: asBefore}
}

// times returns the development times of the trial's strips of film.
func (k known) times() []string {
	var out []string
	if k.trial == nil || k.trial.Material() == sensito.PaperMaterial {
		return nil
	}
	for _, s := range k.trial.Strips() {
		if text := s.Minutes().Clock(1); !slices.Contains(out, text) {
			out = append(out, text)
		}
	}
	return out
}

var speedInName = regexp.MustCompile(`(?:^|\D)(\d{2,4})$`)

// speedOf returns the number at the end of a film's name, which usually is its speed.
func speedOf(name string) string {
	if part := speedInName.FindStringSubmatch(name); part != nil {
		return part[1]
	}
	return ""
}
