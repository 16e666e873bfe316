package session_test

import (
	"bytes"
	"encoding/binary"
	"io"
	"testing"
	"testing/iotest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/session"
)

// cue is what a test says of one: seconds from the time of the state.
type cue struct {
	kind    session.Kind
	in      float64
	step    int
	assumed bool
}

func isScheduled(t *testing.T, want []cue, got []session.Cue) {
	t.Helper()
	require.Len(t, got, len(want), "%v", got)
	for i, w := range want {
		assert.Equal(t, w.kind, got[i].Kind, "%d: %v", i, got[i])
		assert.Equal(t, w.step, got[i].Step, "%d: %v", i, got[i])
		assert.Equal(t, w.assumed, got[i].Assumed, "%d: %v", i, got[i])
		assert.InDelta(t, w.in, got[i].In.Seconds(), 0.1, "%d: %v", i, got[i])
	}
}

func intermittent(clearing sensito.Minutes) session.Plan {
	steps := usual()
	steps[1].Agitation = "continuous for the first 30 s, then 5 s each minute"
	steps[3].Clearing = clearing
	steps[5].Changes, steps[5].Minutes = 2, 1
	return session.NewPlan(sheetOf(new(failing), sensito.Repeating{}, nil, steps...), "a.toml")
}

// failing ends a test that cannot be set up.
type failing struct{}

func (*failing) Errorf(format string, args ...any) {}
func (*failing) FailNow()                          { panic("the plan of the test") }

// The sounds of the step that runs are sure, those of the steps to come assumed, up
// to the fixer, whose time is open; with the clearing time they go on to the end, and
// the light comes later than by the clock.
func TestSchedule(t *testing.T) {
	r := start(t, intermittent(0))
	isScheduled(t, []cue{
		{session.PourOut, 20, 1, false}, {session.NextBath, 30, 1, false},
		{session.Agitate, 90, 2, true}, {session.Agitate, 150, 2, true}, {session.Agitate, 210, 2, true}, {session.Agitate, 270, 2, true}, {session.Agitate, 330, 2, true},
		{session.PourOut, 380, 2, true}, {session.NextBath, 390, 2, true},
		{session.PourOut, 415, 3, true}, {session.NextBath, 420, 3, true},
		{session.Agitate, 480, 4, true}, {session.Agitate, 540, 4, true}, {session.Agitate, 600, 4, true}, {session.Agitate, 660, 4, true}, {session.Agitate, 720, 4, true},
		{session.Agitate, 780, 4, true}, {session.Agitate, 840, 4, true}, {session.Agitate, 900, 4, true}, {session.Agitate, 960, 4, true}, {session.Agitate, 1020, 4, true},
		{session.Agitate, 1080, 4, true}, {session.Agitate, 1140, 4, true}, {session.Agitate, 1200, 4, true}, {session.Agitate, 1260, 4, true},
	}, session.Schedule(r.s.At(at(30))))

	r = start(t, intermittent(1))
	all := session.Schedule(r.s.At(at(0)))
	isScheduled(t, []cue{
		{session.Agitate, 510, 4, true},
		{session.PourOut, 560, 4, true}, {session.NextBath, 570, 4, true},
		{session.NextBath, 600, 5, true}, {session.Light, 602, 5, true},
		{session.NextBath, 660, 6, true}, {session.NextBath, 720, 6, true},
	}, all[len(all)-7:])
	r.do(60, next)
	r.do(60+150, read(21.9))
	isScheduled(t, []cue{
		{session.Agitate, 30, 2, false}, {session.Agitate, 90, 2, false}, {session.Agitate, 150, 2, false},
		{session.PourOut, 213.26, 2, false}, {session.NextBath, 223.26, 2, false},
	}, session.Schedule(r.s.At(at(60 + 150)))[:5])
	r.do(433, next)
	r.do(463, next)
	isScheduled(t, []cue{
		{session.PourOut, 10, 4, false}, {session.NextBath, 20, 4, false}, {session.Light, 22, 5, false}, {session.NextBath, 50, 5, true},
	}, session.Schedule(r.s.At(at(563)))[:4])
	assert.Equal(t, session.Light, session.Schedule(r.s.At(at(584)))[0].Kind, "the last step in the dark has had its time")
	over := session.Schedule(r.s.At(at(600)))
	assert.Equal(t, session.NextBath, over[0].Kind, "nobody has gone on, so no light")
	assert.True(t, over[0].Assumed)
	assert.NotContains(t, kinds(over), session.Light)
	r.do(601, session.Act{Do: session.DoEnd})
	assert.Empty(t, session.Schedule(r.s.At(at(602))))
}

func kinds(cues []session.Cue) []session.Kind {
	var out []session.Kind
	for _, c := range cues {
		out = append(out, c.Kind)
	}
	return out
}

