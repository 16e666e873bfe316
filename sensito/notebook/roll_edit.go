package notebook

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"

	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/scene"
)

// FormatRoll returns the frames of a roll as a table, from which ReadRoll gives equal
// ones.
func FormatRoll(frames []scene.Frame) []byte {
	var b bytes.Buffer
	r := rollText{comma: ',', columns: rollColumns, end: "\n"}
	b.Write(r.line(rollColumns))
	for _, f := range frames {
		b.Write(r.row(f))
	}
	return b.Bytes()
}

// AppendFrame returns the text of a roll with one frame more at its end, and with the
// columns that it needs. The error is that of ReadRoll for the old text, or for the
// new one.
func AppendFrame(data []byte, f scene.Frame) ([]byte, error) {
	return editRoll(data, 0, func(r *rollText, frames []scene.Frame) ([]scene.Frame, error) {
		if last := len(r.rows) - 1; !bytes.HasSuffix(r.text, []byte("\n")) {
			r.rows[last].text = append(r.rows[last].text, r.end...)
		}
		r.rows = append(r.rows, rollRow{text: r.row(f)})
		return append(frames, f), nil
	}, f)
}

// ReplaceFrame returns the text of a roll in which the frame of the number, from 1, has
// become f. Errors are as for AppendFrame.
func ReplaceFrame(data []byte, number int, f scene.Frame) ([]byte, error) {
	return editRoll(data, number, func(r *rollText, frames []scene.Frame) ([]scene.Frame, error) {
		r.rows[r.frames[number-1]].text = r.row(f)
		frames[number-1] = f
		return frames, nil
	}, f)
}

// RemoveFrame returns the text of a roll without the frame of the number, from 1.
// Errors are as for AppendFrame, or say that it is the only one.
func RemoveFrame(data []byte, number int) ([]byte, error) {
	return editRoll(data, number, func(r *rollText, frames []scene.Frame) ([]scene.Frame, error) {
		if err := removable("frame", number, len(frames)); err != nil {
			return nil, err
		}
		r.rows[r.frames[number-1]].text = nil
		return slices.Delete(frames, number-1, number), nil
	})
}

// editRoll edits the text of a roll and reads it back. The columns that the new frames
// need are added.
func editRoll(data []byte, number int, edit func(*rollText, []scene.Frame) ([]scene.Frame, error), more ...scene.Frame) ([]byte, error) {
	frames, err := ReadRoll(editedFile, bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	if number > len(frames) || number < 0 {
		return nil, fmt.Errorf("there is no frame %d; the roll has %d", number, len(frames))
	}
	r, err := rollTextOf(data)
	if err != nil {
		return nil, err
	}
	for _, f := range more {
		r.widen(f)
	}
	want, err := edit(r, frames)
	if err != nil {
		return nil, err
	}
	var text []byte
	for _, row := range r.rows {
		text = append(text, row.text...)
	}
	got, err := ReadRoll(editedFile, bytes.NewReader(text))
	if err != nil {
		return nil, rollFault(err)
	}
	if !reflect.DeepEqual(got, want) {
		return nil, errors.New("the frame cannot be written into this table so that it reads as meant; nothing was changed")
	}
	return text, nil
}

// rollFault returns the first fault of a table that the user never saw.
func rollFault(err error) error {
	var list Errors
	if errors.As(err, &list) && len(list) > 0 {
		return errors.New(strings.TrimSpace(list[0].Key + " " + list[0].Msg))
	}
	return err
}

// rollText is the text of a roll in its rows.
type rollText struct {
	text    []byte
	comma   rune
	end     string
	columns []string
	rows    []rollRow
	frames  []int // places in rows
	header  int   // place in rows
}

type rollRow struct{ text []byte }

func rollTextOf(data []byte) (*rollText, error) {
	r := &rollText{text: data, comma: separator(bytes.TrimPrefix(data, []byte("\ufeff"))), end: newline(data), header: -1}
	bom := len(data) - len(bytes.TrimPrefix(data, []byte("\ufeff")))
	c := csv.NewReader(bytes.NewReader(data[bom:]))
	c.Comma = r.comma
	c.FieldsPerRecord = -1
	from := 0
	for {
		cells, err := c.Read()
		to := bom + int(c.InputOffset())
		if errors.Is(err, io.EOF) {
			if from < len(data) {
				r.rows = append(r.rows, rollRow{slices.Clone(data[from:])})
			}
			return r, nil
		}
		if err != nil {
			return nil, err
		}
		r.rows = append(r.rows, rollRow{slices.Clone(data[from:to])})
		from = to
		switch {
		case strings.TrimSpace(strings.Join(cells, "")) == "":
		case r.header < 0:
			r.header = len(r.rows) - 1
			for _, cell := range cells {
				r.columns = append(r.columns, columnOf(cell))
			}
		default:
			r.frames = append(r.frames, len(r.rows)-1)
		}
	}
}

// widen adds the columns that a frame needs to the header.
func (r *rollText) widen(f scene.Frame) {
	need := []string{colRange}
	if f.Metering != nil {
		need = []string{colShadow, colHighlight}
	}
	for _, name := range need {
		if !slices.Contains(r.columns, name) {
			r.columns = append(r.columns, name)
			header := &r.rows[r.header]
			line := bytes.TrimRight(header.text, "\r\n")
			header.text = slices.Concat(line, []byte(string(r.comma)+name), header.text[len(line):])
		}
	}
}

// row returns a frame as a line of the table.
func (r *rollText) row(f scene.Frame) []byte {
	cells := make([]string, len(r.columns))
	for i, name := range r.columns {
		switch {
		case name == colName:
			cells[i] = f.Name
		case name == colRange && f.Metering == nil:
			cells[i] = grammar.Number(f.Stops)
		case name == colShadow && f.Metering != nil:
			cells[i] = f.Metering.Shadow.String()
		case name == colHighlight && f.Metering != nil:
			cells[i] = f.Metering.Highlight.String()
		}
	}
	return r.line(cells)
}

func (r *rollText) line(cells []string) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Comma = r.comma
	_ = w.Write(cells) // into memory
	w.Flush()
	return append(bytes.TrimRight(b.Bytes(), "\n"), r.end...)
}
