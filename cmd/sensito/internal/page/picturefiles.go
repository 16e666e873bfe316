package page

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/page/pictured"
	"sensito/plot"
	"sensito/sensito/notebook/pictures"
	"sensito/sensito/notebook/store"
	"sensito/sensito/picture"
)

// pictureFiles are pictures of the notebook as they were read last, and what they were asked, since one of 24 megapixels
// takes a second or more to be read.
type pictureFiles struct {
	root    *store.Root
	reading chan struct{} // one at a time

	mu       sync.Mutex
	kept     []keptPicture // the one asked for last comes last
	answered []pictureAnswered
}

// mostKept is how many bytes of pictures are kept, but for the last one, which is kept whatever its size;
// mostAnswered how many answers.
const mostKept, mostAnswered = 256 << 20, 4

// A pictureID is what a file is known by, until its content is read anew before it counts.
type pictureID struct {
	name string
	size int64
	at   time.Time
}

type keptPicture struct {
	id    pictureID
	file  ask.PictureFile
	bytes int64
}

// A pictureAnswered is what was asked of a picture, and how it is drawn.
type pictureAnswered struct {
	key    string
	answer *pictureSeen
	drawn  [][]byte // a PNG in greys of each picture
}

// A pictureSeen is what was found in pictures, as their page shows it.
type pictureSeen struct {
	rows  []picture.Ends // proposed
	read  *pictured.Read
	sum   string   // of what was read
	doubt string   // why the ends may be off
	left  []string // which strips the trial has already
	fresh int      // how many it has not
}

func newPictureFiles(root *store.Root) *pictureFiles {
	return &pictureFiles{root: root, reading: make(chan struct{}, 1)}
}

// file opens a picture of the notebook. The error is as of store.Root.Open.
func (p *pictureFiles) file(name string) (*os.File, pictureID, error) {
	r, err := p.root.Open(name)
	if err != nil {
		return nil, pictureID{}, err
	}
	f, is := r.(*os.File)
	if !is {
		r.Close()
		return nil, pictureID{}, fmt.Errorf("%s is not a regular file", name)
	}
	info, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, pictureID{}, fmt.Errorf("%s: %w", name, store.Cause(err))
	}
	return f, pictureID{name, info.Size(), info.ModTime()}, nil
}

// open returns a picture of the notebook. The error is that of the context, or as of pictures.Read.
func (p *pictureFiles) open(ctx context.Context, name string) (ask.PictureFile, error) {
	f, id, err := p.file(name)
	if err != nil {
		return ask.PictureFile{}, err
	}
	defer f.Close()
	if kept, ok := p.find(id); ok {
		return kept, context.Cause(ctx)
	}
	select {
	case p.reading <- struct{}{}:
		defer func() { <-p.reading }()
	case <-ctx.Done():
		return ask.PictureFile{}, context.Cause(ctx)
	}
	if kept, ok := p.find(id); ok {
		return kept, nil
	}
	out := ask.PictureFile{Name: name}
	in := &readWhile{ctx, f}
	if out.Image, err = pictures.Read(in, id.size, name); err == nil {
		out.SHA256, err = sumOf(in, id.size)
	}
	if gone := context.Cause(ctx); gone != nil {
		err = gone
	}
	if err != nil {
		return ask.PictureFile{}, err
	}
	if info, err := f.Stat(); err != nil || info.Size() != id.size || !info.ModTime().Equal(id.at) {
		return ask.PictureFile{}, fmt.Errorf("%s: another program wrote to the file while it was read; wait until the picture is saved", name)
	}
	p.keep(id, out)
	return out, nil
}

// readWhile reads until the context ends.
type readWhile struct {
	ctx context.Context
	of  io.ReaderAt
}

func (r *readWhile) ReadAt(b []byte, at int64) (int, error) {
	if err := context.Cause(r.ctx); err != nil {
		return 0, err
	}
	return r.of.ReadAt(b, at)
}

func sumOf(r io.ReaderAt, size int64) (sum [sha256.Size]byte, err error) {
	h := sha256.New()
	_, err = io.Copy(h, io.NewSectionReader(r, 0, size))
	return [sha256.Size]byte(h.Sum(nil)), err
}

// is says whether a picture is still what was read, byte by byte.
func (p *pictureFiles) is(ctx context.Context, of ask.PictureFile) bool {
	f, id, err := p.file(of.Name)
	if err != nil {
		return false
	}
	defer f.Close()
	sum, err := sumOf(&readWhile{ctx, f}, id.size)
	return err == nil && sum == of.SHA256
}

func (p *pictureFiles) find(id pictureID) (ask.PictureFile, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for i, k := range p.kept {
		if k.id == id {
			p.kept = append(append(p.kept[:i:i], p.kept[i+1:]...), k)
			return k.file, true
		}
	}
	return ask.PictureFile{}, false
}

// keep keeps a picture, in place of the ones that were asked for longest ago.
func (p *pictureFiles) keep(id pictureID, f ask.PictureFile) {
	const perValue = 2
	k := keptPicture{id: id, file: f, bytes: int64(f.Image.Width) * int64(f.Image.Height) * int64(len(f.Image.Planes)) * perValue}
	p.mu.Lock()
	defer p.mu.Unlock()
	all := []keptPicture{k}
	for i, total := len(p.kept)-1, k.bytes; i >= 0; i-- {
		if total += p.kept[i].bytes; total > mostKept {
			break
		}
		if p.kept[i].id.name != id.name {
			all = append([]keptPicture{p.kept[i]}, all...)
		}
	}
	p.kept = all
}

// answer returns what was found for a key, with its drawing, else finds and keeps it.
func (p *pictureFiles) answer(key string, find func() (*pictureSeen, [][]byte, error)) (*pictureSeen, [][]byte, error) {
	p.mu.Lock()
	for _, a := range p.answered {
		if a.key == key {
			p.mu.Unlock()
			return a.answer, a.drawn, nil
		}
	}
	p.mu.Unlock()
	answer, drawn, err := find()
	if err != nil {
		return nil, nil, err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.answered = append(p.answered[max(0, len(p.answered)-mostAnswered+1):len(p.answered):len(p.answered)], pictureAnswered{key, answer, drawn})
	return answer, drawn, nil
}

// A pictureChoice is a file of the notebook that may be a picture.
type pictureChoice struct {
	name string
	size int64
}

// signs are how pictures begin: TIFF in both orders of bytes, with those of 64 bits, which are told how they are saved
// instead; PNG; JPEG.
var signs = []string{"II*\x00", "MM\x00*", "II+\x00", "MM\x00+", "\x89PNG\r\n\x1a\n", "\xff\xd8\xff"}

// list returns the files of the notebook that begin as a picture does, but for those that were drawn here. One that
// cannot be opened, as a link that leaves the folder, is none.
func (p *pictureFiles) list() ([]pictureChoice, error) {
	names, err := p.root.Names()
	if err != nil {
		return nil, err
	}
	var out []pictureChoice
	for _, name := range names {
		f, id, err := p.file(name)
		if err != nil {
			continue
		}
		head := make([]byte, 4096)
		n, _ := io.ReadFull(f, head)
		f.Close()
		head = head[:n]
		for _, sign := range signs {
			if strings.HasPrefix(string(head), sign) && !bytes.Contains(head, []byte("Software\x00"+plot.OverlaySoftware)) {
				out = append(out, pictureChoice{name, id.size})
			}
		}
	}
	return out, nil
}
