package sensito_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/paper"
)

// faultCase is something made of bad values and every fault it must be told,
// one FieldError each, in order.
type faultCase struct {
	name string
	err  error
	want []string
}

func (c faultCase) check(t *testing.T) {
	t.Helper()
	blind.Faults(t, c.err, c.want)
}

type densities = []sensito.Density

var nan, inf = math.NaN(), math.Inf(1)

func TestExposureFaults(t *testing.T) {
	contact := func(lux, seconds float64, wedge ...sensito.Density) error {
		e, err := sensito.NewContact(lux, seconds, wedge)
		assert.Zero(t, e.Len(), "nothing is made of bad values")
		return err
	}
	camera := func(index sensito.Speed, m sensito.MeterConstants, stops ...float64) error {
		e, err := sensito.NewCamera(index, stops, m)
		assert.Zero(t, e.Len())
		return err
	}
	relative := func(logH ...sensito.LogExposure) error {
		e, err := sensito.NewRelative(logH)
		assert.Zero(t, e.Len())
		return err
	}
	sound, err := sensito.NewRelative([]sensito.LogExposure{0, 1, 2})
	require.NoError(t, err)
	unchanged := func(e sensito.Exposures, err error) error {
		assert.Equal(t, sound, e, "bad values change nothing")
		return err
	}
	none := sensito.MeterConstants{}
	for _, c := range []faultCase{
		{"contact illuminance", contact(0, 0.5, 0, 1, 2), []string{"exposure.illuminance_lx: 0 lx is outside 1e-06 to 1e+07 lx"}},
		{"contact illuminance nan", contact(nan, 0.5, 0, 1, 2), []string{"exposure.illuminance_lx: NaN lx is outside 1e-06 to 1e+07 lx"}},
		{"contact seconds", contact(2, -0.5, 0, 1, 2), []string{"exposure.seconds: -0.5 s is outside 1e-06 to 1e+06 s"}},
		{"contact seconds inf", contact(2, inf, 0, 1, 2), []string{"exposure.seconds: +Inf s is outside 1e-06 to 1e+06 s"}},
		{"wedge of two", contact(2, 0.5, 0, 1), []string{"exposure.wedge: 2 steps is outside 3 to 1000"}},
		{"wedge missing", contact(2, 0.5), []string{"exposure.wedge: 0 steps is outside 3 to 1000"}},
		{"wedge too long", contact(2, 0.5, sensito.EvenWedge(0, 0.005, 1001)...), []string{"exposure.wedge: 1001 steps is outside 3 to 1000"}},
		{"wedge density", contact(2, 0.5, -0.05, 1, 6.1), []string{
			"exposure.wedge[1]: -0.05 is outside 0 to 6", "exposure.wedge[3]: 6.1 is outside 0 to 6"}},
		{"wedge nan", contact(2, 0.5, 0, sensito.Density(nan), 2), []string{"exposure.wedge[2]: NaN is outside 0 to 6"}},
		{"wedge turns", contact(2, 0.5, 0, 1, 0.5, 2), []string{
			"exposure.wedge[3]: 0.5 after 1 breaks the order of the wedge; its densities must rise or fall all the way"}},
		{"falling wedge turns", contact(2, 0.5, 2, 1, 1.5), []string{
			"exposure.wedge[3]: 1.5 after 1 breaks the order of the wedge; its densities must rise or fall all the way"}},
		{"wedge stands still", contact(2, 0.5, 0, 1, 1), []string{
			"exposure.wedge[3]: 1 after 1 breaks the order of the wedge; its densities must rise or fall all the way"}},
		{"wedge begins level", contact(2, 0.5, 1, 1, 2), []string{
			"exposure.wedge[2]: 1 after 1 breaks the order of the wedge; its densities must rise or fall all the way"}},
		{"contact, all at once", contact(0, 0, 7, 1), []string{
			"exposure.illuminance_lx: 0 lx is outside 1e-06 to 1e+07 lx",
			"exposure.seconds: 0 s is outside 1e-06 to 1e+06 s",
			"exposure.wedge: 2 steps is outside 3 to 1000",
			"exposure.wedge[1]: 7 is outside 0 to 6"}},

		{"camera index", camera(0, none, -1, 0, 1), []string{"exposure.meter_index: 0 is outside 0.01 to 1e+06"}},
		{"camera index negative", camera(-125, none, -1, 0, 1), []string{"exposure.meter_index: -125 is outside 0.01 to 1e+06"}},
		{"camera stops few", camera(125, none, 0), []string{"exposure.stops: 1 steps is outside 3 to 1000"}},
		{"camera stops far", camera(125, none, -21, 0, nan), []string{
			"exposure.stops[1]: -21 stops is outside -20 to 20 stops", "exposure.stops[3]: NaN stops is outside -20 to 20 stops"}},
		{"camera meter", camera(125, sensito.MeterConstants{K: 4, Q: 1.5}, -1, 0, 1), []string{
			"exposure.meter_k: 4 cd s/m2 is outside 5 to 30 cd s/m2", "exposure.meter_q: 1.5 is outside 0.2 to 1"}},
		{"camera, all at once", camera(2e6, sensito.MeterConstants{K: 31}, -30), []string{
			"exposure.meter_index: 2e+06 is outside 0.01 to 1e+06",
			"exposure.stops: 1 steps is outside 3 to 1000",
			"exposure.stops[1]: -30 stops is outside -20 to 20 stops",
			"exposure.meter_k: 31 cd s/m2 is outside 5 to 30 cd s/m2"}},

		{"relative few", relative(0, 1), []string{"exposure.log_h: 2 steps is outside 3 to 1000"}},
		{"relative far", relative(0, 21, sensito.LogExposure(-inf)), []string{
			"exposure.log_h[2]: 21 is outside -20 to 20", "exposure.log_h[3]: -Inf is outside -20 to 20"}},

		{"tied far", unchanged(sound.TiedTo(21, 100)), []string{"exposure.reference_speed_point_log_h: 21 is outside -20 to 20"}},
		{"tied without speed", unchanged(sound.TiedTo(1, 0)), []string{
			"film.rated_speed: is needed to tie relative exposures to reference_speed_point_log_h"}},
		{"tied, all at once", unchanged(sound.TiedTo(sensito.LogExposure(nan), -1)), []string{
			"exposure.reference_speed_point_log_h: NaN is outside -20 to 20",
			"film.rated_speed: is needed to tie relative exposures to reference_speed_point_log_h"}},
		{"common sd negative", unchanged(sound.WithCommonSD(-0.01)), []string{"exposure.log_h_sd: -0.01 is outside 0 to 1"}},
		{"common sd large", unchanged(sound.WithCommonSD(1.5)), []string{"exposure.log_h_sd: 1.5 is outside 0 to 1"}},
		{"common sd nan", unchanged(sound.WithCommonSD(sensito.LogRange(nan))), []string{"exposure.log_h_sd: NaN is outside 0 to 1"}},
		{"meter", unchanged(sound.WithMeter(sensito.MeterConstants{K: -1, Q: 0.1})), []string{
			"exposure.meter_k: -1 cd s/m2 is outside 5 to 30 cd s/m2", "exposure.meter_q: 0.1 is outside 0.2 to 1"}},
		{"meter nan", unchanged(sound.WithMeter(sensito.MeterConstants{Q: nan})), []string{"exposure.meter_q: NaN is outside 0.2 to 1"}},
	} {
		t.Run(c.name, c.check)
	}
}

