package enter

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
)

// stripFor returns the strip of a file that is there with which to go on, or a new
// one; 0 where its time is to be asked.
func (o *options) stripFor(file *kept, t *talk, m sensito.Minutes) (int, error) {
	strips := file.trial.Strips()
	paper := file.trial.Material() == sensito.PaperMaterial
	switch {
	case o.strip > len(strips):
		return 0, console.Usagef("--strip %d is outside 1 to %d", o.strip, len(strips))
	case o.strip > 0:
		return o.strip, nil
	case m == 0 && o.grade == "":
		if i := slices.IndexFunc(strips, func(s *sensito.Strip) bool { return s.NextStep() > 0 }); i >= 0 {
			return i + 1, nil
		}
		if i := slices.IndexFunc(strips, notBegun); i >= 0 {
			return i + 1, nil
		}
	}
	switch {
	case o.grade != "" && !paper:
		return 0, console.Usagef("--grade is of paper, and %s is a film", file.path)
	case m == 0 && o.grade == "" && t.asks:
		return 0, nil
	case m == 0 && !paper:
		return 0, console.Usagef("every strip of %s is complete; begin another with --minutes M:SS", file.path)
	}
	if i := slices.IndexFunc(strips, func(s *sensito.Strip) bool {
		return s.Minutes() == m && s.Grade() == o.grade && notBegun(s)
	}); i >= 0 {
		return i + 1, nil
	}
	return file.begin(emptyStrip(m, o.grade, file.trial.Exposures().Len()))
}

// flagged returns the answers that flags give, and what is wrong with them.
func (o *options) flagged() (answers, error) {
	a := answers{}
	var errs []error
	for _, q := range trialQuestions {
		text := *o.facts[q.key]
		if !o.given(q.key) {
			continue
		}
		answer, _, err := q.understood(text)
		if err != nil {
			errs = append(errs, fmt.Errorf("--%s %w", q.key, err))
		}
		a[q.key] = answer
	}
	return a, errors.Join(errs...)
}

// ofExposure are the flags of how a new trial was exposed.
var ofExposure = []string{"way", "wedge-count", "wedge-first", "wedge-step", "lux", "seconds", "meter-index", "stops", "step-stops",
	"frame-index", "frame-stops", "frame-reading"}

// newTrial asks what is not known yet of a trial, and returns it as a file that is
// written with its first reading.
func (o *options) newTrial(ctx context.Context, t *talk, d *draft, last known) (*kept, error) {
	questions := slices.Concat(trialQuestions, stripQuestions(1))
	if d.Answers["as-of"] != last.name {
		delete(d.Answers, "as") // which was asked of another trial
	}
	d.Answers["as-of"] = last.name
	if last.trial != nil && last.trial.Exposures().Frame() == nil && // which is of its film
		t.asks && !slices.ContainsFunc(ofExposure, o.given) {
		i := slices.IndexFunc(questions, func(q question) bool { return q.key == "way" })
		questions = slices.Insert(questions, i, last.question())
	} else if d.Answers["as"] == asBefore {
		delete(d.Answers, "as") // that trial has gone, or others are given
	}
	fixed, err := o.flagged()
	if err != nil {
		return nil, console.Usage(err)
	}
	if o.given("minutes") {
		fixed["minutes"] = o.minutes
	}
	if o.given("grade") {
		fixed["grade"] = o.grade
	}
	f := &form{talk: t, questions: questions, answers: d.Answers, offered: last.offers(), keep: d.keep}
	f.fix(fixed)
	if t.asks && d.taken {
		f.review()
	}
	if t.asks && last.trial != nil {
		t.say("In brackets: as in %s.\n", last.name)
	}
	for {
		if !t.asks {
			if missing := f.missing(); len(missing) > 0 {
				return nil, console.Usagef("%s does not exist; a new trial needs --%s", d.path, strings.Join(missing, ", --"))
			}
		} else if err := f.fill(ctx); err != nil {
			return nil, err
		}
		f.usual()
		trial, err := f.answers.trial(last.trial)
		if err == nil {
			file := &kept{path: d.path, before: map[string]bool{}, notes: t.streams.Err, trial: trial, fresh: true, begun: true, draft: d}
			if t.asks {
				return file, d.keep()
			}
			return file, o.write(t, file)
		}
		bad := badAnswer{}
		if !t.asks || !errors.As(err, &bad) {
			return nil, console.Usage(err)
		}
		if err := t.fault(errors.New(strings.TrimPrefix(err.Error(), "--"))); err != nil {
			return nil, err
		}
		if !f.again(bad.keys) {
			return nil, console.Usage(err)
		}
	}
}

// write writes a new file at once, where nobody is there who could have mistyped
// something.
func (o *options) write(t *talk, file *kept) error {
	if err := t.streams.Save(file.path, func() error { return file.create(file.trial.Strips()[0].Spec()) }); err != nil {
		return err
	}
	t.say("sensito: wrote %s\n", file.path)
	return nil
}
