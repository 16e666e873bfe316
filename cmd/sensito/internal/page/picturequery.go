package page

import (
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/page/pictured"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/sensito/notebook"
	"sensito/sensito/picture"
	"sensito/sensito/printable"
)

// Keys of the query of a picture that are no flags: the pictures, and how far marking has come.
const (
	pictureKey = "file"
	markKey    = "mark"   // the flag that is marked next, where that is not plain
	firstKey   = "first"  // the first end of a row, where the last is wanted
	closerKey  = "closer" // a click shows a larger cut first
	nearKey    = "near"   // about this place
	missedKey  = "missed" // a click came without a place
	knownKey   = "known"  // a piece of a query: tablet or by
	clickKey   = "at"     // of the button that is the picture
	numberKey  = "n"      // of several pictures, the one that is drawn
)

var pageKeys = []string{pictureKey, markKey, firstKey, closerKey, nearKey, missedKey, numberKey}

// severally are the keys that may be given several times, and one field has all of.
var severally = []string{pictureKey, "ends", "tablet-ends", "fog", "anchor", "minutes", "grade"}

// numberFlags are numbers, where a comma is the point of one; in a place it parts two.
var numberFlags = []string{"minutes", "patch", "scale-sd", "encoding"}

// rowFlags are marked by two ends, placeFlags by one place.
var rowFlags, placeFlags = []string{"tablet-ends", "ends"}, []string{"fog", "opaque", "clear"}

// tidyPicture returns the values of a query as they are asked: nothing empty, lists that were typed into one field
// taken apart, and the tablet or the calibration by its flag.
func tidyPicture(sent url.Values) url.Values {
	out := url.Values{}
	for key, values := range sent {
		if strings.HasPrefix(key, clickKey+".") || key == knownKey {
			continue
		}
		if !slices.Contains(severally, key) {
			values = lastOf(values)
		}
		for _, v := range values {
			all := []string{strings.TrimSpace(v)}
			if slices.Contains(severally, key) && key != pictureKey {
				all = parted(key, v)
			}
			for _, one := range all {
				if slices.Contains(numberFlags, key) {
					one = decimalComma.ReplaceAllString(one, "$1.$2")
				}
				if one != "" {
					out.Add(key, one)
				}
			}
		}
	}
	if sent.Has(knownKey) {
		chosen, _ := url.ParseQuery(strings.Join(lastOf(sent[knownKey]), ""))
		for _, key := range []string{"tablet", "by"} {
			if out.Del(key); chosen.Get(key) != "" {
				out.Set(key, chosen.Get(key))
			}
		}
	}
	if out.Has("by") || !out.Has("tablet") {
		for _, key := range []string{"tablet-ends", "scale-sd", "encoding"} {
			out.Del(key)
		}
	}
	return out
}

// parted takes a list apart: by spaces and semicolons, and by commas where those are neither in a place nor in a
// number.
func parted(key, text string) []string {
	between := func(r rune) bool { return unicode.IsSpace(r) || r == ';' }
	if key == "grade" || key == "anchor" || key == "minutes" && strings.Contains(text, ":") {
		between = func(r rune) bool { return unicode.IsSpace(r) || r == ';' || r == ',' }
	}
	if key == "grade" { // whose name may have a space
		between = func(r rune) bool { return r == ';' || r == ',' }
	}
	var out []string
	for _, v := range strings.FieldsFunc(text, between) {
		out = append(out, strings.Trim(v, ", "))
	}
	return out
}

// A pictureQuery is what the query of an address asks of pictures.
type pictureQuery struct {
	*query            // of the flags
	all    url.Values // with the keys that are none
	asking *ask.Picture
	fault  error          // why the flags are refused
	into   notebook.Entry // the trial; zero for none
}

// pictureQuery returns what is asked by values of a query. The error is that there is no such picture.
func (s *Server) pictureQuery(all url.Values) (*pictureQuery, error) {
	q := &pictureQuery{all: all, asking: &ask.Picture{Made: ask.Date()},
		query: &query{server: s, command: "picture", values: maps.Clone(all), flags: pflag.NewFlagSet("picture", pflag.ContinueOnError)}}
	there, err := s.pictures.list()
	if err != nil {
		return nil, err
	}
	for i, name := range append(slices.Clone(all[pictureKey]), all[emptyKey]...) {
		if !slices.ContainsFunc(there, func(c pictureChoice) bool { return c.name == name }) {
			return nil, &missingError{fmt.Sprintf("There is no picture %q in the notebook.", name)}
		}
		if i < len(all[pictureKey]) && !slices.Contains(q.files, name) {
			q.files = append(q.files, name)
		}
	}
	for _, key := range pageKeys {
		delete(q.values, key)
	}
	if len(q.files) > mostPictures {
		q.fault = console.Usagef("%d pictures of the same strips are read at once, and %d are named", mostPictures, len(q.files))
	}
	if q.fault == nil && q.values.Has("keep") {
		q.fault = console.Usagef("a calibration is kept in the terminal, by sensito picture --keep FILE")
	}
	if q.fault == nil {
		q.fault = q.set(q.asking)
	}
	if name := all.Get("into"); name != "" && q.fault == nil {
		q.into, q.fault = s.find(name, notebook.FilmKind, notebook.PaperKind)
	}
	return q, nil
}