// soundSpec is a trial without a fault; the bad ones differ in what they name.
func soundSpec(t *testing.T) sensito.TrialSpec {
	t.Helper()
	e, err := sensito.NewContact(2, 0.5, densities{0, 1, 2, 3})
	require.NoError(t, err)
	return sensito.TrialSpec{
		Film:      sensito.Film{Name: "Larkfield 125", RatedSpeed: 125},
		Process:   sensito.Process{Developer: "Brinewater", Dilution: "1+19", TemperatureC: 20, Agitation: sensito.AgitationContinuous},
		Exposures: e,
		Strips: []sensito.StripSpec{
			{Minutes: 5, BaseFog: densities{0.1}, Density: densities{1.5, 1, 0.5, 0.1}, Date: "2026-03-02"},
			{Minutes: 8, Density: densities{1.8, 1.2, sensito.Density(nan), 0.1}, Ignore: []int{1, 4}},
		},
	}
}

func TestTrialFaults(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(*sensito.TrialSpec)
		want  []string
	}{
		{"film name", func(s *sensito.TrialSpec) { s.Film.Name = "" }, []string{"film.name: is missing"}},
		{"rated speed", func(s *sensito.TrialSpec) { s.Film.RatedSpeed = -1 }, []string{"film.rated_speed: -1 is outside 0.01 to 1e+06"}},
		{"exposures", func(s *sensito.TrialSpec) { s.Exposures, s.Strips[1].Ignore = sensito.Exposures{}, nil }, []string{"exposure: is missing"}},
		{"dilution", func(s *sensito.TrialSpec) { s.Process.Dilution = "1:19" }, []string{
			`process.dilution: "1:19" is not of the form 1+19 (parts concentrate + parts water) or stock: write 1+19, or 1+18 if it says 1 part in 19`}},
		{"dilution without water", func(s *sensito.TrialSpec) { s.Process.Dilution = "1+" }, []string{
			`process.dilution: "1+" is not of the form 1+19 (parts concentrate + parts water) or stock`}},
		{"temperature", func(s *sensito.TrialSpec) { s.Process.TemperatureC = 68 }, []string{
			"process.temperature_c: 68 degrees C is outside 1 to 60; temperatures are in Celsius, 68 degrees F is 20"}},
		{"temperature nan", func(s *sensito.TrialSpec) { s.Process.TemperatureC = nan }, []string{
			"process.temperature_c: NaN degrees C is outside 1 to 60; temperatures are in Celsius, 68 degrees F is 20"}},
		{"agitation", func(s *sensito.TrialSpec) { s.Process.Agitation = "rotary" }, []string{
			`process.agitation: "rotary" is not continuous, intermittent or none`}},
		{"repeatability", func(s *sensito.TrialSpec) { s.Reading.Repeatability = 1 }, []string{
			"reading.repeatability: 1 is outside 0.0001 to 0.5"}},
		{"repeatability negative", func(s *sensito.TrialSpec) { s.Reading.Repeatability = -0.01 }, []string{
			"reading.repeatability: -0.01 is outside 0.0001 to 0.5"}},
		{"zero", func(s *sensito.TrialSpec) { s.Reading.Zero = "film" }, []string{`reading.zero: "film" is neither "air" nor "base"`}},
		{"reciprocity", func(s *sensito.TrialSpec) {
			s.Reciprocity = &sensito.StatedReciprocity{Pairs: []sensito.ReciprocityPair{{Metered: 2, Corrected: 1}, {Metered: 1, Corrected: 3}}}
		}, []string{"reciprocity[1].corrected_s: 1 s is shorter than the metered 2 s; no film needs less in dim light",
			"reciprocity[2].metered_s: 1 s after 2 s; the times must rise from pair to pair"}},
		{"reciprocity law", func(s *sensito.TrialSpec) {
			s.Reciprocity = &sensito.StatedReciprocity{Law: sensito.PowerLaw, Constant: 3}
		}, []string{"reciprocity.exponent: 3 is outside 1 to 2"}},
		{"reciprocity law and pairs", func(s *sensito.TrialSpec) {
			s.Reciprocity = &sensito.StatedReciprocity{Law: sensito.PowerLaw, Constant: 1.3, Pairs: []sensito.ReciprocityPair{{Metered: 1, Corrected: 2}}}
		}, []string{"reciprocity: a law, exponent, does not go with pairs of times"}},
		{"no strips", func(s *sensito.TrialSpec) { s.Strips = nil }, []string{
			"strip: is missing: a trial needs at least one developed strip"}},

		{"minutes", func(s *sensito.TrialSpec) { s.Strips[1].Minutes = 0 }, []string{"strip[2].minutes: 0 min is outside 0.05 to 1440 min"}},
		{"minutes nan", func(s *sensito.TrialSpec) { s.Strips[0].Minutes = sensito.Minutes(nan) }, []string{
			"strip[1].minutes: NaN min is outside 0.05 to 1440 min"}},
		{"date", func(s *sensito.TrialSpec) { s.Strips[0].Date = "2026-02-30" }, []string{
			`strip[1].developed: "2026-02-30" is not a date like 2026-03-01`}},
		{"strip dilution", func(s *sensito.TrialSpec) { s.Strips[1].Process.Dilution = "strong" }, []string{
			`strip[2].dilution: "strong" is not of the form 1+19 (parts concentrate + parts water) or stock`}},
		{"strip temperature", func(s *sensito.TrialSpec) { s.Strips[1].Process.TemperatureC = -4 }, []string{
			"strip[2].temperature_c: -4 degrees C is outside 1 to 60; temperatures are in Celsius, 68 degrees F is 20"}},
		{"strip agitation", func(s *sensito.TrialSpec) { s.Strips[1].Process.Agitation = "some" }, []string{
			`strip[2].agitation: "some" is not continuous, intermittent or none`}},
		{"base fog negative", func(s *sensito.TrialSpec) { s.Strips[0].BaseFog = densities{0.1, -0.1} }, []string{
			`strip[1].base_fog[2]: density -0.1 is negative (set reading.zero to "base" if the densitometer was zeroed on the base)`}},
		{"base fog nan", func(s *sensito.TrialSpec) { s.Strips[0].BaseFog = densities{sensito.Density(nan)} }, []string{
			"strip[1].base_fog[1]: density NaN is outside 0 to 6"}},
		{"few readings", func(s *sensito.TrialSpec) { s.Strips[0].Density = densities{1, 0.5} }, []string{
			"strip[1].density: has 2 readings for 4 steps; write nan where a step was not read"}},
		{"many readings", func(s *sensito.TrialSpec) { s.Strips[1].Density = densities{2, 1.5, 1, 0.5, 0.1} }, []string{
			"strip[2].density: has 5 readings for 4 steps; write nan where a step was not read"}},
		{"density negative", func(s *sensito.TrialSpec) { s.Strips[0].Density[2] = -0.03 }, []string{
			`strip[1].density[3]: density -0.03 is negative (set reading.zero to "base" if the densitometer was zeroed on the base)`}},
		{"density negative infinite", func(s *sensito.TrialSpec) {
			s.Reading.Zero = sensito.ZeroBase
			s.Strips[0].Density[2] = sensito.Density(-inf)
		}, []string{"strip[1].density[3]: density -Inf is outside -0.5 to 6"}},
		{"density above", func(s *sensito.TrialSpec) { s.Strips[0].Density[0] = 61 }, []string{
			"strip[1].density[1]: density 61 is outside 0 to 6"}},
		{"density below the base", func(s *sensito.TrialSpec) { s.Reading.Zero = sensito.ZeroBase; s.Strips[0].Density[3] = -0.6 }, []string{
			"strip[1].density[4]: density -0.6 is outside -0.5 to 6"}},
		{"ignore", func(s *sensito.TrialSpec) { s.Strips[1].Ignore = []int{0, 5, -1} }, []string{
			"strip[2].ignore[1]: step 0 is outside 1 to 4", "strip[2].ignore[2]: step 5 is outside 1 to 4", "strip[2].ignore[3]: step -1 is outside 1 to 4"}},
		{"ignore twice", func(s *sensito.TrialSpec) { s.Strips[1].Ignore = []int{2, 3, 2} }, []string{
			"strip[2].ignore[3]: step 2 is named twice"}},

		{"everything", func(s *sensito.TrialSpec) { *s = sensito.TrialSpec{} }, []string{
			"film.name: is missing", "exposure: is missing", "strip: is missing: a trial needs at least one developed strip"}},
		{"all at once", func(s *sensito.TrialSpec) {
			s.Film = sensito.Film{RatedSpeed: 1e7}
			s.Process = sensito.Process{Dilution: "weak", TemperatureC: 100, Agitation: "brisk"}
			s.Reading = sensito.Reading{Repeatability: 2, Zero: "fog"}
			s.Strips[0] = sensito.StripSpec{Minutes: 2000, Date: "today", BaseFog: densities{9}, Density: densities{7, 1, 0.5, 0.1}, Ignore: []int{9}}
			s.Strips[1].Density = nil
		}, []string{
			"film.name: is missing",
			"film.rated_speed: 1e+07 is outside 0.01 to 1e+06",
			`process.dilution: "weak" is not of the form 1+19 (parts concentrate + parts water) or stock`,
			"process.temperature_c: 100 degrees C is outside 1 to 60; temperatures are in Celsius, 68 degrees F is 20",
			`process.agitation: "brisk" is not continuous, intermittent or none`,
			"reading.repeatability: 2 is outside 0.0001 to 0.5",
			`reading.zero: "fog" is neither "air" nor "base"`,
			"strip[1].minutes: 2000 min is outside 0.05 to 1440 min",
			`strip[1].developed: "today" is not a date like 2026-03-01`,
			"strip[1].base_fog[1]: density 9 is outside 0 to 6",
			"strip[1].density[1]: density 7 is outside 0 to 6",
			"strip[1].ignore[1]: step 9 is outside 1 to 4",
			"strip[2].density: has 0 readings for 4 steps; write nan where a step was not read",
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			spec := soundSpec(t)
			c.spoil(&spec)
			trial, err := sensito.NewTrial(spec)
			assert.Nil(t, trial)
			faultCase{err: err, want: c.want}.check(t)
		})
	}
}

