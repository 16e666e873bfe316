package darkroom_test

import (
	"errors"
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/development"
)

func procedureOf(t *testing.T, steps ...darkroom.ProcessStep) *darkroom.Procedure {
	t.Helper()
	p, err := darkroom.NewProcedure(darkroom.ProcedureSpec{Steps: steps})
	require.NoError(t, err)
	return p
}

var develops = darkroom.ProcessStep{Name: "Develop", From: darkroom.TimeFromPlan, Dark: true, DrainSeconds: 10}

func soak() darkroom.ProcessStep {
	return darkroom.ProcessStep{Name: "Pre-soak", Bath: darkroom.Bath{Name: "water"}, Minutes: 1, Dark: true, DrainSeconds: 10}
}

func fixes(clearing sensito.Minutes) darkroom.ProcessStep {
	return darkroom.ProcessStep{Name: "Fix", Bath: darkroom.Bath{Name: "fixer", Dilution: "1+4", Capacity: "20 films/l", Mixed: "2026-03-01"}, From: darkroom.TimeFromClearing, Clearing: clearing, Dark: true}
}

func washes() darkroom.ProcessStep {
	return darkroom.ProcessStep{Name: "Wash", Bath: darkroom.Bath{Name: "water"}, Minutes: 10}
}

// sheetOf returns a sheet of a time that was chosen for a trial of two strips.
func sheetOf(t *testing.T, p *darkroom.Procedure, change func(*darkroom.SheetSpec)) (*darkroom.Sheet, error) {
	t.Helper()
	e, err := sensito.NewContact(2, 0.5, sensito.EvenWedge(0, 1, 4))
	require.NoError(t, err)
	trial, err := sensito.NewTrial(sensito.TrialSpec{
		Film:      sensito.Film{Name: "Larkfield 125", RatedSpeed: 125},
		Process:   sensito.Process{Developer: "Brinewater", Dilution: "1+31", TemperatureC: 20, Agitation: sensito.AgitationContinuous},
		Exposures: e,
		Strips: []sensito.StripSpec{
			{Minutes: 5, Density: []sensito.Density{1.5, 1, 0.5, 0.1}},
			{Minutes: 8, Density: []sensito.Density{1.8, 1.2, 0.6, 0.1}},
		},
	})
	require.NoError(t, err)
	s := darkroom.SheetSpec{Procedure: p}.Chosen(trial, 6.5)
	if change != nil {
		change(&s)
	}
	return darkroom.NewSheet(s)
}

// codes returns the codes of warnings.
func codes(ws sensito.Warnings) []string {
	out := []string{}
	for _, w := range ws {
		out = append(out, w.Code)
	}
	return out
}

func vessel(t *testing.T, text string) darkroom.Vessel {
	t.Helper()
	v, err := darkroom.ParseVessel(text)
	require.NoError(t, err)
	return v
}

// The clock runs on through the drains, which are the ends of the times:
// pouring out begins with 10 s left (NAVEDTRA 14209, 10-16). Film is fixed for
// twice the clearing time (NAVEDTRA 14209, 10-7: 45 s make 90 s).
func TestSheetClock(t *testing.T) {
	s, err := sheetOf(t, procedureOf(t, soak(), develops, fixes(0.75), washes(), darkroom.ProcessStep{Name: "Dry"}), nil)
	require.NoError(t, err)
	var start, times, drains []string
	for _, step := range s.Steps {
		start, times = append(start, step.StartText()), append(times, step.TimeText())
		if at := step.DrainFrom(); at != nil {
			drains = append(drains, at.Clock(1))
		}
	}
	assert.Equal(t, []string{"0:00", "1:00", "7:30", "9:00", "19:00"}, start)
	assert.Equal(t, []string{"1:00", "6:30", "1:30", "10:00", ""}, times)
	assert.Equal(t, []string{"0:50", "7:20"}, drains)
	assert.Equal(t, "19:00", s.Total.Clock(1))
	assert.Equal(t, 4, s.LightFrom)
	assert.True(t, s.Steps[1].Critical)
	assert.Equal(t, "twice the clearing time, 0:45; 20 °C", s.Steps[2].Detail())
	assert.Equal(t, "Steps 1 to 3 in complete darkness. Light is safe from step 4, Wash.", s.LightText())
}

