package entry_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/entry"
)

// keyedStrip is a strip of four steps that has these readings.
func keyedStrip(t testing.TB, density ...sensito.Density) *entry.Keying {
	t.Helper()
	e, err := sensito.NewContact(2, 0.5, []sensito.Density{0.05, 0.35, 0.65, 0.95})
	require.NoError(t, err)
	nan := sensito.Density(math.NaN())
	trial, err := sensito.NewTrial(sensito.TrialSpec{Film: sensito.Film{Name: "Tern 400"}, Exposures: e,
		Strips: []sensito.StripSpec{{Minutes: 8, Density: []sensito.Density{nan, nan, nan, nan}, NextStep: 1}}})
	require.NoError(t, err)
	k := entry.NewKeying(trial, 1)
	require.NoError(t, k.Fog(0.11))
	for _, d := range density {
		require.NoError(t, k.Read(d))
	}
	return k
}

func TestTyped(t *testing.T) {
	k := keyedStrip(t)
	for text, want := range map[string]sensito.Density{
		"1.13": 1.13, "1,13": 1.13, ".13": 0.13, ",13": 0.13, "2.": 2, "0": 0, "00": 0, "-0": 0, "-0.02": -0.02, "+1.1": 1.1,
		"113": 1.13, "13": 0.13, "09": 0.09, "011": 0.11, "600": 6, "-02": -0.02, "9": 0.09,
	} {
		got, err := k.Typed(text)
		require.NoError(t, err, text)
		assert.InDelta(t, float64(want), float64(got.Density), 1e-12, text)
		assert.Empty(t, got.Or, text)
		hundredths := map[string]bool{"113": true, "13": true, "09": true, "011": true, "600": true, "-02": true, "9": true}
		assert.Equal(t, hundredths[text], got.Guessed, text)
	}
	for text, want := range map[string]string{
		"":      `"" is not a reading, like 1.13; see help`,
		"1.1.3": `"1.1.3" is not a reading, like 1.13; see help`,
		"1.13x": `"1.13x" is not a reading, like 1.13; see help`,
		"1e1":   `"1e1" is not a reading, like 1.13; see help`,
		"11300": "11300 is no density",
		"6001":  "6001 is no density",
	} {
		_, err := k.Typed(text)
		assert.EqualError(t, err, want, text)
	}
}

// In EV and steps a number is what was read, whole or in parts; nothing is left out
// of it, and what the light or the tablet cannot give is refused with its limit.
func TestTypedInOtherUnits(t *testing.T) {
	e, err := sensito.NewContact(2, 0.5, []sensito.Density{0.05, 0.35, 0.65, 0.95})
	require.NoError(t, err)
	keying := func(r sensito.Reading) *entry.Keying {
		trial, err := sensito.NewTrial(sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e, Reading: r,
			Strips: []sensito.StripSpec{{Minutes: 8, Density: slices.Repeat([]sensito.Density{sensito.Density(math.NaN())}, 4), NextStep: 1}}})
		require.NoError(t, err)
		return entry.NewKeying(trial, 1)
	}
	meter := keying(sensito.Reading{Unit: sensito.UnitEV, OpenEV: []float64{12.4, 12.3}, ReadsTo: 1. / 3})
	eye := keying(sensito.Reading{Unit: sensito.UnitStep, Tablet: sensito.EvenWedge(0.05, 0.15, 21)})
	for _, x := range []struct {
		k    *entry.Keying
		text string
		want sensito.Density
	}{
		{meter, "9.7", 9.7}, {meter, "9,7", 9.7}, {meter, "9 2/3", 9.667}, {meter, "9.", 9}, {meter, "9", 9}, {meter, "11", 11}, {meter, "09", 9},
		{meter, "-1 1/3", -1.333}, {meter, "-0", 0}, {eye, "7.5", 7.5}, {eye, "7 1/2", 7.5}, {eye, "21", 21}, {eye, "2", 2},
	} {
		got, err := x.k.Typed(x.text)
		require.NoError(t, err, x.text)
		assert.Equal(t, entry.Typed{Text: x.text, Density: x.want}, got, x.text)
		assert.False(t, math.Signbit(float64(got.Density)) && got.Density == 0, x.text)
	}
	for _, x := range []struct {
		k          *entry.Keying
		text, want string
	}{
		{meter, "12.5", "12.5 EV is brighter than the bare light, 12.35 EV (open_ev)"},
		{meter, "113", "113 EV is brighter than the bare light, 12.35 EV (open_ev)"},
		{meter, "-9", "-9 EV is outside -7.582 to 12.35 EV, the bare light"},
		{meter, "9.7x", `"9.7x" is not a reading in EV, like 9.7 or 9 2/3; see help`},
		{meter, "9 2/0", `"9 2/0" is not a reading in EV, like 9.7 or 9 2/3; see help`},
		{meter, "", `"" is not a reading in EV, like 9.7 or 9 2/3; see help`},
		{eye, "75", "step 75 is outside 1 to 21, those of the tablet"},
		{eye, "0.5", "step 0.5 is outside 1 to 21, those of the tablet"},
		{eye, "x", `"x" is not a reading in steps of the tablet, like 9.7 or 9 2/3; see help`},
	} {
		_, err := x.k.Typed(x.text)
		assert.EqualError(t, err, x.want, x.text)
	}
	// What was read is what is expected again, in the unit of the file.
	got, err := meter.Typed("9 2/3")
	require.NoError(t, err)
	require.NoError(t, meter.Fog(11.9))
	require.NoError(t, meter.Read(got.Density))
	x, ok := entry.ExpectAgain(meter.Trial(), meter.Readings(1))
	require.True(t, ok)
	assert.InDelta(t, 9+2./3, float64(x.Density.Value), 1e-9)
	assert.InDelta(t, 11.9, float64(meter.ExpectFog().Density.Value), 0.05)
	assert.InDelta(t, 12.35-0.2/0.30103, float64(keying(meter.Trial().Reading()).ExpectFog().Density.Value), 1e-3)
}