// TestTrialLimits has values on the limits, which are allowed, and what zero
// fields stand for.
func TestTrialLimits(t *testing.T) {
	spec := soundSpec(t)
	spec.Process.TemperatureC = 60
	spec.Film.RatedSpeed = 0
	spec.Strips[0].Minutes = 0.05
	spec.Strips[0].Density[0] = 6
	spec.Strips[0].Density[3] = 0
	spec.Strips[1].Minutes = 1440
	spec.Strips[1].Process = sensito.Process{Dilution: "1+31.5", TemperatureC: 1}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	assert.Equal(t, sensito.Reading{Repeatability: sensito.DefaultRepeatability, Zero: sensito.ZeroAir}, trial.Reading())
	strips := trial.Strips()
	assert.Equal(t, spec.Process, strips[0].Process(), "the trial's")
	assert.Equal(t, sensito.Process{Developer: "Brinewater", Dilution: "1+31.5", TemperatureC: 1, Agitation: sensito.AgitationContinuous},
		strips[1].Process(), "what the strip says, and the rest from the trial")
	for i, s := range strips {
		assert.Equal(t, i+1, s.Number())
		assert.Same(t, trial, s.Trial())
	}
	var used []string
	for _, s := range strips[1].Steps() {
		used = append(used, fmt.Sprint(s.Number, s.Read(), s.Ignored))
	}
	assert.Equal(t, []string{"1 false true", "2 true false", "3 false false", "4 false true"}, used)
	assert.Equal(t, sensito.MeterConstants{K: 12.5, Q: 0.65}, trial.Exposures().Meter(), "ISO 2720:1974 for K; Q from memory")

	spec.Reading.Zero = sensito.ZeroBase
	spec.Strips[0].Density[3] = -0.5
	spec.Strips[0].BaseFog[0] = -0.5
	_, err = sensito.NewTrial(spec)
	assert.NoError(t, err, "a base thinner than the one zeroed on")
}

