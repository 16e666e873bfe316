package page

import (
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"path"
	"path/filepath"
	"strings"
	"time"
	"unicode"

	"sensito/cmd/sensito/internal/page/screen"
	"sensito/sensito/notebook/pictures"
	"sensito/sensito/notebook/store"
)

// sendingTakes is how long a picture may take to come.
const sendingTakes = 10 * time.Minute

// sendPicture keeps a picture that is sent in the notebook, as a new file, and leads to its page: a trial names the
// picture that its readings are of, so that it is kept beside it. It goes to the disk as it comes, and what is no
// picture does not stay.
func (s *Server) sendPicture(w http.ResponseWriter, r *http.Request) error {
	q, err := s.pictureQuery(tidyPicture(r.URL.Query()))
	if err != nil {
		return err
	}
	control := http.NewResponseController(w)
	_ = control.SetReadDeadline(time.Now().Add(sendingTakes)) // where it cannot be set there is none
	_ = control.SetWriteDeadline(time.Now().Add(sendingTakes + time.Minute))
	part, err := picturePart(r)
	if err != nil {
		return err
	}
	name, err := store.Receive(s.dir, sentName(part.FileName()), part, func(in io.ReaderAt, size int64) error {
		if size == 0 {
			return &badRequestError{"Nothing was sent: choose a picture."}
		}
		release, err := s.gate.Computing(r.Context())
		if err != nil {
			return err
		}
		defer release()
		_, err = pictures.Read(&readWhile{r.Context(), in}, size, sentName(part.FileName()))
		return err
	})
	if of := (*pictures.Error)(nil); errors.As(err, &of) {
		fault := screen.NewFault("This picture is not read, and was not kept.", err)
		return s.showPicture(w, r, q, fault, http.StatusUnprocessableEntity)
	}
	if err != nil {
		return err
	}
	values := q.but(pictureKey, name)
	return seeOther(w, r, "/picture", values)
}

// picturePart returns the part of a form that has the picture, which is still to be read.
func picturePart(r *http.Request) (*multipart.Part, error) {
	form, err := r.MultipartReader()
	if err != nil {
		return nil, &badRequestError{"The form cannot be read. Nothing was saved."}
	}
	const mostParts = 10
	for range mostParts {
		part, err := form.NextPart()
		if large := (*http.MaxBytesError)(nil); errors.As(err, &large) {
			return nil, err
		}
		if err != nil {
			break
		}
		if part.FormName() == "picture" && part.FileName() != "" {
			return part, nil
		}
	}
	return nil, &badRequestError{"Nothing was sent: choose a picture."}
}

// sentName returns a name for a file that came with another: letters, digits and a few signs, with its ending.
func sentName(sent string) string {
	const longest = 100 // bytes
	sent = path.Base(strings.ReplaceAll(filepath.ToSlash(sent), `\`, "/"))
	name := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune(" -_.()+", r) {
			return r
		}
		return '_'
	}, strings.ToValidUTF8(sent, "_"))
	ending := path.Ext(name)
	if len(ending) > 8 || ending == "." {
		ending = ""
	}
	stem := strings.Trim(strings.TrimSuffix(name, ending), " .")
	for len(stem)+len(ending) > longest {
		runes := []rune(stem)
		stem = string(runes[:len(runes)-1])
	}
	if stem == "" {
		stem = "picture"
	}
	return fmt.Sprint(stem, ending)
}
