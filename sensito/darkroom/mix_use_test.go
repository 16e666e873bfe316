package darkroom_test

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/darkroom"
)

func asUnanswerable(err error) bool { return errors.As(err, new(*sensito.Unanswerable)) }

func films(t *testing.T, text string) []sensito.Films {
	t.Helper()
	f, err := sensito.ParseFilms(text)
	require.NoError(t, err)
	return f
}

func TestMixUse(t *testing.T) {
	least := darkroom.Least{Concentrate: 6, Per: sensito.FilmUnit}
	m := mixed(t, darkroom.MixSpec{Dilution: parsed(t, "1+31"), Tank: 1000, Films: films(t, "4x 4x5in"), Least: least})
	assert.Empty(t, warned(m))
	assert.Equal(t, 4, m.Use.Count)
	assert.InDelta(t, 31.25, float64(m.Use.Each), 1e-9)
	assert.InDelta(t, 6, float64(*m.Use.Least), 1e-9)
	assert.Equal(t, 20, m.Use.Most, "31.25 ml at 1.5 ml a sheet")

	// Not stated, not checked, and said so.
	m = mixed(t, darkroom.MixSpec{Dilution: parsed(t, "1+31"), Total: 1000, Films: films(t, "4x 4x5in")})
	assert.Equal(t, "least_unknown", warned(m))
	assert.Nil(t, m.Use.Least)

	// Just enough is enough, and is not rounded below.
	m = mixed(t, darkroom.MixSpec{Dilution: parsed(t, "1+49"), Total: 600, Films: films(t, "2x 120"), Least: least})
	assert.InDelta(t, 12, float64(m.Measuring.Pours[0].Liquid.Volume), 1e-9)
	m = mixed(t, darkroom.MixSpec{Dilution: parsed(t, "1+48"), Total: 600, Films: films(t, "2x 120"), Least: darkroom.Least{Concentrate: 6.12, Per: sensito.FilmUnit}})
	assert.InDelta(t, 12.5, float64(m.Measuring.Pours[0].Liquid.Volume), 1e-9, "12.24 ml would round to 12")

	// From the least itself.
	m = mixed(t, darkroom.MixSpec{Dilution: parsed(t, "1+31"), Films: films(t, "2x 120"), Least: least})
	assert.InDelta(t, 384, float64(m.Total), 1e-9)
	assert.Equal(t, "least_volume", warned(m))
}

// A small drum with thin developer is refused, and what would do is told.
func TestMixTooLittleForTheFilm(t *testing.T) {
	for _, c := range []struct {
		dilution     string
		total, tank  darkroom.Volume
		films, least string
		reason, hint string
	}{
		{"1+31", 0, 250, "8x10in", "10ml", "7.812 ml of concentrate are too little for 1x 8x10in: 10 ml (10 ml for 80 sq in) are the least, and the developer would be exhausted before the film is developed",
			"at least 320 ml of 1+31, which needs a larger vessel; or 1+24 in 250 ml, with the time tested for it"},
		{"1+100", 500, 1000, "4x 4x5in", "2ml/film", "4.95 ml of concentrate are too little for 4x 4x5in: 8 ml (2 ml a film) are the least, and the developer would be exhausted before the film is developed",
			"at most 2x 4x5in at once; or at least 810 ml of 1+100; or 1+61 in 500 ml, with the time tested for it"},
		{"1+1", 100, 0, "120, 4x5", "100ml/80in2", "50 ml of concentrate are too little for 1x 120 and 1x 4x5in: 125 ml (100 ml for 80 sq in) are the least, and the developer would be exhausted before the film is developed",
			"at least 250 ml of 1+1; or even undiluted 100 ml are not enough"},
		{"1+9", 200, 0, "4x 4x5in", "60ml/500cm2", "20 ml of concentrate are too little for 4x 4x5in: 61.94 ml (60 ml for 500 cm2) are the least, and the developer would be exhausted before the film is developed",
			"at most 1x 4x5in at once; or at least 620 ml of 1+9; or 1+2.2 in 200 ml, with the time tested for it"},
	} {
		least, _, err := darkroom.ParseLeast(c.least)
		require.NoError(t, err)
		_, err = darkroom.NewMix(darkroom.MixSpec{Dilution: parsed(t, c.dilution), Total: c.total, Tank: c.tank, Films: films(t, c.films), Least: least})
		var u *sensito.Unanswerable
		require.ErrorAs(t, err, &u)
		assert.Equal(t, c.reason, u.Reason)
		assert.Equal(t, c.hint, u.Hint)
	}
}