// The words of the state follow the fillings of a step that is changed.
func TestChanges(t *testing.T) {
	r := start(t, intermittent(1))
	for _, s := range []float64{60, 420, 450, 570, 600} {
		r.do(s, next)
	}
	assert.Equal(t, "Then filling 2 of 2.", r.s.At(at(610)).Says())
	assert.Equal(t, "Then dry.", r.s.At(at(661)).Says())
	r.do(720, next)
	st := r.s.At(at(730))
	assert.Equal(t, "Hang it free of dust.", st.Says())
	assert.Equal(t, "0:10 so far", st.RemainingText())
	assert.False(t, st.Dark())
	r.do(740, next)
	assert.True(t, r.s.Over())
}

func TestCadence(t *testing.T) {
	for words, want := range map[string]session.Cadence{
		"continuous: shuffle or rock":                         {Continuous: true},
		"none: no froth":                                      {None: true},
		"30 s, then 5 s each minute":                          {First: 30 * time.Second, Each: 5 * time.Second, Every: time.Minute},
		"continuous for the first 30 s, then 5 s each minute": {First: 30 * time.Second, Each: 5 * time.Second, Every: time.Minute},
		"60 sec, then 10 s every 30 s":                        {First: time.Minute, Each: 10 * time.Second, Every: 30 * time.Second},
		"30 s, then 10 s every 3 min":                         {First: 30 * time.Second, Each: 10 * time.Second, Every: 3 * time.Minute},
		"30 s, then 60 s each minute":                         {},
		"30 s, then 5 s every 0 s":                            {},
		"as the strips of the trial, which does not say":      {},
		"": {},
	} {
		assert.Equal(t, want, session.ParseCadence(words), words)
	}
}

// In a player without hands the sounds lie where the schedule has them, to within a
// tenth of a second, and the file is as it says it is.
func TestSound(t *testing.T) {
	r := start(t, intermittent(1))
	cues := session.Schedule(r.s.At(at(0)))
	sound := session.NewSound(cues)
	var file bytes.Buffer
	n, err := sound.WriteTo(&file)
	require.NoError(t, err)
	require.Equal(t, sound.Size(), n)
	require.Equal(t, sound.Size(), int64(file.Len()))
	data := file.Bytes()
	short := session.NewSound(cues[:2])
	var first bytes.Buffer
	_, err = short.WriteTo(&first)
	require.NoError(t, err)
	require.NoError(t, iotest.TestReader(io.NewSectionReader(short, short.Size()-9000, 9000), first.Bytes()[short.Size()-9000:]))
	assert.Equal(t, "RIFF", string(data[:4]))
	assert.Equal(t, uint32(len(data)-8), binary.LittleEndian.Uint32(data[4:]))
	assert.Equal(t, "WAVEfmt ", string(data[8:16]))
	assert.Equal(t, uint32(8000), binary.LittleEndian.Uint32(data[24:]))
	assert.Equal(t, "data", string(data[36:40]))
	assert.Equal(t, uint32(len(data)-44), binary.LittleEndian.Uint32(data[40:]))

	var want, got []float64 // when tones begin
	for _, c := range cues {
		for _, tone := range c.Kind.Tones() {
			want = append(want, (c.In + tone.At).Seconds())
		}
	}
	quiet := 1 << 20
	for i, b := range data[44:] {
		if b == 128 {
			quiet++
			continue
		}
		if quiet > 800 {
			got = append(got, float64(i)/8000)
		}
		quiet = 0
	}
	require.Len(t, got, len(want))
	for i := range want {
		assert.InDelta(t, want[i], got[i], 0.01)
	}
	assert.Len(t, session.Agitate.Tones(), 1)
	assert.Len(t, session.PourOut.Tones(), 2)
	assert.Len(t, session.NextBath.Tones(), 3)
	assert.Equal(t, 3*time.Second, session.Light.Tones()[0].Length)
	assert.Less(t, sound.Size(), int64(7<<20))
	assert.Equal(t, int64(44+8000), session.NewSound([]session.Cue{{Kind: session.Light, In: 4 * time.Hour}}).Size(), "a wash over night")
}

func TestNoTemperature(t *testing.T) {
	sheet := sheetOf(t, sensito.Repeating{}, nil)
	sheet.Process.TemperatureC = 0
	p := session.NewPlan(sheet, "a.toml")
	assert.Nil(t, p.Rate)
	r := start(t, p)
	r.do(60, next)
	r.do(90, read(21))
	st := r.s.At(at(91))
	assert.Nil(t, st.Correction)
	r.do(420, next)
	assert.Empty(t, r.s.At(at(421)).WorthText())
	d, err := r.s.At(at(421)).Done("")
	require.NoError(t, err)
	assert.Equal(t, sensito.Minutes(6), d.Minutes)
	assert.Equal(t, 21.0, d.TemperatureC)
}