// state is all that can be read of a trial, as text.
func state(trial *sensito.Trial) string {
	var b strings.Builder
	fmt.Fprintln(&b, trial.Title(), trial.Film(), trial.Process(), trial.Reading(), trial.Exposures(), trial.Done())
	for _, s := range trial.Strips() {
		fmt.Fprintln(&b, s.Number(), s.Minutes(), s.BaseFog(), s.Steps(), s.Process(), s.Date(), s.Note())
	}
	return b.String()
}

func TestTrialCannotBeChanged(t *testing.T) {
	wedge := densities{0, 1, 2, 3}
	e, err := sensito.NewContact(2, 0.5, wedge)
	require.NoError(t, err)
	spec := soundSpec(t)
	spec.Exposures = e
	spec.Strips[0].Repeats = map[int][]sensito.Density{1: {1.2, 1.22}}
	format, err := sensito.ParseFormat("120")
	require.NoError(t, err)
	spec.Done = []sensito.Done{{Date: "2026-03-05", Minutes: 7, Films: []sensito.Films{{Format: format, Count: 1}}}}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	before := state(trial)

	// by what it was built from
	wedge[0] = 5
	spec.Strips[0].BaseFog[0] = 5
	spec.Strips[0].Density[0] = 5
	spec.Strips[1].Ignore[0] = 2
	spec.Strips[1].Minutes = 99
	spec.Film.Name = "another"
	spec.Strips[0].Repeats[1][0] = 5
	spec.Done[0].Films[0].Count = 5
	assert.Equal(t, before, state(trial))

	// by what it returns
	trial.Strips()[0] = trial.Strips()[1]
	trial.Strips()[0].BaseFog()[0] = 5
	steps := trial.Strips()[0].Steps()
	steps[0].Density, steps[1].Ignored, steps[0].Repeats[0] = 5, true, 5
	trial.Done()[0].Films[0].Count = 5
	trial.Exposures().LogH()[0] = 5
	assert.Equal(t, before, state(trial))

	// by exposures made of its own
	_, err = trial.Exposures().WithCommonSD(0.5)
	require.NoError(t, err)
	_, err = trial.Exposures().WithMeter(sensito.MeterConstants{K: 14})
	require.NoError(t, err)
	assert.Equal(t, before, state(trial))
}

