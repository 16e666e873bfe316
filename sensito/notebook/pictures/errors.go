package pictures

import (
	"errors"
	"fmt"
	"io"

	"sensito/sensito/printable"
)

// Why a file gives no picture; errors.Is tells them apart.
var (
	ErrOther    = errors.New("not a TIFF, PNG or JPEG file")
	ErrVariant  = errors.New("a form of picture that is not read")
	ErrTooLarge = errors.New("larger than what is read")
	ErrDamaged  = errors.New("a damaged file")
)

// An Error says why a file gives no picture.
type Error struct {
	File    string
	Kind    error  // ErrOther, ErrVariant, ErrTooLarge or ErrDamaged
	What    string // what is so in the file
	Instead string // what can be done; "" for nothing that helps all
}

func (e *Error) Error() string {
	text := printable.Text(e.File) + ": " + e.What
	if e.Instead != "" {
		text += "; " + e.Instead
	}
	return text
}

func (e *Error) Unwrap() error { return e.Kind }

const (
	saveAs      = "save it as TIFF or PNG, 16-bit grey or RGB"
	noInfrared  = saveAs + ", with the infrared channel off"
	noCurve     = "switch its corrections of tone off and " + saveAs
	develop     = "have its software write a linear TIFF, 16-bit grey or RGB, with no correction of tone"
	saveAgain   = "copy it anew, or save the picture again"
	smallerPart = "scan the strips and the tablet alone, or at fewer pixels to the inch"
)

// variant refuses a form of picture.
func variant(instead, format string, args ...any) error {
	return &Error{Kind: ErrVariant, What: fmt.Sprintf(format, args...), Instead: instead}
}

// damaged says what is wrong with a file that should be whole.
func damaged(format string, args ...any) error {
	return &Error{Kind: ErrDamaged, What: fmt.Sprintf(format, args...), Instead: saveAgain}
}

// broken says that reading failed within a part of the file. An end that comes too early is in words.
func broken(part string, err error) error {
	if endsEarly(err) {
		return damaged("the file ends early, within %s", part)
	}
	return damaged("%s cannot be read: %s", part, printable.Text(err.Error()))
}

// endsEarly says whether an error is that there is no more to read.
func endsEarly(err error) bool {
	return errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF)
}