// mostPictures of the same strips are read at once, as by the command.
const mostPictures = 4

// pictureAsked returns what a request asks, whose address is tidied first; done says that it was answered by leading
// there.
func (s *Server) pictureAsked(w http.ResponseWriter, r *http.Request) (q *pictureQuery, done bool, err error) {
	sent, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil || !utf8.ValidString(fmt.Sprint(sent)) {
		return nil, false, &badRequestError{"The address holds a query that cannot be read."}
	}
	all := tidyPicture(sent)
	if q, err = s.pictureQuery(all); err != nil {
		return nil, false, err
	}
	clicked := sent.Has(clickKey+".x") || sent.Has(clickKey+".y")
	if clicked {
		if all, err = q.clicked(r, sent.Get(clickKey+".x"), sent.Get(clickKey+".y")); err != nil {
			return nil, false, err
		}
	}
	if clicked || !maps.EqualFunc(sent, all, slices.Equal) {
		return nil, true, seeOther(w, r, r.URL.EscapedPath(), all)
	}
	return q, false, nil
}

// but returns the values of the query with some otherwise: key and value in turn, an empty value leaves the key out.
func (q *pictureQuery) but(pairs ...string) url.Values {
	out := maps.Clone(q.all)
	for i := 0; i+1 < len(pairs); i += 2 {
		if out.Del(pairs[i]); pairs[i+1] != "" {
			out.Set(pairs[i], pairs[i+1])
		}
	}
	return out
}

// address returns that of a page of the picture with values.
func pictureAddress(path string, values url.Values) string {
	if len(values) == 0 {
		return path
	}
	return path + "?" + values.Encode()
}

// hidden returns what a form takes along that has fields for some keys.
func (q *pictureQuery) hidden(fields ...string) []screen.Value {
	var out []screen.Value
	for _, key := range slices.Sorted(maps.Keys(q.all)) {
		for _, v := range q.all[key] {
			if !slices.Contains(fields, key) && printable.Text(v) == v {
				out = append(out, screen.Value{Name: key, Value: v})
			}
		}
	}
	return out
}

// strips is how many there are in a picture.
func (q *pictureQuery) strips() int {
	return max(1, len(q.values["minutes"]), len(q.values["grade"]))
}

// unsaid says whether the sentence of what lies in the frame has an empty field that is needed.
func (q *pictureQuery) unsaid() bool {
	return q.into.Name == "" && !q.values.Has("steps") || !q.values.Has("tablet") && !q.values.Has("by") ||
		q.into.Kind == notebook.FilmKind && !q.values.Has("minutes")
}

// wanted returns the flag that is to be marked next, "" for none.
func (q *pictureQuery) wanted() string {
	mark := q.all.Get(markKey)
	switch {
	case slices.Contains(rowFlags, mark) || slices.Contains(placeFlags, mark):
		return mark
	case q.values.Has("tablet") && !q.values.Has("tablet-ends"):
		return "tablet-ends"
	case len(q.values["ends"]) < q.strips():
		return "ends"
	}
	return ""
}

// place returns the place of a key, nil for none.
func (q *pictureQuery) place(key string) *picture.Point {
	p, err := picture.ParsePoint(q.all.Get(key))
	if err != nil {
		return nil
	}
	return &p
}

// view returns the part of a picture that is shown.
func (q *pictureQuery) view(im *picture.Image) pictured.View {
	return pictured.NewView(im.Width, im.Height, q.place(nearKey))
}

// clicked returns the values of the query after a click on the picture, x and y CSS pixels from its top left.
func (q *pictureQuery) clicked(r *http.Request, x, y string) (url.Values, error) {
	out := q.but(missedKey, "")
	flag := q.wanted()
	if flag == "" || len(q.files) == 0 {
		return out, nil
	}
	var left, top int
	if n, err := fmt.Sscanf(x+" "+y, "%d %d", &left, &top); n != 2 || err != nil {
		return nil, &badRequestError{"A click on the picture tells where it was, in whole pixels."}
	}
	f, err := q.open(r)
	if err != nil {
		return nil, err
	}
	at, ok := q.view(f.Image).At(left, top)
	if !ok || left == 0 && top == 0 { // a key pressed on the picture has no place
		out.Set(missedKey, "1")
		return out, nil
	}
	if q.all.Has(closerKey) && !q.all.Has(nearKey) {
		out.Set(nearKey, at.String())
		return out, nil
	}
	return q.marked(flag, at), nil
}

// marked returns the values of the query with a place marked.
func (q *pictureQuery) marked(flag string, at picture.Point) url.Values {
	out := q.but(missedKey, "", nearKey, "")
	first := q.place(firstKey)
	switch {
	case flag == "opaque" || flag == "clear":
		out.Set(flag, at.String())
	case flag == "fog":
		out.Add(flag, at.String())
	case first == nil:
		out.Set(firstKey, at.String())
		return out
	default:
		out.Add(flag, picture.Ends{First: *first, Last: at}.String())
	}
	out.Del(firstKey)
	out.Del(markKey)
	return out
}

// open reads the first picture when it may be.
func (q *pictureQuery) open(r *http.Request) (ask.PictureFile, error) {
	release, err := q.server.gate.Computing(r.Context())
	if err != nil {
		return ask.PictureFile{}, err
	}
	defer release()
	return q.server.pictures.open(r.Context(), q.files[0])
}