// A clearing time that was not measured is never guessed.
// Changes follow each other on the clock, and take as much water each as the vessel
// holds.
func TestSheetChanges(t *testing.T) {
	wash := darkroom.ProcessStep{Name: "Wash", Bath: darkroom.Bath{Name: "water"}, Minutes: 0.5, Changes: 10, DrainSeconds: 5}
	dry := darkroom.ProcessStep{Name: "Dry"}
	p := procedureOf(t, develops, wash, dry)
	assert.Equal(t, 10, p.Spec().Steps[1].Changes)
	s, err := sheetOf(t, p, func(s *darkroom.SheetSpec) { s.Vessel = vessel(t, "tank 600ml") })
	require.NoError(t, err)
	assert.InDelta(t, 5, float64(*s.Steps[1].Time), 1e-9)
	assert.InDelta(t, 11.5, float64(*s.Steps[2].Start), 1e-9)
	assert.InDelta(t, 11.5, float64(*s.Total), 1e-9)
	assert.InDelta(t, 6, s.Steps[1].Water.Litres(), 1e-9)
	assert.Nil(t, s.Steps[1].DrainFrom())
	assert.Equal(t, "10 changes, 0:30 each, 6 l in all; 20 °C; drain the last 5 s of each", s.Steps[1].Detail())
	s, err = sheetOf(t, p, nil)
	require.NoError(t, err)
	assert.Equal(t, "10 changes, 0:30 each", s.Steps[1].ChangesText())
	assert.Empty(t, s.Steps[0].ChangesText())
	_, err = darkroom.NewProcedure(darkroom.ProcedureSpec{Steps: []darkroom.ProcessStep{develops, {Name: "Wash", Bath: darkroom.Bath{Name: "water"}, Minutes: 0.5, Changes: 61}}})
	assert.EqualError(t, err, "step[2].changes: 61 is outside 2 to 60")
}

func TestSheetClearingUnmeasured(t *testing.T) {
	fix := fixes(0)
	fix.ClearingFactor = 3
	s, err := sheetOf(t, procedureOf(t, develops, fix, washes()), nil)
	require.NoError(t, err)
	assert.Nil(t, s.Steps[1].Time)
	assert.Nil(t, s.Steps[2].Start)
	assert.Nil(t, s.Total)
	assert.Equal(t, "__:__", s.Steps[1].TimeText())
	assert.Contains(t, codes(s.Warnings), "clearing_unmeasured")
	assert.Contains(t, s.Steps[1].Detail(), "3 times the clearing time")
}

// Volumes are those of the table in development.md, section 5: 1+31 of 1000 ml
// is 31.25 ml.
func TestSheetVolumes(t *testing.T) {
	p := procedureOf(t, develops, fixes(1), washes())
	s, err := sheetOf(t, p, func(s *darkroom.SheetSpec) {
		s.Vessel, s.Films, s.Least = vessel(t, "tank 1l"), films(t, "4x 4x5in"), darkroom.Least{6, sensito.FilmUnit}
	})
	require.NoError(t, err)
	require.Len(t, s.Baths, 3)
	assert.InDelta(t, 31.25, float64(s.Baths[0].Mix.Concentrate), 1e-9)
	assert.Equal(t, "31 ml into water, to make 1000 ml", s.Baths[0].Measure())
	assert.InDelta(t, 200, float64(s.Baths[1].Mix.Concentrate), 1e-9)
	assert.Nil(t, s.Baths[2].Mix, "water")
	assert.Equal(t, []int{3}, s.Baths[2].Steps)
	assert.Empty(t, s.Warnings)

	// A small drum with thin developer is refused before it spoils film.
	_, err = sheetOf(t, p, func(s *darkroom.SheetSpec) {
		s.Vessel, s.Films, s.Least = vessel(t, "drum 150ml"), films(t, "4x 4x5in"), darkroom.Least{6, sensito.FilmUnit}
	})
	var u *sensito.Unanswerable
	require.True(t, errors.As(err, &u))
	assert.Contains(t, u.Reason, "Brinewater: 4.688 ml of concentrate are too little for 4x 4x5in")
	assert.Contains(t, u.Hint, "at most 3x 4x5in at once")

	// So it is by the procedure's own least amount.
	least := develops
	least.Bath.Least = "6ml/film"
	_, err = sheetOf(t, procedureOf(t, least, washes()), func(s *darkroom.SheetSpec) {
		s.Vessel, s.Films = vessel(t, "tray 500ml"), films(t, "4x 4x5in")
	})
	assert.ErrorContains(t, err, "24 ml (6 ml a film) are the least")

	s, err = sheetOf(t, p, nil)
	require.NoError(t, err)
	assert.Contains(t, codes(s.Warnings), "no_vessel")
	assert.Nil(t, s.Baths[0].Mix)
}

