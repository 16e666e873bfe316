package report

import (
	"sensito/sensito"
	"sensito/sensito/answers"
)

// Words are sentences of a report, for a screen that sets them in its own order. One that
// does not apply is "".
type Words struct {
	Expose     string   // the exposure value, with aperture and time where they were asked for
	Exposure   []string // the spot readings, the camera's setting and how long exposures are corrected
	Conditions string   // those of today, where they are not the trial's
	Process    string   // by the control log that is given
	Placement  string
	Worst      string // which frame of a roll suffers most, and how much
	Warnings   sensito.Warnings
}

// Words returns the sentences of a scene.
func (r *Scene) Words() Words {
	return Words{Expose: r.evText(), Exposure: r.exposureTexts(), Placement: answers.Placement(r.answer.Scene), Warnings: r.warnings}.
		said(r.conditions, r.today, uncorrectedAnswer(r.answer, r.level))
}

// Words returns the sentences of a roll.
func (r *Roll) Words() Words {
	return Words{Worst: r.worst(), Placement: r.placement(), Warnings: r.warnings}.said(r.conditions, r.today, r.uncorrected())
}

// Words returns the sentences of a card.
func (r *Card) Words() Words {
	return Words{Warnings: r.warnings}.said(r.conditions, r.today, nil)
}

// said adds what is told of the conditions and of the process of today.
func (w Words) said(c *Conditions, t *Today, was *Uncorrected) Words {
	if c != nil {
		w.Conditions = c.text()
	}
	if t != nil {
		w.Process = t.text(was.answers("EI"), "")
	}
	return w
}
