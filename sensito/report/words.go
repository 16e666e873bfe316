package report

import (
	"sensito/sensito"
	"sensito/sensito/report/internal/page"
)

// SceneWords are the sentences of the report of a scene, for a screen that sets them in its
// own order. One that does not apply is "".
type SceneWords struct {
	Expose     string   // the exposure value, with aperture and time where they were asked for
	Exposure   []string // the spot readings, the camera's setting and how long exposures are corrected
	Conditions string   // those of today, where they are not the trial's
	Process    string   // by the control log that is given
	Placement  string
	Error      []ErrorPart      // what the error of the time is made of, the largest part first
	Warnings   sensito.Warnings // of the answer, the setting and the control log
}

// An ErrorPart is one of the parts that the error of a time is made of.
type ErrorPart struct {
	Percent     float64
	Of, Smaller string // what it is of, and what would make it smaller
}

// Words returns what the report says in sentences.
func (r *Scene) Words() SceneWords {
	out := SceneWords{Expose: r.evText(), Exposure: r.exposureTexts(), Placement: placementText(r.answer.Scene), Warnings: r.warnings}
	out.Conditions, out.Process = said(r.conditions, r.today, uncorrectedAnswer(r.answer, r.level))
	for _, part := range r.answer.Budget() {
		words := partsInWords[part.Of]
		out.Error = append(out.Error, ErrorPart{100 * part.Share, words[0], words[1]})
	}
	return out
}

// RollWords are the sentences of the report of a roll.
type RollWords struct {
	What       string // the roll and its aim
	Worst      string // which frame suffers most, and how much
	Placement  string
	Conditions string // as of a scene
	Process    string
}

// Words returns what the report says in sentences.
func (r *Roll) Words() RollWords {
	out := RollWords{What: r.what() + ".", Worst: r.worst(), Placement: r.placement()}
	out.Conditions, out.Process = said(r.Conditions, r.Today, r.Uncorrected)
	return out
}

// CardWords are the sentences of the report of a card.
type CardWords struct {
	Flare               string
	Conditions, Process string // as of a scene
}

// Words returns what the report says in sentences.
func (r *Card) Words() CardWords {
	out := CardWords{Flare: flareName(r.scene.Flare)}
	out.Conditions, out.Process = said(r.Conditions, r.Today, nil)
	return out
}

// SheetCautions returns what a process sheet warns of wherever it stands.
func SheetCautions() []string { return []string{mixCautions, page.Hazards} }

// said returns what is told of the conditions and of the process of today.
func said(c *Conditions, t *Today, was *Uncorrected) (conditions, process string) {
	if c != nil {
		conditions = c.text()
	}
	if t != nil {
		process = t.text(was.answers("EI"), "")
	}
	return conditions, process
}
