package page

import (
	"bytes"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/page/pictured"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/pictures"
	"sensito/sensito/picture"
	"sensito/sensito/printable"
)

// pictureAsk returns the sentence of what lies in the frame, as it is asked.
func (s *Server) pictureAsk(q *pictureQuery, im *picture.Image) (*pictured.Ask, error) {
	entries, err := notebook.List(s.dir)
	if err != nil {
		return nil, err
	}
	trials := []screen.Option{{Text: "no trial: densities alone"}}
	known := []screen.Option{{Text: "choose"}}
	for _, e := range entries {
		name := nameOf(e.Name)
		if printable.Text(name) != name {
			continue
		}
		switch e.Kind {
		case notebook.FilmKind:
			if t, err := s.kept.get(e).trial(); err == nil && t.Reading().Unit == sensito.UnitDensity {
				trials = append(trials, screen.Option{Value: name, Text: s.kept.get(e).title()})
			}
		case notebook.PictureKind:
			known = append(known, s.knownBy(e)...)
		}
	}
	out := &pictured.Ask{}
	value := func(key, between string) string { return printable.Text(strings.Join(q.values[key], between)) }
	field := func(before, key, after, hint string, short bool) screen.Part {
		return screen.Part{Before: before, After: after, Field: &screen.Field{Name: key, Value: value(key, between(key)), Hint: hint, Short: short}}
	}
	out.Parts = append(out.Parts, screen.Part{Before: "A strip of", Choice: chosenOf("into", trials, q.all.Get("into"))})
	if q.into.Name == "" {
		out.Parts = append(out.Parts, field("of", "steps", "steps,", "21", true))
	}
	out.Parts = append(out.Parts, field("developed for", "minutes", "min:s,", "8:00", false))
	chosen := ""
	for _, key := range []string{"tablet", "by"} {
		if v := q.all.Get(key); v != "" {
			chosen = url.Values{key: {v}}.Encode()
		}
	}
	out.Parts = append(out.Parts, screen.Part{Before: "read by", Choice: chosenOf(knownKey, known, chosen)})
	out.Parts = append(out.Parts, field("and base plus fog at", "fog", "", s.fogHint(q), false))
	if len(im.Planes) > 1 {
		channels := []screen.Option{{Text: "green, as usual"}}
		for _, c := range ask.Channels {
			if slices.ContainsFunc(im.Planes, func(p picture.Plane) bool { return p.Name == c }) {
				channels = append(channels, screen.Option{Value: c, Text: c})
			}
		}
		out.More = append(out.More, screen.Part{Before: "The channel that is read:", Choice: chosenOf("channel", channels, q.all.Get("channel"))})
	}
	there, err := s.pictures.list()
	if err != nil {
		return nil, err
	}
	tables := []screen.Option{{Text: "as it is"}}
	for _, c := range there {
		if printable.Text(c.name) == c.name && !slices.Contains(q.files, c.name) {
			tables = append(tables, screen.Option{Value: c.name, Text: "made even by the empty table in " + c.name})
		}
	}
	out.More = append(out.More, screen.Part{Before: "The light is taken", Choice: chosenOf(emptyKey, tables, q.all.Get(emptyKey))},
		field("Black tape at", "opaque", "", "200,500", false), field("a clear place at", "clear", "", "200,40", false),
		field("the middle of each step that is read is", "patch", "pixels wide", "", true))
	if q.values.Has("tablet") {
		out.More = append(out.More, field("values stand for light as", "encoding", "", "auto", false), field("the tablet’s scale is known to", "scale-sd", "", "0.02", true))
	}
	out.More = append(out.More, field("a densitometer read", "anchor", "", "21=0.11", false))
	shown := []string{"into", "steps", "minutes", "tablet", "by", "fog", missedKey, markKey}
	for _, p := range out.More {
		key := ""
		if p.Field != nil {
			key = p.Field.Name
		} else {
			key = p.Choice.Name
		}
		shown = append(shown, key)
		out.Open = out.Open || q.values.Has(key)
	}
	out.Hidden = q.hidden(shown...)
	if len(known) == 1 {
		out.Notes = append(out.Notes, screen.Note{About: "No tablet yet.", Marked: true, Text: []screen.Run{
			{Text: "The notebook has no file with the densities of a tablet. "}, {Text: "How it is written", Address: "/help/pictures"}, {Text: "; then load this page again."}}})
	}
	out.Notes = append(out.Notes,
		screen.Note{About: "Several strips", Text: []screen.Run{{Text: "in one picture: give their times in order, as 4:00, 5:30, and mark them in that order."}}},
		screen.Note{About: "How to picture,", Text: []screen.Run{{Text: "and what spoils it: "}, {Text: "readings from a picture", Address: "/help/pictures"}, {Text: "."}}})
	return out, nil
}

// fogHint is the place after the last step.
func (s *Server) fogHint(q *pictureQuery) string {
	steps := 21
	if n, err := strconv.Atoi(q.values.Get("steps")); err == nil && n > 0 {
		steps = n
	}
	if q.into.Name != "" {
		if t, err := s.kept.get(q.into).trial(); err == nil {
			steps = t.Exposures().Len()
		}
	}
	return fmt.Sprintf("step=%d", steps+1)
}

// between is what parts the values of a list in one field.
func between(key string) string {
	if key == "fog" { // whose places have commas
		return "; "
	}
	return ", "
}

// chosenOf returns a choice with the option of a value chosen.
func chosenOf(name string, options []screen.Option, value string) *screen.Choice {
	value = printable.Text(value)
	is := slices.IndexFunc(options, func(o screen.Option) bool { return o.Value == value })
	if is < 0 { // as it was asked, and refused
		options, is = append(options, screen.Option{Value: value, Text: value}), len(options)
	}
	options[is].Chosen = true
	return &screen.Choice{Name: name, Options: options}
}

// knownBy are the ways in which a file of a tablet or a calibration tells densities.
func (s *Server) knownBy(e notebook.Entry) []screen.Option {
	var out []screen.Option
	name := nameOf(e.Name)
	if t, err := s.tablet(e); err == nil {
		text := "a tablet in this picture: " + name
		if t.Name != "" {
			text += " (" + t.Name + ")"
		}
		out = append(out, screen.Option{Value: url.Values{"tablet": {name}}.Encode(), Text: printable.Text(text)})
	}
	data, err := s.kept.read(e.Name)
	if err != nil {
		return out
	}
	if c, err := pictures.ReadCalibration(e.Name, bytes.NewReader(data)); err == nil {
		text := fmt.Sprintf("the calibration %s", name)
		if c.Picture.Made != "" {
			text += " of " + c.Picture.Made
		}
		out = append(out, screen.Option{Value: url.Values{"by": {name}}.Encode(), Text: printable.Text(text)})
	}
	return out
}