func TestExposuresCannotBeChanged(t *testing.T) {
	stops := []float64{-1, 0, 1}
	camera, err := sensito.NewCamera(125, stops, sensito.MeterConstants{})
	require.NoError(t, err)
	logH := []sensito.LogExposure{0, 1, 2}
	relative, err := sensito.NewRelative(logH)
	require.NoError(t, err)
	wasCamera, wasRelative := camera.LogH(), relative.LogH()
	stops[0], logH[0] = 9, 9
	assert.Equal(t, wasCamera, camera.LogH())
	assert.Equal(t, wasRelative, relative.LogH())

	tied, err := relative.TiedTo(1, 100)
	require.NoError(t, err)
	assert.True(t, tied.Absolute())
	assert.InDelta(t, math.Log10(0.8/100), float64(tied.LogH()[1]), 1e-12, "0.8/S, ISO 6:1993")
	assert.Equal(t, wasRelative, relative.LogH())
	assert.False(t, relative.Absolute())
}

// What is of film is refused for paper, and the other way round.
func TestMaterials(t *testing.T) {
	trial := simulated.PaperShapes[0].Of(1.05).Read(t, rand.New(rand.NewPCG(1, 1)), 0.15, 0.01)
	u := (*sensito.Unanswerable)(nil)
	_, err := curve.Measure(trial.Strips()[0], curve.MeasureOptions{})
	require.ErrorAs(t, err, &u)
	assert.Contains(t, u.Reason, "Slate is a paper")
	assert.Equal(t, "use sensito paper", u.Hint)
	_, err = curve.MeasureTrial(trial, curve.MeasureOptions{})
	assert.ErrorContains(t, err, "Slate is a paper")
	_, err = development.NewFamily(trial, curve.MeasureOptions{})
	assert.ErrorContains(t, err, "Slate is a paper")

	e := simulated.ContactWedge(t, 21, false)
	film := simulated.OneStrip(t, e, sensito.StripSpec{Minutes: 8, Density: simulated.Readings(rand.New(rand.NewPCG(1, 1)), e, simulated.ModelFilm(0.65), 0.01)}).Trial()
	_, err = paper.Measure(film, curve.FitOptions{})
	require.ErrorAs(t, err, &u)
	assert.Contains(t, u.Reason, "is a film, not a paper")

	for _, c := range []faultCase{
		{"no name", faultOf(sensito.TrialSpec{Material: sensito.PaperMaterial}), []string{"paper.name: is missing", "exposure: is missing",
			"strip: is missing: a trial needs at least one developed strip"}},
		{"speed of a paper", faultOf(sensito.TrialSpec{Material: sensito.PaperMaterial, Film: sensito.Film{Name: "Slate", RatedSpeed: 100}, Exposures: e,
			Strips: []sensito.StripSpec{{Density: make([]sensito.Density, 21)}}}), []string{"paper.rated_speed: is of film; the speed of a paper is measured"}},
		{"grade of a film", faultOf(sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e,
			Strips: []sensito.StripSpec{{Minutes: 8, Grade: "2", Density: make([]sensito.Density, 21)}}}), []string{"strip[1].grade: is of paper; a film has no grades"}},
		{"time of a film", faultOf(sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e,
			Strips: []sensito.StripSpec{{Density: make([]sensito.Density, 21)}}}), []string{"strip[1].minutes: 0 min is outside 0.05 to 1440 min"}},
		{"neither", faultOf(sensito.TrialSpec{Material: "glass", Film: sensito.Film{Name: "Slate"}, Exposures: e,
			Strips: []sensito.StripSpec{{Minutes: 8, Density: make([]sensito.Density, 21)}}}), []string{`kind: "glass" is neither film nor paper`}},
	} {
		t.Run(c.name, c.check)
	}
}

