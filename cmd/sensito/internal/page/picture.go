package page

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/page/pictured"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/notebook/pictures"
	"sensito/sensito/picture"
	"sensito/sensito/picture/look"
	"sensito/sensito/printable"
	"sensito/sensito/report"
	result "sensito/sensito/report/pictured"
)

// routePictures registers what is asked of a picture of strips.
func (s *Server) routePictures() {
	s.get("/picture", s.picture)
	s.post("/picture", s.sendPicture)
	s.post("/picture/add", s.addPicture)
	s.get("/picture/seen.png", s.pictureGrey)
	s.get("/picture/found.png", s.pictureFound)
}

// picture answers with readings from a picture, as far as it is asked: which picture, what lies in it, where that is,
// and what was read.
func (s *Server) picture(w http.ResponseWriter, r *http.Request) error {
	q, done, err := s.pictureAsked(w, r)
	if done || err != nil {
		return err
	}
	return s.showPicture(w, r, q, nil, http.StatusOK)
}

// showPicture answers with the page of a picture; fault is why a form was not taken, nil for none.
func (s *Server) showPicture(w http.ResponseWriter, r *http.Request, q *pictureQuery, fault *screen.Fault, status int) error {
	content := &pictured.Screen{Fault: fault}
	p := s.page(r, "Read strips from a picture", "/")
	p.Content, p.Terminal = content, q.terminal()
	if len(q.files) == 0 {
		p.Terminal = s.terminal("picture", "FILE")
		content.Lead = "A scanner, or a camera over a light table, in place of a densitometer: a picture of 16 bits as TIFF or PNG, with a step tablet of known density beside the strip."
		var err error
		if content.Choose, err = s.choosePicture(q); err != nil {
			return err
		}
		return s.writeStatus(w, status, "picture", p)
	}
	p.Title = printable.Text(q.files[0])
	if n := len(q.files); n > 1 {
		p.Title += fmt.Sprintf(" and %d more", n-1)
	}
	f, err := q.open(r)
	if err != nil {
		var of *pictures.Error
		if !errors.As(err, &of) {
			return err
		}
		content.Fault = screen.NewFault("This picture is not read.", err)
		content.Fault.Links = []screen.Action{{Address: pictureAddress("/picture", q.but(pictureKey, "")), Text: "Another picture"}}
		return s.writeStatus(w, http.StatusUnprocessableEntity, "picture", p)
	}
	content.Lead = result.About(f.Image) + "."
	if content.Ask, err = s.pictureAsk(q, f.Image); err != nil {
		return err
	}
	plane := 0
	err = q.fault
	if err == nil {
		plane, err = look.Plane(f.Image, q.values.Get("channel"))
	}
	shown := q.shown(f.Image, "The picture "+p.Title)
	switch flag := q.wanted(); {
	case err == nil && q.unsaid():
		content.Shown, content.Ask.First = &shown, true
	case err == nil && flag != "":
		content.Mark, err = s.markPicture(r, q, f.Image, plane, flag)
	case err == nil:
		content.Read, err = s.readPicture(r, q)
	}
	if err != nil {
		if status, content.Fault, err = s.pictureRefused(r, q, err); err != nil {
			return err
		}
		shown := q.shown(f.Image, "The picture "+p.Title)
		content.Shown, content.Ask.First = &shown, len(content.Fault.Links) == 0
	}
	return s.writeStatus(w, status, "picture", p)
}

// pictureRefused returns the status and the words of an error of a question about a picture, with what can be marked
// anew.
func (s *Server) pictureRefused(r *http.Request, q *pictureQuery, err error) (int, *screen.Fault, error) {
	says := "This cannot be read."
	status, fault, other := s.refused(r, says, err)
	if other != nil && r.Context().Err() == nil { // a picture that does not show what it should
		status, fault, other = http.StatusUnprocessableEntity, screen.NewFault(says, err), nil
	}
	if fault != nil {
		for i, text := range fault.Why { // the page is that of the picture
			name := printable.Text(q.files[0])
			if rest, is := strings.CutPrefix(text, strings.ToUpper(name[:1])+name[1:]+": "); is && rest != "" {
				fault.Why[i] = strings.ToUpper(rest[:1]) + rest[1:]
			}
		}
		fault.Links = q.anew()
	}
	return status, fault, other
}

