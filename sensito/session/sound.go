package session

import (
	"encoding/binary"
	"io"
	"math"
	"time"
)

// Tone is one tone of a sound.
type Tone struct {
	At, Length time.Duration // from the time of the cue
	Hz         float64
}

const (
	hertz     = 880 // carries across running water, and small speakers have it
	shortTone = 250 * time.Millisecond
	longTone  = 3 * time.Second
	toneEvery = 400 * time.Millisecond
)

// Tones returns the tones of a sound: one agitate, two pour out, three next bath, a
// long one: light may go on.
func (k Kind) Tones() []Tone {
	n := map[Kind]int{Agitate: 1, PourOut: 2, NextBath: 3}[k]
	if n == 0 {
		return []Tone{{0, longTone, hertz}}
	}
	var out []Tone
	for i := range n {
		out = append(out, Tone{time.Duration(i) * toneEvery, shortTone, hertz})
	}
	return out
}

// Sound is the sounds of a session as a WAV file: PCM, one channel, 8 bits, 8 kHz,
// which is the lowest rate that every player takes. 30 minutes are 14 MB; so the file
// is computed where it is read (ReadAt), which needs no memory and lets a player
// fetch it piece by piece: http.ServeContent with an io.NewSectionReader over it
// answers ranges, which some players insist on.
type Sound struct {
	size  int64
	tones []placed
}

// placed is a tone in samples from the start.
type placed struct {
	from, to int64
	hz       float64
}

const (
	sampleRate = 8000
	wavHeader  = 44
	silence    = 128
	loudness   = 112 // of 127
	edge       = 80  // samples in which a tone swells and fades, so that it does not click

	// longestSound is the most that is played; a wash over night goes without.
	longestSound = 3 * time.Hour
)

// NewSound returns the sound of cues, as Schedule gives them. It ends a second after
// the last one that is within three hours.
func NewSound(cues []Cue) *Sound {
	s := &Sound{}
	end := time.Second
	for _, c := range cues {
		if c.In < 0 || c.In > longestSound {
			continue
		}
		for _, t := range c.Kind.Tones() {
			from := c.In + t.At
			s.tones = append(s.tones, placed{samples(from), samples(from + t.Length), t.Hz})
			end = max(end, from+t.Length+time.Second)
		}
	}
	s.size = wavHeader + samples(end) + samples(end)%2
	return s
}

func samples(d time.Duration) int64 { return int64(math.Round(d.Seconds() * sampleRate)) }

// Size returns the length of the file in bytes.
func (s *Sound) Size() int64 { return s.size }

// ReadAt reads a part of the file, as io.ReaderAt says.
func (s *Sound) ReadAt(p []byte, off int64) (int, error) {
	if off < 0 || off >= s.size {
		return 0, io.EOF
	}
	n := int(min(int64(len(p)), s.size-off))
	p = p[:n:n]
	for i := range p {
		p[i] = silence
	}
	if off < wavHeader {
		copy(p, s.header()[off:])
	}
	first := off - wavHeader // the sample of p[0]
	for _, t := range s.tones {
		for at := max(t.from, first, 0); at < min(t.to, first+int64(n)); at++ {
			swell := math.Min(1, float64(min(at-t.from, t.to-1-at))/edge)
			v := loudness * swell * math.Sin(2*math.Pi*t.hz*float64(at-t.from)/sampleRate)
			p[at-first] = byte(silence + math.Round(v))
		}
	}
	if off+int64(n) == s.size {
		return n, io.EOF
	}
	return n, nil
}

// WriteTo writes the whole file.
func (s *Sound) WriteTo(w io.Writer) (int64, error) {
	return io.Copy(w, io.NewSectionReader(s, 0, s.size))
}

// header returns that of the file: RIFF and WAVE, one chunk "fmt " for PCM, one "data".
func (s *Sound) header() []byte {
	data := uint32(s.size - wavHeader)
	h := append(make([]byte, 0, wavHeader), "RIFF"...)
	h = binary.LittleEndian.AppendUint32(h, data+wavHeader-8)
	h = append(h, "WAVEfmt "...)
	h = binary.LittleEndian.AppendUint32(h, 16)
	h = binary.LittleEndian.AppendUint16(h, 1) // PCM
	h = binary.LittleEndian.AppendUint16(h, 1) // channel
	h = binary.LittleEndian.AppendUint32(h, sampleRate)
	h = binary.LittleEndian.AppendUint32(h, sampleRate) // bytes a second
	h = binary.LittleEndian.AppendUint16(h, 1)          // bytes a sample
	h = binary.LittleEndian.AppendUint16(h, 8)          // bits
	h = append(h, "data"...)
	return binary.LittleEndian.AppendUint32(h, data)
}