func TestMixVessel(t *testing.T) {
	_, err := darkroom.NewMix(darkroom.MixSpec{Dilution: parsed(t, "1+19"), Total: 1200, Tank: 1000})
	require.True(t, asUnanswerable(err))
	assert.EqualError(t, err, "1200 ml do not go into a vessel of 1000 ml")
	m := mixed(t, darkroom.MixSpec{Dilution: parsed(t, "1+19"), Total: 600, Tank: 1000})
	assert.Equal(t, "tank_not_full", warned(m))
	assert.Empty(t, warned(mixed(t, darkroom.MixSpec{Dilution: parsed(t, "1+19"), Total: 1000, Tank: 1000})))
}

func TestParseLeast(t *testing.T) {
	for text, want := range map[string]darkroom.Least{
		"6ml": {Concentrate: 6, Per: sensito.FilmUnit}, "6 ml/film": {Concentrate: 6}, "6ml/roll": {Concentrate: 6}, "6ml / sheet": {Concentrate: 6},
		"5ml/500cm2": {Concentrate: 5, Per: 500}, "5ml/40 sq in": {Concentrate: 5, Per: sensito.FilmUnit / 2}, "300ml/m2": {Concentrate: 300, Per: 1e4},
	} {
		got, _, err := darkroom.ParseLeast(text)
		require.NoError(t, err, text)
		assert.InEpsilon(t, float64(want.Concentrate), float64(got.Concentrate), 1e-12, text)
		assert.InDelta(t, float64(want.Per), float64(got.Per), 1e-9, text)
	}
	for text, want := range map[string]string{
		"6":         `"6" is not a volume like 600ml, 1.5l, 20usfloz or 20impfloz`,
		"6ml/":      `"6ml/": "" is not film, or an area like 80in2, 500cm2 or 1m2`,
		"6ml/2film": `"6ml/2film": state the concentrate for one film`,
		"6ml/0cm2":  `"6ml/0cm2": an area is outside 1 cm2 to 100 m2`,
		"6ml/acre":  `"6ml/acre": "acre" is not film, or an area like 80in2, 500cm2 or 1m2`,
	} {
		_, _, err := darkroom.ParseLeast(text)
		assert.EqualError(t, err, want)
	}
}

// Capacities as published, for 80 square inches: 100 ml for 30 and for 300
// square inches (H. E. Ives, Airplane Photography, 1920), a litre for 3100
// (New Mexico Administrative Code 20.3.6.612), 300 ml for a square metre (ISPRS
// Commission I).
func TestLeastOfPublishedCapacities(t *testing.T) {
	for text, want := range map[string]float64{"100ml/30in2": 266.7, "100ml/300in2": 26.7, "1l/3100in2": 25.8, "300ml/m2": 15.5} {
		least, _, err := darkroom.ParseLeast(text)
		require.NoError(t, err)
		m := mixed(t, darkroom.MixSpec{Dilution: sensito.Undiluted, Total: 1000, Films: films(t, "8x10in"), Least: least})
		assert.InDelta(t, want, float64(*m.Use.Least), 0.05, text)
	}
}

func TestParseGraduates(t *testing.T) {
	got, err := darkroom.ParseGraduates("10/0.1, 32/1usfloz")
	require.NoError(t, err)
	assert.Equal(t, darkroom.Graduate{Capacity: 10, Mark: 0.1}, got[0])
	assert.InEpsilon(t, 946.352946, float64(got[1].Capacity), 1e-9)
	assert.Equal(t, darkroom.USCustomary, got[1].System)
	for text, want := range map[string]string{
		"":          `"" is not a graduate like 100/1 (capacity and mark in ml) or 32/1usfloz`,
		"100":       `"100" is not a graduate like 100/1 (capacity and mark in ml) or 32/1usfloz`,
		"1/10":      `"1/10": a mark is larger than the graduate`,
		"32/1floz":  `"32/1floz" may be US or imperial: write usfloz or impfloz`,
		"100/x":     `"100x": "x" is not a unit of volume: write ml, l, usfloz or impfloz`,
		"100/0":     `"0ml" is outside 0.01 ml to 1000 l`,
		"100/1/2ml": `"100/2ml" is not a volume like 600ml, 1.5l, 20usfloz or 20impfloz`,
	} {
		_, err := darkroom.ParseGraduates(text)
		assert.EqualError(t, err, want)
	}
}