// anew are links to mark the rows again.
func (q *pictureQuery) anew() []screen.Action {
	var out []screen.Action
	add := func(flag, text string) {
		if q.values.Has(flag) {
			out = append(out, screen.Action{Address: pictureAddress("/picture", q.but(flag, "", firstKey, "", nearKey, "", markKey, "")), Text: text})
		}
	}
	strip := "Mark the strip again"
	if q.strips() > 1 {
		strip = "Mark the strips again"
	}
	add("ends", strip)
	add("tablet-ends", "Mark the tablet again")
	return out
}

// choosePicture lists the pictures of the notebook.
func (s *Server) choosePicture(q *pictureQuery) (*pictured.Choose, error) {
	there, err := s.pictures.list()
	if err != nil {
		return nil, err
	}
	out := &pictured.Choose{Address: pictureAddress("/picture", q.all)}
	for _, c := range there {
		if printable.Text(c.name) != c.name { // which no form can send
			continue
		}
		out.Pictures = append(out.Pictures, screen.Link{Address: pictureAddress("/picture", q.but(pictureKey, c.name)), Text: c.name, Says: bytesText(c.size)})
	}
	return out, nil
}

// bytesText says how large a file is.
func bytesText(n int64) string {
	const kilo, mega = 1_000, 1_000_000
	if n < mega {
		return fmt.Sprintf("%d kB", max(1, n/kilo))
	}
	return fmt.Sprintf("%.1f MB", float64(n)/mega)
}

// readPicture returns what was read, and what can be done with it.
func (s *Server) readPicture(r *http.Request, q *pictureQuery) (*pictured.Read, error) {
	seen, drawn, err := s.foundInPicture(r, q)
	if err != nil {
		return nil, err
	}
	out := *seen.read
	for i := range drawn {
		f, err := s.pictures.open(r.Context(), q.files[i])
		if err != nil {
			return nil, err
		}
		v := pictured.NewView(f.Image.Width, f.Image.Height, nil)
		source := pictureAddress("/picture/found.png", q.but(numberKey, strconv.Itoa(i)))
		out.Shown = append(out.Shown, pictured.Shown{Source: source, Width: v.Width, Height: v.Height, Text: "What was found in " + printable.Text(q.files[i]) + ": each step with its number; the table has the densities"})
	}
	out.Actions = q.anew()
	for _, flag := range placeFlags {
		if text := map[string]string{"fog": "Mark base plus fog", "opaque": "Mark black tape", "clear": "Mark a clear place"}[flag]; !q.values.Has(flag) && (flag != "fog" || q.strips() == 1) {
			out.Actions = append(out.Actions, screen.Action{Address: pictureAddress("/picture", q.but(markKey, flag)), Text: text})
		}
	}
	out.Kept = seen.left
	if q.into.Name != "" && seen.fresh > 0 {
		out.Add = &pictured.Add{Address: pictureAddress("/picture/add", q.all), Title: s.kept.get(q.into).title(), Sum: seen.sum, Doubt: seen.doubt}
	}
	return &out, nil
}

// foundInPicture finds what a query asks, or has what it found before, with a drawing for each picture in greys.
func (s *Server) foundInPicture(r *http.Request, q *pictureQuery) (*pictureSeen, [][]byte, error) {
	if q.fault != nil {
		return nil, nil, q.fault
	}
	key, err := s.pictureKey(q)
	if err != nil {
		return nil, nil, err
	}
	return s.pictures.answer(key, func() (seen *pictureSeen, drawn [][]byte, err error) {
		err = s.reading(r, func(from console.Streams) error {
			seen, drawn, err = s.findInPicture(r, from, q)
			return err
		})
		return seen, drawn, err
	})
}

