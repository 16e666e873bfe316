package pictures

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"
	"unicode/utf16"

	"sensito/sensito/picture"
	"sensito/sensito/printable"
)

// maxTold is how long a text of a file is told, in characters.
const maxTold = 100

// clean returns a text of a file as it may be shown: up to its first zero byte, without spaces around it, escaped and of
// few characters.
func clean(data []byte) string {
	data, _, _ = bytes.Cut(data, []byte{0})
	return printable.Brief(printable.Text(strings.TrimSpace(string(data))), maxTold)
}

// tell adds what a directory of TIFF or EXIF tells to what is known, which stays.
func tell(a *picture.About, t *tags) {
	if a.Device == "" {
		model := t.text(tagModel)
		a.Device = t.text(tagMake)
		if strings.HasPrefix(strings.ToLower(model), strings.ToLower(a.Device)) {
			a.Device = "" // many models begin with the make
		}
		a.Device = strings.TrimSpace(a.Device + " " + model)
	}
	if a.Software == "" {
		a.Software = t.text(tagSoftware)
	}
	if a.PixelsPerInch == 0 {
		a.PixelsPerInch = perInch(t, tagXResolution)
	}
}

// perInch returns a resolution in pixels per inch, 0 where the file has none. TIFF 6.0 takes inches where no unit is
// told; unit 1 is none.
func perInch(t *tags, number uint16) float64 {
	unit := uint32(2)
	if _, ok := t.all[tagResolutionUnit]; ok {
		unit = t.told(tagResolutionUnit)
	}
	switch unit {
	case 2:
		return t.ratio(number)
	case 3:
		return t.ratio(number) * 2.54
	}
	return 0
}

// claims are what a file says of how its tones are encoded.
type claims []string

func (c *claims) add(format string, args ...any) { *c = append(*c, fmt.Sprintf(format, args...)) }

func (c claims) String() string { return strings.Join(c, ", ") }

// profile adds the name of a colour profile, which is told so that a person can see what the device was set to.
func (c *claims) profile(data []byte) {
	if name := profileName(data); name != "" {
		c.add("profile %s", name)
	} else {
		c.add("a profile without a name")
	}
}

// exif adds what the part of EXIF of a directory says, which lies at its tag of it.
func (c *claims) exif(t *tags) {
	at := t.told(tagExif)
	if at == 0 {
		return
	}
	e, _, err := readTags(t.r, t.size, t.order, at)
	if err != nil {
		return // told only
	}
	if e.told(tagExifColourSpace) == 1 {
		c.add("sRGB by EXIF")
	}
	if g := e.ratio(tagExifGamma); g > 0 {
		c.add("gamma %.4g by EXIF", g)
	}
}

// profileName returns the description in an ICC profile, "" where there is none (ICC.1, tag desc in the form of version 2
// or of version 4; from memory).
func profileName(p []byte) string {
	if len(p) < 132 {
		return ""
	}
	n := min(int(binary.BigEndian.Uint32(p[128:])), 100, (len(p)-132)/12)
	for i := range n {
		row := p[132+12*i:]
		if string(row[:4]) != "desc" {
			continue
		}
		at, size := uint64(binary.BigEndian.Uint32(row[4:])), uint64(binary.BigEndian.Uint32(row[8:]))
		if at+size > uint64(len(p)) || size < 12 {
			return ""
		}
		d := p[at : at+size]
		switch string(d[:4]) {
		case "desc":
			return clean(d[12:min(uint64(len(d)), 12+uint64(binary.BigEndian.Uint32(d[8:])))])
		case "mluc":
			if len(d) < 28 {
				return ""
			}
			long, from := uint64(binary.BigEndian.Uint32(d[20:])), uint64(binary.BigEndian.Uint32(d[24:]))
			if from+long > uint64(len(d)) {
				return ""
			}
			units := make([]uint16, long/2)
			for i := range units {
				units[i] = binary.BigEndian.Uint16(d[from+2*uint64(i):])
			}
			return clean([]byte(string(utf16.Decode(units))))
		}
	}
	return ""
}

// readEXIF returns the first directory of EXIF in data, which is a header of TIFF and what it points to; nil where it
// makes no sense, since it is told only.
func readEXIF(data []byte) *tags {
	if len(data) < 8 || string(data[:4]) != "II*\x00" && string(data[:4]) != "MM\x00*" {
		return nil
	}
	order, at := readOrder(data)
	t, _, err := readTags(bytes.NewReader(data), int64(len(data)), order, at)
	if err != nil {
		return nil
	}
	return t
}
