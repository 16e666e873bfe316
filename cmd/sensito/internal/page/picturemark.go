package page

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"slices"

	"sensito/cmd/sensito/internal/page/pictured"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/pictures"
	"sensito/sensito/picture"
	"sensito/sensito/printable"
)

// shown returns the picture as a page has it.
func (q *pictureQuery) shown(im *picture.Image, text string) pictured.Shown {
	v := q.view(im)
	return pictured.Shown{Source: pictureAddress("/picture/seen.png", q.all), Width: v.Width, Height: v.Height, Text: text}
}

// markPicture returns what asks for the next place.
func (s *Server) markPicture(r *http.Request, q *pictureQuery, im *picture.Image, plane int, flag string) (*pictured.Mark, error) {
	first := q.place(firstKey)
	m := &pictured.Mark{Field: flag, Hidden: q.hidden(missedKey), Missed: q.all.Has(missedKey), Hint: "412,300", Label: "Or in pixels:"}
	switch {
	case slices.Contains(placeFlags, flag):
		what := map[string]string{"fog": "base plus fog", "opaque": "black tape", "clear": "a clear place"}[flag]
		m.Heading = "Where is " + what + "?"
		m.Says = []string{map[string]string{
			"fog":    "Click a place of the strip that got no light, beside its last step.",
			"opaque": "Click a place on the black tape beside the steps: it tells how much glare there is.",
			"clear":  "Click a place of open light: it tells whether the exposure is that of the calibration.",
		}[flag]}
	case first == nil:
		m.Heading, m.Hint = "The first end of "+q.row(flag), "both ends, as 412,300:2890,318"
		m.Says = []string{"Click or tap the middle of the outer edge of step 1. A third of a step is near enough: it is refined."}
		if which := s.stepOne(q, flag); which != "" {
			m.Says = append(m.Says, which)
		}
	default:
		m.Heading, m.Hint = "The last end of "+q.row(flag), "both ends, as 412,300:2890,318"
		m.Says = []string{"Click or tap the middle of the outer edge of the last step. The cross is the first end."}
	}
	if q.all.Has(closerKey) {
		if q.all.Has(nearKey) {
			m.Says = append(m.Says, "This is a part of the picture, four times as large.")
			m.Actions = append(m.Actions, screen.Action{Address: pictureAddress("/picture", q.but(nearKey, "")), Text: "Another part"})
		} else {
			m.Says = append(m.Says, "The first click shows the part about it larger, the next one marks.")
		}
		m.Actions = append(m.Actions, screen.Action{Address: pictureAddress("/picture", q.but(closerKey, "", nearKey, "")), Text: "Without a closer look"})
	} else {
		m.Actions = append(m.Actions, screen.Action{Address: pictureAddress("/picture", q.but(closerKey, "1")), Text: "Look closer"})
	}
	if first != nil {
		m.Actions = append(m.Actions, screen.Action{Address: pictureAddress("/picture", q.but(firstKey, "", nearKey, "")), Text: "The first end again"})
	}
	if m.Actions = append(m.Actions, q.anew()...); q.all.Has(markKey) {
		m.Actions = append(m.Actions, screen.Action{Address: pictureAddress("/picture", q.but(markKey, "", firstKey, "", nearKey, "")), Text: "Leave it out"})
	}
	m.Shown = q.shown(im, "The picture: "+m.Heading)
	var err error
	if slices.Contains(rowFlags, flag) {
		m.Proposed, err = s.proposedRows(r, q, flag)
	}
	return m, err
}

// row says which row a flag marks next.
func (q *pictureQuery) row(flag string) string {
	switch n := q.strips(); {
	case flag == "tablet-ends":
		return "the tablet"
	case n > 1:
		i := len(q.values["ends"])
		text := fmt.Sprintf("strip %d", i+1)
		for _, key := range []string{"grade", "minutes"} {
			if all := q.values[key]; i < len(all) {
				text += ", " + printable.Text(all[i])
			}
		}
		return text
	}
	return "the strip"
}

// stepOne says which end of a row is that of step 1.
func (s *Server) stepOne(q *pictureQuery, flag string) string {
	if flag == "tablet-ends" {
		f, err := s.find(q.all.Get("tablet"), notebook.PictureKind)
		if err != nil {
			return ""
		}
		t, err := s.tablet(f)
		if n := len(t.Density); err == nil && n > 1 {
			end := "lightest"
			if t.Density[0] > t.Density[n-1] {
				end = "densest"
			}
			return fmt.Sprintf("Step 1 of %d is the %s, %.2f.", n, end, t.Density[0])
		}
		return ""
	}
	if q.into.Name == "" {
		return ""
	}
	trial, err := s.kept.get(q.into).trial()
	if err != nil {
		return ""
	}
	logs := trial.Exposures().LogH()
	if n := len(logs); n > 1 && logs[0] != logs[n-1] {
		got := "most"
		if logs[0] < logs[n-1] {
			got = "least"
		}
		dense := "densest"
		if got == "least" {
			dense = "lightest"
		}
		return fmt.Sprintf("Step 1 of %d got %s light: it is the %s.", n, got, dense)
	}
	return ""
}

// tablet reads the tablet of a file.
func (s *Server) tablet(e notebook.Entry) (picture.Tablet, error) {
	data, err := s.kept.read(e.Name)
	if err != nil {
		return picture.Tablet{}, err
	}
	return pictures.ReadTablet(e.Name, bytes.NewReader(data))
}

// proposedRows looks where a row may lie that a flag marks. The error is that the page is left.
func (s *Server) proposedRows(r *http.Request, q *pictureQuery, flag string) (*pictured.Proposed, error) {
	out := &pictured.Proposed{}
	seen, _, err := s.foundInPicture(r, q)
	if err != nil {
		if r.Context().Err() != nil {
			return nil, err
		}
		out.Why = screen.NewFault("", err).Why[0]
		return out, nil
	}
	taken := q.but(firstKey, "", nearKey, "", markKey, "", closerKey, "", missedKey, "")
	with := func(e picture.Ends) string {
		values := url.Values{}
		for key, v := range taken {
			values[key] = slices.Clone(v)
		}
		values.Add(flag, e.String())
		return pictureAddress("/picture", values)
	}
	for i, e := range seen.rows {
		says := fmt.Sprintf("From %s to %s", e.First, e.Last)
		if len(seen.rows) > 1 {
			says = fmt.Sprintf("Row %d, from %s to %s", i+1, e.First, e.Last)
		}
		out.Rows = append(out.Rows, pictured.Row{Says: says, Take: with(e), Turned: with(picture.Ends{First: e.Last, Last: e.First})})
	}
	f, err := q.open(r)
	if err != nil {
		return nil, err
	}
	v := pictured.NewView(f.Image.Width, f.Image.Height, nil)
	out.Shown = pictured.Shown{Source: pictureAddress("/picture/found.png", q.all), Width: v.Width, Height: v.Height, Text: "The picture with the rows that are proposed, their steps numbered"}
	return out, nil
}