// pictureKey returns what an answer is kept under: the query, and the files that it is of as they are now.
func (s *Server) pictureKey(q *pictureQuery) (string, error) {
	h := sha256.New()
	asked := q.but(firstKey, "", nearKey, "", closerKey, "", missedKey, "", numberKey, "")
	fmt.Fprintf(h, "%s\n%s\n", asked.Encode(), q.wanted())
	for _, name := range append(slices.Clone(q.files), q.values[emptyKey]...) {
		f, id, err := s.pictures.file(name)
		if err != nil {
			return "", err
		}
		f.Close()
		fmt.Fprintf(h, "%q %d %d\n", id.name, id.size, id.at.UnixNano())
	}
	for _, flag := range []string{"into", "tablet", "by"} {
		name := q.flags.Lookup(flag).Value.String()
		if name == "" {
			continue
		}
		data, err := s.kept.read(name)
		if err != nil {
			return "", err
		}
		fmt.Fprintf(h, "%s %x\n", flag, sha256.Sum256(data))
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// findInPicture asks the question of the query; of a row that is to be marked, where it may lie.
func (s *Server) findInPicture(r *http.Request, from console.Streams, q *pictureQuery) (*pictureSeen, [][]byte, error) {
	ends := q.values["ends"]
	if flag := q.wanted(); slices.Contains(rowFlags, flag) {
		values := q.but(flag, "", markKey, "")
		if flag == "ends" {
			values.Del("fog") // which belongs to strips that are marked
		}
		var err error
		if q, err = s.pictureQuery(values); err != nil {
			return nil, nil, err
		}
	}
	a, err := s.askPicture(r, from, q)
	if err != nil {
		return nil, nil, err
	}
	out := &pictureSeen{}
	drawings := len(a.Files)
	if a.Proposed != nil {
		drawings = 1
		a.Proposed = slices.DeleteFunc(a.Proposed, func(l *picture.Lattice) bool {
			return slices.ContainsFunc(ends, func(text string) bool {
				e, err := picture.ParseEnds(text)
				return err == nil && l.Ends.SameRow(e)
			})
		})
		if len(a.Proposed) == 0 {
			return nil, nil, &sensito.Unanswerable{Reason: "nothing looks like a further row of steps"}
		}
		for _, l := range a.Proposed {
			out.rows = append(out.rows, l.Ends)
		}
	} else if err := out.take(a, q); err != nil {
		return nil, nil, err
	}
	var drawn [][]byte
	for i := range drawings {
		if err := r.Context().Err(); err != nil {
			return nil, nil, err
		}
		img, err := pictured.Overlay(a.Files[i].Image, func(o plot.Options) (*plot.Figure, error) { return a.Drawing(i, o) })
		if err != nil {
			return nil, nil, err
		}
		var b bytes.Buffer
		if err := pictured.Write(&b, img, false); err != nil {
			return nil, nil, err
		}
		drawn = append(drawn, b.Bytes())
	}
	return out, drawn, nil
}

// askPicture asks the question of pictures of the notebook as they are kept.
func (s *Server) askPicture(r *http.Request, from console.Streams, q *pictureQuery) (*ask.PictureAnswer, error) {
	if q.fault != nil {
		return nil, q.fault
	}
	q.asking.Open = func(path string) (ask.PictureFile, error) { return s.pictures.open(r.Context(), path) }
	return q.asking.Ask(from, q.files)
}

// take takes what was read from an answer.
func (p *pictureSeen) take(a *ask.PictureAnswer, q *pictureQuery) error {
	rep, err := a.Report()
	if err != nil {
		return err
	}
	of, is := rep.(*result.Report)
	if !is {
		return fmt.Errorf("%T is no report of a picture", rep)
	}
	p.read = pictured.NewRead(of)
	p.doubt = a.Doubt()
	if p.sum, err = readSum(rep); err != nil {
		return err
	}
	if q.into.Name == "" || a.Calibration == nil {
		return nil
	}
	if p.left, err = a.Left(q.into.Name); err != nil {
		return err
	}
	for i, text := range p.left {
		p.left[i] = printable.Text(text)
	}
	p.fresh = len(a.Strips) - len(p.left)
	return nil
}

// readSum is a fingerprint of all that was read, by what --json tells of it.
func readSum(rep report.Report) (string, error) {
	h := sha256.New()
	if err := report.JSON(h, rep); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// addPicture adds the strips that were read to the trial, and leads there. What others changed in the trial meanwhile
// stays; where the picture, the tablet or the trial is such that something else is read now, nothing is added.
func (s *Server) addPicture(w http.ResponseWriter, r *http.Request) error {
	if err := formOf(r); err != nil {
		return err
	}
	q, err := s.pictureQuery(tidyPicture(r.URL.Query()))
	if err != nil {
		return err
	}
	if len(q.files) == 0 || q.fault == nil && (q.into.Name == "" || q.unsaid() || q.wanted() != "") {
		return &badRequestError{"What is to be added has to be read first. Nothing was saved."}
	}
	var a *ask.PictureAnswer
	sum := ""
	err = s.reading(r, func(from console.Streams) error {
		var err error
		if a, err = s.askPicture(r, from, q); err != nil {
			return err
		}
		looked := slices.Clone(a.Files)
		if a.Empty != nil {
			looked = append(looked, *a.Empty)
		}
		for _, f := range looked {
			if !s.pictures.is(r.Context(), f) {
				return nil // and so what was read is another
			}
		}
		rep, err := a.Report()
		if err == nil {
			sum, err = readSum(rep)
		}
		return err
	})
	again := func(says string, why ...string) error {
		return s.showPicture(w, r, q, &screen.Fault{Says: says, Why: append(why, "Nothing was saved.")}, http.StatusConflict)
	}
	switch {
	case err != nil:
		return s.showPicture(w, r, q, nil, http.StatusUnprocessableEntity)
	case sum == "" || sum != r.PostForm.Get("read"):
		return again("This was changed elsewhere.", "The picture, the tablet or the trial is not what the page was made of. This is what is read now: look at it.")
	case a.Calibration == nil:
		return &badRequestError{"There is nothing to be added."}
	case a.Doubt() != "" && r.PostForm.Get("looked") == "":
		return again("Look at the numbers first.", "Tick the box once each number stands on its step.")
	}
	path, err := s.root.Path(q.into.Name)
	if err != nil {
		return err
	}
	if _, err := ask.AddPicture(path, a); err != nil {
		return err
	}
	return seeOther(w, r, address(q.into), nil)
}

// pictureGrey answers with the picture in grey and the marks that were made.
func (s *Server) pictureGrey(w http.ResponseWriter, r *http.Request) error {
	q, err := s.pictureOf(r)
	if err != nil {
		return err
	}
	release, err := s.gate.Computing(r.Context())
	if err != nil {
		return err
	}
	defer release()
	f, err := s.pictures.open(r.Context(), q.files[0])
	if err != nil {
		return err
	}
	plane, err := look.Plane(f.Image, q.all.Get("channel"))
	if err != nil {
		plane = 0
	}
	var marks pictured.Marks
	for _, flag := range rowFlags {
		for _, text := range q.all[flag] {
			if e, err := picture.ParseEnds(text); err == nil {
				marks.Rows = append(marks.Rows, e)
			}
		}
	}
	for _, key := range append([]string{firstKey}, placeFlags...) {
		for _, text := range q.all[key] {
			if p, err := picture.ParsePoint(text); err == nil {
				marks.Points = append(marks.Points, p)
			}
		}
	}
	return s.writePNG(w, r, q.view(f.Image).Grey(f.Image, plane, marks))
}

// pictureFound answers with the picture and what was found in it.
func (s *Server) pictureFound(w http.ResponseWriter, r *http.Request) error {
	q, err := s.pictureOf(r)
	if err != nil {
		return err
	}
	_, drawn, err := s.foundInPicture(r, q)
	if err != nil {
		return err
	}
	n := 0
	if text := q.all.Get(numberKey); text != "" {
		if n, err = strconv.Atoi(text); err != nil || n < 0 || n >= len(drawn) {
			return &missingError{"There is no such picture."}
		}
	}
	whole, err := png.Decode(bytes.NewReader(drawn[n]))
	if err != nil {
		return err
	}
	grey := image.NewGray(whole.Bounds())
	draw.Draw(grey, grey.Rect, whole, whole.Bounds().Min, draw.Src)
	return s.writePNG(w, r, grey)
}

// pictureOf returns the query of the address of a drawing.
func (s *Server) pictureOf(r *http.Request) (*pictureQuery, error) {
	q, err := s.pictureQuery(tidyPicture(r.URL.Query()))
	if err == nil && len(q.files) == 0 {
		err = &missingError{"There is no such picture."}
	}
	return q, err
}

// writePNG answers with an image, under red in reds.
func (s *Server) writePNG(w http.ResponseWriter, r *http.Request, img *image.Gray) error {
	var b bytes.Buffer
	if err := pictured.Write(&b, img, s.page(r, "", "").Look() == "red"); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "image/png")
	_, err := w.Write(b.Bytes())
	return err
}
