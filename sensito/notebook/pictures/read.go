package pictures

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"sensito/sensito/notebook/store"
	"sensito/sensito/picture"
)

// maxBytes is how large a file may be.
const maxBytes = 1 << 30

// maxPipe is how large a file may be that is held in memory, since it comes through a pipe. A test lowers it.
var maxPipe int64 = 256 << 20

// OpenFile returns the picture in the file at path, and the SHA-256 of the file, for programs that
// use the library. Errors are those of store.Open and of
// From.
func OpenFile(path string) (*picture.Image, [32]byte, error) {
	r, err := store.Open(path)
	if err != nil {
		return nil, [32]byte{}, err
	}
	defer r.Close()
	f, err := From(path, r)
	if err != nil {
		return nil, [32]byte{}, err
	}
	return f.Image, f.SHA256, nil
}

// A File is a picture and the fingerprint of the file that it is from.
type File struct {
	Image  *picture.Image
	SHA256 [32]byte
}

// From reads the picture in r, whose name stands for it in errors: a file that is open, which is read where it lies, or
// any other reader, which is held in memory meanwhile. What the commands and the local page open, such as a file of a
// store.Root, is read by it. Errors are as for Read; one more is that the file was written to meanwhile.
func From(name string, r io.Reader) (*File, error) {
	f, ok := r.(*os.File)
	if !ok {
		return fromPipe(name, r)
	}
	before, err := f.Stat()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, store.Cause(err))
	}
	if !before.Mode().IsRegular() {
		return fromPipe(name, r)
	}
	out, err := fingerprinted(name, f, before.Size())
	if err != nil {
		return nil, err
	}
	if written(f, before) {
		return nil, &Error{name, ErrDamaged, "another program wrote to the file while it was read", "wait until the picture is saved"}
	}
	return out, nil
}

// written says whether a file was written to since it was as before says.
func written(f *os.File, before fs.FileInfo) bool {
	after, err := f.Stat()
	return err != nil || after.Size() != before.Size() || !after.ModTime().Equal(before.ModTime())
}

// fromPipe reads what can be read once only.
func fromPipe(name string, r io.Reader) (*File, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxPipe+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, store.Cause(err))
	}
	if int64(len(data)) > maxPipe {
		return nil, &Error{name, ErrTooLarge, fmt.Sprintf("the file is larger than %d MiB, which is read from a file only", maxPipe>>20), "save it on the disk and name it"}
	}
	return fingerprinted(name, bytes.NewReader(data), int64(len(data)))
}

// fingerprinted reads a picture and makes the SHA-256 of its file.
func fingerprinted(name string, r io.ReaderAt, size int64) (*File, error) {
	im, err := Read(r, size, name)
	if err != nil {
		return nil, err
	}
	h := sha256.New()
	if _, err := io.Copy(h, io.NewSectionReader(r, 0, size)); err != nil {
		return nil, fmt.Errorf("%s: %w", name, store.Cause(err))
	}
	return &File{im, [32]byte(h.Sum(nil))}, nil
}

// Read returns the picture in the first size bytes of r; name stands for the file in errors. Values of 16 bits are
// those of the file and values of 8 bits 257 times those, where the file has white as its lowest value turned over, so
// that brighter is more; nothing else is done to them. A turn that the file asks for is done. The error is an *Error:
// that this is no picture file, that it is of a form that is refused, that its header claims more than is read, or that
// it is damaged.
func Read(r io.ReaderAt, size int64, name string) (*picture.Image, error) {
	im, err := read(r, size)
	if err == nil {
		return im, nil
	}
	if e := (*Error)(nil); errors.As(err, &e) {
		e.File = name
		return nil, e
	}
	return nil, fmt.Errorf("%s: %w", name, store.Cause(err))
}

func read(r io.ReaderAt, size int64) (*picture.Image, error) {
	if size > maxBytes {
		return nil, &Error{Kind: ErrTooLarge, What: fmt.Sprintf("the file has %d MiB, above the limit of %d MiB", size>>20, maxBytes>>20), Instead: smallerPart}
	}
	head := make([]byte, min(size, 16))
	if _, err := io.ReadFull(io.NewSectionReader(r, 0, size), head); err != nil {
		return nil, broken("its first bytes", err)
	}
	begins := func(with string) bool { return bytes.HasPrefix(head, []byte(with)) }
	within := func(at int, words ...string) bool {
		for _, w := range words {
			if len(head) > at && bytes.HasPrefix(head[at:], []byte(w)) {
				return true
			}
		}
		return false
	}
	switch {
	case len(head) == 0:
		return nil, damaged("the file is empty")
	case begins("II*\x00"), begins("MM\x00*"):
		if within(8, "CR") {
			return nil, variant(develop, "a raw file of a camera")
		}
		return readTIFF(r, size)
	case begins("II+\x00"), begins("MM\x00+"):
		return nil, variant("save it as TIFF of the usual kind (not BigTIFF) or PNG, 16-bit grey or RGB", "a BigTIFF file")
	case begins("\x89PNG\r\n\x1a\n"):
		return readPNG(r, size)
	case begins("\xff\xd8\xff"):
		return readJPEG(r, size)
	case within(4, "ftypcrx"), begins("IIU\x00"), begins("IIRO"), begins("IIRS"), begins("MMOR"):
		return nil, variant(develop, "a raw file of a camera")
	case within(4, "ftyp") && within(8, "heic", "heix", "heim", "heis", "hevc", "mif1", "msf1", "avif", "avis"):
		return nil, variant(noCurve, "a HEIC or AVIF picture, whose tones follow the scene")
	case begins("GIF8"), begins("BM"), begins("8BPS"), begins("%PDF"), begins("\x76\x2f\x31\x01"), within(8, "WEBP"),
		begins("\xff\x0a"), begins("\x00\x00\x00\x0cJXL "), begins("\x00\x00\x00\x0cjP  "), begins("\xff\x4f\xff\x51"),
		begins("P1"), begins("P2"), begins("P3"), begins("P4"), begins("P5"), begins("P6"), begins("P7"):
		return nil, &Error{Kind: ErrOther, What: "a picture of another kind than TIFF, PNG or JPEG", Instead: saveAs}
	}
	return nil, &Error{Kind: ErrOther, What: "this is no TIFF, PNG or JPEG file", Instead: "name the picture; one of another kind, or a raw file of a camera: " + saveAs}
}