// A bath that is kept counts the films of the log since it was mixed.
func TestSheetCountsUses(t *testing.T) {
	p := procedureOf(t, develops, fixes(1), washes())
	logged := func(s *darkroom.SheetSpec) {
		spec := s.Trial.Spec()
		spec.Done = []sensito.Done{
			{Date: "2026-02-28", Minutes: 6, Films: films(t, "20x 8x10in")}, // in the bath before
			{Date: "2026-03-01", Minutes: 6, Films: films(t, "4x 8x10in")},
			{Date: "2026-03-03", Minutes: 6},
			{Date: "2026-03-04", Minutes: 6, Films: films(t, "4x 4x5in")},
		}
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		s.Trial, s.Vessel, s.Films = trial, vessel(t, "tank 300ml"), films(t, "8x10in")
	}
	s, err := sheetOf(t, p, logged)
	require.NoError(t, err)
	u := s.Baths[1].Use
	require.NotNil(t, u)
	assert.Equal(t, 3, u.Before)
	assert.Equal(t, 1, u.Unknown)
	assert.InDelta(t, 400, u.Area.SquareInches(), 1e-9)
	assert.InDelta(t, 480, u.Most.SquareInches(), 1e-9) // 20 films a litre, 6 in 300 ml
	assert.False(t, u.Over())
	assert.Equal(t, "fixer, mixed 2026-03-01: used 3 times by this log for 400 sq in (1 without their films), with today 480, of 480", s.Baths[1].UseText())

	// Logs beside it count where they name the bath, or no bath; a developer by its trials.
	beside := func(developer string, done ...sensito.Done) *sensito.Trial {
		spec := s.Spec.Trial.Spec()
		spec.Process.Developer, spec.Done = developer, done
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		return trial
	}
	bath := s.Baths[1].Name
	logs := []*sensito.Trial{
		beside("Ashlar", sensito.Done{Date: "2026-03-05", Minutes: 6, Films: films(t, "8x10in"), Baths: []string{"other", bath}},
			sensito.Done{Date: "2026-03-05", Minutes: 6, Films: films(t, "40x 8x10in"), Baths: []string{"other"}},
			sensito.Done{Date: "2026-02-05", Minutes: 6, Films: films(t, "40x 8x10in"), Baths: []string{bath}}),
		beside("Ashlar", sensito.Done{Date: "2026-03-06", Minutes: 6, Films: films(t, "2x 8x10in")}),
		beside("Ashlar"),
	}
	s, err = sheetOf(t, p, func(s *darkroom.SheetSpec) { logged(s); s.Logs = logs })
	require.NoError(t, err)
	assert.Equal(t, "fixer, mixed 2026-03-01: used 5 times by the 4 logs of this notebook for 640 sq in (1 without their films, 4 that do not name their baths), with today 720, of 480", s.Baths[1].UseText())
	assert.Equal(t, "9 of 6 films by the 4 logs of this notebook", s.Baths[1].Use.FilmsText())
	assert.Contains(t, codes(s.Warnings), "bath_exhausted")

	keeps := develops
	keeps.Bath.Mixed = "2026-03-01"
	s, err = sheetOf(t, procedureOf(t, keeps, washes()), func(s *darkroom.SheetSpec) { logged(s); s.Logs = logs })
	require.NoError(t, err)
	assert.Equal(t, 3, s.Baths[0].Use.Before, "those of another developer are none of its")

	s, err = sheetOf(t, p, func(s *darkroom.SheetSpec) { logged(s); s.Films = films(t, "2x 8x10in") })
	require.NoError(t, err)
	assert.True(t, s.Baths[1].Use.Over())
	assert.Contains(t, codes(s.Warnings), "bath_exhausted")
}

