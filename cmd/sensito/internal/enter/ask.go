package enter

import (
	"context"
	"fmt"

	"charm.land/huh/v2"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
)

// askTrial asks on the terminal what the flags do not say of a new trial.
func (o *options) askTrial(ctx context.Context, s console.Streams) error {
	var groups []*huh.Group
	for _, page := range pages {
		var fields []huh.Field
		of := sensito.Kind("")
		for _, q := range page {
			if q.ask != "" && !o.given(q.flag) {
				fields = append(fields, q.field(o.draft[q.flag], o.plain))
				of = q.of
			}
		}
		if len(fields) == 0 {
			continue
		}
		if o.plain { // the questions of one kind of exposure follow when the kind is known
			if of == "" || of == o.draft.way() {
				if err := s.Ask(ctx, o.plain, huh.NewGroup(fields...)); err != nil {
					return err
				}
			}
			continue
		}
		groups = append(groups, huh.NewGroup(fields...).WithHideFunc(func() bool { return of != "" && of != o.draft.way() }))
	}
	if o.minutes == "" {
		groups = append(groups, huh.NewGroup(minutesField(&o.minutes, 1)))
	}
	return s.Ask(ctx, o.plain, groups...)
}

// askMinutes asks for the development time of a strip.
func (o *options) askMinutes(ctx context.Context, s console.Streams, number int) (sensito.Minutes, error) {
	if err := s.Ask(ctx, o.plain, huh.NewGroup(minutesField(&o.minutes, number))); err != nil {
		return 0, err
	}
	return sensito.ParseMinutes(o.minutes)
}

func minutesField(answer *string, number int) huh.Field {
	return huh.NewInput().Title(fmt.Sprintf("Development time of strip %d, like 5:30", number)).Value(answer).
		Validate(func(text string) error { _, err := sensito.ParseMinutes(text); return err })
}

// field returns the question as a field of a form. Line by line the usual answer
// is not shown by itself.
func (q question) field(answer *string, plain bool) huh.Field {
	if len(q.choices) > 0 {
		options := huh.NewOptions(q.choices...)
		if q.usual == "" {
			options = append([]huh.Option[string]{huh.NewOption("not stated", "")}, options...)
		}
		return huh.NewSelect[string]().Title(q.ask).Options(options...).Value(answer)
	}
	title := q.ask
	if plain && *answer != "" {
		title += " (" + *answer + ")"
	}
	return huh.NewInput().Title(title).Value(answer).Validate(q.check)
}
