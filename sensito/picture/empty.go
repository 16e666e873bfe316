package picture

import "strings"

// Over returns the picture with an empty one beneath, by which all that is read of it is made even. The error says how the
// two differ.
func (im *Image) Over(e *Empty) (*Image, error) {
	const hint = "picture the empty table from the same place with the same settings, and crop neither"
	channels := func(im *Image) string {
		var names []string
		for _, p := range im.Planes {
			names = append(names, p.Name)
		}
		return strings.Join(names, ", ")
	}
	switch {
	case im.Width != e.Width || im.Height != e.Height:
		return nil, refuse(hint, "the empty picture has %d by %d pixels, and this one has %d by %d", e.Width, e.Height, im.Width, im.Height)
	case im.Bits != e.Bits:
		return nil, refuse(hint, "the empty picture has %d bits, and this one has %d", e.Bits, im.Bits)
	case channels(im) != channels(e.Image):
		return nil, refuse(hint, "the empty picture has %s, and this one has %s", channels(e.Image), channels(im))
	case e.About.Format == "JPEG":
		return nil, refuse("save 16 bits as TIFF or PNG", "the empty picture is a JPEG, which is processed, and its tones follow the scene")
	}
	out := *im
	out.Empty = e
	return &out, nil
}