func TestSheetDeveloperUses(t *testing.T) {
	p := procedureOf(t, develops, washes())
	s, err := sheetOf(t, p, func(s *darkroom.SheetSpec) { s.Uses = darkroom.Uses{Number: 3, Most: 10} })
	require.NoError(t, err)
	assert.Equal(t, "use 3 of 10", s.Kept(s.Baths[0]))
	assert.Contains(t, codes(s.Warnings), "developer_reused")
	_, err = sheetOf(t, p, func(s *darkroom.SheetSpec) { s.Uses = darkroom.Uses{Number: 11, Most: 10} })
	assert.EqualError(t, err, "use 11 of a developer that bears 10: it is used up")
	s, err = sheetOf(t, p, func(s *darkroom.SheetSpec) { s.Uses = darkroom.Uses{OneShot: true} })
	require.NoError(t, err)
	assert.Equal(t, "one-shot", s.Kept(s.Baths[0]))
	for text, want := range map[string]darkroom.Uses{"one-shot": {OneShot: true}, "One shot": {OneShot: true}, "3": {Number: 3}, "3 of 10": {Number: 3, Most: 10}, "3/10": {Number: 3, Most: 10}} {
		got, err := darkroom.ParseUses(text)
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
	for _, text := range []string{"", "0", "-1", "3 of 0", "3 of", "twice", "3 10"} {
		_, err := darkroom.ParseUses(text)
		assert.Error(t, err, text)
	}
}

func TestSheetTray(t *testing.T) {
	p := procedureOf(t, develops, washes())
	s, err := sheetOf(t, p, func(s *darkroom.SheetSpec) { s.Vessel, s.Films = vessel(t, "tray 1l"), films(t, "6x 4x5in") })
	require.NoError(t, err)
	assert.Equal(t, &darkroom.TrayOrder{Sheets: 6, PassS: 30, EachS: 5, DipS: 25}, s.Order)
	assert.Equal(t, "continuous: shuffle or rock", s.Steps[0].Agitation)
	s, err = sheetOf(t, p, func(s *darkroom.SheetSpec) { s.Vessel, s.Films = vessel(t, "tray 1l"), films(t, "12x 4x5in") })
	require.NoError(t, err)
	assert.True(t, s.Order.TooQuick)
	assert.Contains(t, codes(s.Warnings), "shuffle_quick")
	s, err = sheetOf(t, p, func(s *darkroom.SheetSpec) { s.Vessel, s.Films = vessel(t, "tank 1l"), films(t, "6x 4x5in") })
	require.NoError(t, err)
	assert.Nil(t, s.Order)
	assert.Equal(t, "Load and close the tank in the dark; it stays closed through step 1. Light is safe from step 2, Wash.", s.LightText())
}

func TestSheetConditions(t *testing.T) {
	cold := washes()
	cold.TemperatureC = 15
	s, err := sheetOf(t, procedureOf(t, develops, cold), func(s *darkroom.SheetSpec) {
		s.Under = development.Conditions{TemperatureC: new(22.5), EndC: new(24.0), Agitation: sensito.AgitationIntermittent, Dilution: "1+63"}
	})
	require.NoError(t, err)
	assert.Equal(t, "Brinewater 1+63", s.Steps[0].Bath.Label())
	assert.Equal(t, "Develop 6:30 at 22.5 °C drifting to 24 °C", s.Headline())
	assert.Equal(t, "continuous for the first 30 s, then 5 s each minute", s.Steps[0].Agitation)
	assert.Contains(t, codes(s.Warnings), "bath_temperature")
	s, err = sheetOf(t, procedureOf(t, soak(), develops, washes()), func(s *darkroom.SheetSpec) {
		s.Under = development.Conditions{TemperatureC: new(20.0), EndC: new(24.0)}
	})
	require.NoError(t, err)
	assert.Equal(t, []float64{20, 20, 24}, []float64{s.Steps[0].Celsius, s.Steps[1].Celsius, s.Steps[2].Celsius}, "baths after one that drifts are as warm as its end")
	_, err = sheetOf(t, procedureOf(t, develops), func(s *darkroom.SheetSpec) { s.Minutes.Value = 2000 })
	assert.ErrorContains(t, err, "2000 min is outside 0.05 to 1440 min")
	_, err = sheetOf(t, procedureOf(t, develops), func(s *darkroom.SheetSpec) { s.Date = "today" })
	assert.ErrorContains(t, err, `"today" is not a date`)
	s, err = sheetOf(t, procedureOf(t, develops), func(s *darkroom.SheetSpec) { *s = s.Chosen(s.Trial, 4) })
	require.NoError(t, err)
	assert.Contains(t, codes(s.Warnings), "short_time")
	assert.Equal(t, 2, s.LightFrom, "none is in the light")
	assert.Equal(t, "Step 1 in complete darkness.", s.LightText())
}

func TestParseVessel(t *testing.T) {
	for text, want := range map[string]darkroom.Vessel{
		"tank 1000ml":       {Kind: darkroom.Tank, Volume: 1000},
		"Open tank 3 l":     {Kind: darkroom.OpenTank, Volume: 3000},
		"tray 500 ml":       {Kind: darkroom.Tray, Volume: 500},
		"drum 300ml 50 rpm": {Kind: darkroom.Drum, Volume: 300, Note: "50 rpm"},
		"drum 300ml, 50 turns a minute, turned about": {Kind: darkroom.Drum, Volume: 300, Note: "50 turns a minute, turned about"},
		"tank 16 US fl oz":                            {Kind: darkroom.Tank, Volume: 16 * darkroom.USFluidOunce, System: darkroom.USCustomary},
		"tank 0,5l":                                   {Kind: darkroom.Tank, Volume: 500},
		"tank 20impfloz, old":                         {Kind: darkroom.Tank, Volume: 20 * darkroom.ImperialFluidOunce, System: darkroom.Imperial, Note: "old"},
	} {
		got, err := darkroom.ParseVessel(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "tank", "1l", "bucket 3l", "tank 1000", "tank -1l", "tank 2000 l", "tray 5 stone"} {
		_, err := darkroom.ParseVessel(text)
		assert.Error(t, err, text)
	}
}

func TestParseCapacity(t *testing.T) {
	for text, want := range map[string]sensito.Area{"20 films/l": 20 * sensito.FilmUnit, "1 film per litre": sensito.FilmUnit, "1600in2/l": 1600 * sensito.SquareInch, "1,5 m2 / l": 15000, "800 cm2/l": 800} {
		got, err := darkroom.ParseCapacity(text)
		require.NoError(t, err, text)
		assert.InDelta(t, float64(want), float64(got), 1e-9, text)
	}
	for _, text := range []string{"", "20", "20 films", "0 films/l", "many films/l", "9999 m2/l"} {
		_, err := darkroom.ParseCapacity(text)
		assert.Error(t, err, text)
	}
}

// FuzzVessel: what is read is read again the same, and nothing panics.
func FuzzVessel(f *testing.F) {
	for _, text := range []string{"tank 1000ml", "open tank 3l", "drum 300ml, 50 turns a minute", "tray 20impfloz", "tank 1 US gallon; old"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		v, err := darkroom.ParseVessel(text)
		if err != nil {
			require.Zero(t, v)
			return
		}
		require.True(t, v.Stated())
		again, err := darkroom.ParseVessel(string(v.Kind) + " " + strconv.FormatFloat(math.Round(float64(v.Volume)*1e6)/1e6, 'f', -1, 64) + "ml; " + v.Note)
		require.NoError(t, err)
		require.Equal(t, v.Note, again.Note)
		require.InEpsilon(t, float64(v.Volume), float64(again.Volume), 1e-4)
	})
}
