package notebook

import (
	"bytes"
	"fmt"
	"reflect"
	"slices"

	"sensito/sensito/control"
	"sensito/sensito/notebook/internal/grammar"
)

// AppendControl returns the text of a control log with one [[strip]] more at its
// end; every byte that was there stays. A file without strips gets its first.
// Errors are as for AppendStrip.
func AppendControl(data []byte, s control.Strip) ([]byte, error) {
	if err := appendable(data); err != nil {
		return nil, err
	}
	var strips []control.Strip
	old, none := ReadControl(editedFile, bytes.NewReader(data))
	switch {
	case none == nil:
		strips = old.Strips()
	case len(outline(data, "strip")) > 0:
		return nil, none
	}
	strips = append(strips, s)
	if _, err := control.NewLog(control.LogSpec{Strips: strips}); err != nil {
		return nil, err
	}
	return verifiedControl(appendTable(data, "strip", controlFields(s)), strips, none)
}

// verifiedControl returns the text if it reads as a log of these strips; none is the
// error of the text without the first.
func verifiedControl(text []byte, strips []control.Strip, none error) ([]byte, error) {
	got, err := ReadControl(editedFile, bytes.NewReader(text))
	if err != nil {
		return nil, firstFault(none, err)
	}
	if !slices.EqualFunc(got.Strips(), strips, sameControl) {
		return nil, errNotSame
	}
	return text, nil
}

// ReplaceControl returns the text of a control log in which the strip of the number,
// from 1, has become s. Only what differs is rewritten. Errors are as for
// ReplaceStrip.
func ReplaceControl(data []byte, number int, s control.Strip) ([]byte, error) {
	strips, err := controlStrips(data)
	if err != nil {
		return nil, err
	}
	if number < 1 || number > len(strips) {
		return nil, fmt.Errorf("there is no strip %d; the log has %d", number, len(strips))
	}
	old := strips[number-1]
	strips[number-1] = s
	if _, err := control.NewLog(control.LogSpec{Strips: strips}); err != nil {
		return nil, err
	}
	e := &editor{text: data, strip: outline(data, "strip")[number-1]}
	return verifiedControl(e.change(controlFields(old), controlFields(s)), strips, nil)
}

// RemoveControl returns the text of a control log without the strip of the number,
// from 1. Errors are as for RemoveStrip.
func RemoveControl(data []byte, number int) ([]byte, error) {
	strips, err := controlStrips(data)
	if err != nil {
		return nil, err
	}
	if err := removable("strip", number, len(strips)); err != nil {
		return nil, err
	}
	strips = slices.Delete(strips, number-1, number)
	return verifiedControl(outline(data, "strip")[number-1].without(data), strips, nil)
}

// controlStrips returns the strips of a log that can be edited.
func controlStrips(data []byte) ([]control.Strip, error) {
	log, err := ReadControl(editedFile, bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	return log.Strips(), appendable(data)
}

// FormatControl returns a log as a file, from which ReadControl gives an equal one, but
// for stated limits and further patches of the aim, which it leaves out.
func FormatControl(s control.LogSpec) []byte {
	p := &printer{}
	p.write("", false, []field{{"kind", quotedValue(string(ControlKind))}, {"title", quotedValue(s.Title)},
		{"film", quotedValue(s.Film)}, {"developer", quotedValue(s.Developer)}, {"dilution", quotedValue(s.Dilution)}, {"minutes", clock(s.Minutes)}})
	if s.Aim != nil {
		p.table("aim", false, []field{
			{"base_fog", plain(grammar.Hundredths(s.Aim.BaseFog))},
			{"low", plain(grammar.Hundredths(s.Aim.Low))},
			{"high", plain(grammar.Hundredths(s.Aim.High))},
		})
	}
	for _, strip := range s.Strips {
		p.list("strip", controlFields(strip))
	}
	return p.Bytes()
}

func sameControl(a, b control.Strip) bool {
	if len(a.Others) == 0 && len(b.Others) == 0 {
		a.Others, b.Others = nil, nil
	}
	return reflect.DeepEqual(a, b)
}