func faultOf(spec sensito.TrialSpec) error {
	_, err := sensito.NewTrial(spec)
	return err
}

// A strip's own exposure moves its steps by log10(E t / E0 t0).
func TestStripExposure(t *testing.T) {
	e, err := sensito.NewContact(2, 0.5, []sensito.Density{0.05, 0.20, 0.35})
	require.NoError(t, err)
	d := []sensito.Density{1.1, 0.8, 0.5}
	spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e, Strips: []sensito.StripSpec{
		{Minutes: 5, Density: d},
		{Minutes: 5, Density: d, Seconds: 100},
		{Minutes: 5, Density: d, IlluminanceLx: 0.02},
		{Minutes: 5, Density: d, Seconds: 100, IlluminanceLx: 0.03},
	}}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	assert.Equal(t, sensito.Seconds(0.5), trial.Exposures().Seconds())
	for i, want := range []struct {
		seconds sensito.Seconds
		lamp    float64 // lux seconds
	}{{0.5, 1}, {100, 200}, {0.5, 0.01}, {100, 3}} {
		s := trial.Strips()[i]
		assert.Equal(t, want.seconds, s.Seconds())
		for j, step := range s.Steps() {
			assert.InDelta(t, math.Log10(want.lamp)-0.05-0.15*float64(j), float64(step.LogH), 1e-12)
		}
	}

	spec.Exposures, err = sensito.NewCamera(125, []float64{1, 0, -1}, sensito.MeterConstants{})
	require.NoError(t, err)
	_, camera := sensito.NewTrial(spec)
	spec.Exposures, spec.Strips = e, []sensito.StripSpec{
		{Minutes: 5, Density: d, Seconds: -1, IlluminanceLx: 1e8}, {Minutes: 5, Density: d, Seconds: sensito.Seconds(nan)}}
	_, limits := sensito.NewTrial(spec)
	for _, c := range []faultCase{
		{"camera", camera, []string{
			`strip[2].seconds: goes with kind = "contact", but the kind is "camera"`,
			`strip[3].illuminance_lx: goes with kind = "contact", but the kind is "camera"`,
			`strip[4].seconds: goes with kind = "contact", but the kind is "camera"`,
			`strip[4].illuminance_lx: goes with kind = "contact", but the kind is "camera"`}},
		{"limits", limits, []string{
			"strip[1].illuminance_lx: 1e+08 lx is outside 1e-06 to 1e+07 lx",
			"strip[1].seconds: -1 s is outside 1e-06 to 1e+06 s", "strip[2].seconds: NaN s is outside 1e-06 to 1e+06 s"}},
	} {
		t.Run(c.name, c.check)
	}
}

func TestStripList(t *testing.T) {
	assert.Equal(t, "strip 2", sensito.StripList([]int{2}))
	assert.Equal(t, "strips 2 and 5", sensito.StripList([]int{2, 5}))
	assert.Equal(t, "strips 1, 2 and 3", sensito.StripList([]int{1, 2, 3}))
}

func TestDaysBetween(t *testing.T) {
	at := func(date string) time.Time {
		d, err := time.Parse(time.DateOnly, date)
		require.NoError(t, err)
		return d
	}
	assert.Equal(t, 1.0, sensito.DaysBetween(at("2028-02-29"), at("2028-03-01")))
	assert.Equal(t, -366.0, sensito.DaysBetween(at("2029-02-28"), at("2028-02-28")))
	assert.Equal(t, 900*365+218.0, sensito.DaysBetween(at("2026-03-02"), at("2926-03-02")), "leap years of nine centuries")
}
