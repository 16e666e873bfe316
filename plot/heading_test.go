package plot

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito/printable"
)

// Every figure that tells a development time carries the cautions, and no other.
func TestTimesCarryCautions(t *testing.T) {
	tell := []string{"family", "scene", "roll", "tone", "compare", "proposal", "card", "sheet"}
	told := map[string]int{}
	for name, fig := range figures(t) {
		var lines []string
		for _, text := range plottest.Texts(t, fig) {
			lines = append(lines, text.Text)
		}
		kind := ""
		for _, k := range tell {
			if strings.HasPrefix(name, k) {
				kind = k
			}
		}
		told[kind]++
		all := strings.Join(lines, " ")
		for _, caution := range []string{figure.StartingPoint, "gloves, eye protection, ventilation", "safety sheet", "acids or bleach with fixer", "local rules"} {
			assert.Equal(t, kind != "", strings.Contains(all, caution), "%s: %s", name, caution)
		}
	}
	assert.Len(t, told, len(tell)+1)
}

// A text that is cut has as many letters as there is room for.
func TestShortened(t *testing.T) {
	const text = "AVAVA Larkfield 125 in Brinewater 1+19 by the south window, mmmm iiii"
	for room := vg.Length(0); room < 260; room += 1.7 {
		got := parts.Shortened(parts.BodySize, room, text)
		if parts.TextWidth(parts.BodySize, text) <= room {
			assert.Equal(t, text, got)
			continue
		}
		kept, cut := strings.CutSuffix(got, "...")
		require.True(t, cut, got)
		require.True(t, strings.HasPrefix(text, kept), got)
		if kept != "" {
			assert.LessOrEqual(t, parts.TextWidth(parts.BodySize, got), room)
		}
		next := strings.TrimLeft(text[len(kept):], " ")
		more := text[:len(text)-len(next)+1]
		assert.Greater(t, parts.TextWidth(parts.BodySize, more+"..."), room, got)
	}
}

// A name that is cut keeps both its ends.
func TestAbridged(t *testing.T) {
	const text = "AVAVA Larkfield 125 in Brinewater 1+19 by the south window, mmmm 12"
	for room := vg.Length(20); room < 260; room += 1.7 {
		got := parts.Abridged(parts.BodySize, room, text)
		assert.LessOrEqual(t, parts.TextWidth(parts.BodySize, got), room)
		front, back, cut := strings.Cut(got, "...")
		require.True(t, cut, got)
		assert.True(t, strings.HasPrefix(text, front) && strings.HasSuffix(text, back), got)
		assert.InDelta(t, len(front), len(back), 2.5, got)
	}
	assert.Equal(t, text, parts.Abridged(parts.BodySize, 300, text))
}

// The names of many scenes are as many as there is room for, and how many more.
func TestJoinedMany(t *testing.T) {
	var names []string
	for i := range 500 {
		names = append(names, fmt.Sprintf("Quay %d", i+1))
	}
	text := func(n int) string { return strings.Join(names[:n], ", ") + fmt.Sprintf(" and %d more", 500-n) }
	for _, n := range []int{2, 5, 30, 402, 498} {
		room := parts.TextWidth(parts.SmallSize, text(n))
		assert.Equal(t, text(n), joined(names, room+0.1))
		assert.Equal(t, text(n-1), joined(names, room-0.1))
	}
	assert.Equal(t, strings.Join(names, ", "), joined(names, 1e6))
	assert.Equal(t, "Quay... and 499 more", joined(names, 72))
	assert.Equal(t, "Quay 1", joined(names[:1], 75))
	// Names that differ at their ends alone stay apart.
	assert.Equal(t, "The long g...stage 12", joined([]string{"The long gallery from the western stage 12"}, 72))
}

// Whatever a title holds, it is drawn as text, and the file is well formed.
func TestTitlesPrint(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	f := plottest.Family(t, plottest.Demo(t, "larkfield-camera"))
	for _, title := range []string{"Quay\x1b[31m\x00 <&> \u202egpj\n\u009b", strings.Repeat("Harrow Quay ", 500), strings.Repeat("W", 100_000), "\xff"} {
		fig, err := Family(f, nil, nil, Options{Title: title})
		require.NoError(t, err)
		var out bytes.Buffer
		require.NoError(t, Write(&out, fig, SVG))
		assert.Equal(t, printable.Lines(out.String()), out.String())
		assert.Less(t, out.Len(), 100_000)
		d := xml.NewDecoder(&out)
		for err == nil {
			_, err = d.Token()
		}
		assert.True(t, errors.Is(err, io.EOF), err)
		for _, format := range []string{PNG, PDF} {
			require.NoError(t, Write(&out, fig, format))
		}
	}
}

// The time that a text takes grows with its length, not with the square of it.
func BenchmarkLongText(b *testing.B) {
	for _, letters := range []int{300, 30_000, 1_000_000} {
		text := strings.Repeat("Harrow Quay ", letters/12)
		b.Run(fmt.Sprintf("of=heading/letters=%d", letters), func(b *testing.B) {
			for b.Loop() {
				parts.Fitted(parts.TitleSize, 400, text)
			}
		})
		b.Run(fmt.Sprintf("of=note/letters=%d", letters), func(b *testing.B) {
			for b.Loop() {
				parts.Wrapped(parts.BodySize, 400, text, 6)
			}
		})
	}
}