// One digit, and four, are settled by what is expected, or not at all.
func TestTypedSettled(t *testing.T) {
	blank := keyedStrip(t)
	x, ok := blank.Expect()
	require.False(t, ok, "nothing is known of the first step")
	for text, want := range map[string]string{
		"2":    "2 can be 2.00 or 0.02; write it with its decimal point",
		"1130": "1130 has no decimal point; write 1.13 if that is meant",
		"700":  "700 has no decimal point; write 0.7 if that is meant",
	} {
		r, err := blank.Typed(text)
		require.NoError(t, err)
		require.True(t, r.Guessed)
		_, err = r.Settled(x, ok)
		assert.EqualError(t, err, want)
	}
	k := keyedStrip(t, 2.28, 2.10)
	x, ok = k.Expect() // about 1.9
	require.True(t, ok)
	for text, want := range map[string]sensito.Density{"2": 2, "1900": 1.9, "113": 1.13} {
		r, err := k.Typed(text)
		require.NoError(t, err)
		r, err = r.Settled(x, ok)
		require.NoError(t, err, text)
		assert.InDelta(t, float64(want), float64(r.Density), 1e-12)
		assert.Empty(t, r.Or)
	}
	r, err := k.Typed("5") // far from 1.9 both ways
	require.NoError(t, err)
	_, err = r.Settled(x, ok)
	assert.EqualError(t, err, "5 can be 5.00 or 0.05; write it with its decimal point")
}

// Going back tells what follows.
func TestBackSaysWhatFollows(t *testing.T) {
	k := keyedStrip(t, 2.28, 2.10, 1.90)
	require.NoError(t, k.BackTo(1))
	assert.Equal(t, 1, k.At())
	assert.Equal(t, 4, k.Returns())
	require.NoError(t, k.Read(2.29))
	assert.Equal(t, 4, k.At())
	assert.Zero(t, k.Returns())
	require.NoError(t, k.Back())
	assert.Zero(t, k.Returns(), "the next step follows")
	k.ToEnd()
	assert.True(t, k.Done())
	k.SetMinutes(9)
	k.SetGrade("2")
	assert.Equal(t, sensito.Minutes(9), k.Spec().Minutes)
	assert.Equal(t, "2", k.Spec().Grade)
}

func TestParseNumber(t *testing.T) {
	for text, want := range map[string]float64{"2": 2, "0,3": 0.3, " 1/2 ": 0.5, "1 1/3": 4. / 3, "-0.15": -0.15, "1000": 1000} {
		got, err := entry.ParseNumber(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for text, want := range map[string]string{
		"two": `"two" is not a number`, "": `"" is not a number`, "1/0": `"1/0" is not a number`,
		"1,000": "1,000 may mean 1000 or 1.000: write it with a point, or without the comma",
	} {
		_, err := entry.ParseNumber(text)
		assert.EqualError(t, err, want, text)
	}
}

func TestParseDeveloper(t *testing.T) {
	for text, want := range map[string][3]any{
		"Ashlar 1+4": {"Ashlar", "1+4", false}, "Ashlar 1:14": {"Ashlar", "1+14", true}, "Ashlar": {"Ashlar", "", false},
		"Old  Ashlar stock": {"Old Ashlar", "stock", false}, "Ashlar No 7": {"Ashlar No 7", "", false}, "1+4": {"1+4", "", false},
	} {
		developer, dilution, otherwise, err := entry.ParseDeveloper(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, [3]any{developer, dilution, otherwise}, text)
	}
	_, _, _, err := entry.ParseDeveloper("Ashlar 1/5")
	assert.EqualError(t, err, "1/5 can be 1+5 or 1+4; write it with a plus")
	_, _, _, err = entry.ParseDeveloper("Ashlar 1+x")
	assert.EqualError(t, err, `"1+x" is not a dilution like 1+31 (parts concentrate + parts water) or stock`)
}
