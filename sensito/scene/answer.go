package scene

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/curve"
	"sensito/sensito/development"
)

// Joined is how far apart two tones a stop from each other print at least where they are
// told apart at sight.
const Joined sensito.Density = 0.10

// RunTogether returns the runs of neighbouring tones that print closer than Joined, as the
// indices of the first and the last of each: by the densities as they are told, to 0.01.
func RunTogether[T any](tones []T, of func(T) Tone) [][2]int {
	var out [][2]int
	for i := 1; i < len(tones); i++ {
		a, b := of(tones[i-1]).Print, of(tones[i]).Print
		if a == nil || b == nil || math.Abs(hundredths(a.Value)-hundredths(b.Value)) >= hundredths(Joined) {
			continue
		}
		if n := len(out); n > 0 && out[n-1][1] == i-1 {
			out[n-1][1] = i
		} else {
			out = append(out, [2]int{i - 1, i})
		}
	}
	return out
}

func hundredths(d sensito.Density) float64 { return math.Round(100 * float64(d)) }

// Tone is one tone of a scene on its way to the print.
type Tone struct {
	Stops      float64                               // from the metered tone
	Film       sensito.LogExposure                   // at the film, flare included
	NetDensity *sensito.Estimate[sensito.NetDensity] // nil where the exposures of the trial do not reach
	Print      *sensito.Estimate[sensito.Density]    // nil likewise, and without a tested paper
}

const LowestTone, HighestTone = -5, 5 // stops from the metered exposure

// Answer is how to expose and develop for one scene.
type Answer struct {
	Family *development.Family
	Scene  Scene // defaults filled in

	FilmRange       sensito.LogRange
	Veil            float64            // of flare, as a fraction of the luminance of the lightest tone
	DensityRange    sensito.NetDensity // of the negative: the aim, or for a scan what comes of it
	AverageGradient float64            // DensityRange over FilmRange
	N               float64            // 7 less the scene range in stops: 0 is normal, +1 an expansion

	Minutes       sensito.Estimate[sensito.Minutes]
	ExposureIndex *sensito.Estimate[sensito.Speed] // nil when the exposures are relative

	// Delivered is the density range that the scene gets at Minutes and
	// ExposureIndex, taken as plain numbers.
	Delivered *sensito.Estimate[sensito.NetDensity]

	// Ends are the darkest and the lightest tone that must keep detail.
	Ends [2]Tone

	ContrastIndex *sensito.Estimate[float64]
	BaseFog       sensito.Estimate[sensito.Density]
	Tones         []Tone
	Extrapolation // of Minutes
	Warnings      sensito.Warnings

	// What the answer rests on: the speed point at Minutes by the strips alone, the
	// density that the aim asks for over its run of the curve, the law by which that
	// grows, and what the error of the time is made of.
	SpeedPoint sensito.Estimate[sensito.LogExposure]
	Aim        sensito.NetDensity
	Growth     development.Growth
	Base       TimeBase

	// Today is what the process of today makes of the trial's, nil for as in the
	// trial. AsTested is the answer under the conditions of the trial, nil where they
	// are those of today; Uncorrected is the answer of today less the correction by a
	// control log, nil without one.
	Today                 *Adjustment
	AsTested, Uncorrected *Answer

	// AtIndex is what an index that is given makes of the scene; nil where the index is
	// part of the answer. ExposureIndex is then the one given.
	AtIndex *AtIndex

	shares    [development.Sources]float64 // of Base.Total, by where it comes from
	Pictured  [][]float64                  // how ln t, SpeedPoint and BaseFog move with the calibrations of pictures, see Table.Pictured
	placement Placement
	over      Run // on which the aim says what the density gains
	parts     *development.MeasuredParts
	today     todaysTime     // as all densities count it
	alone     *keptAlone     // behind the time at an index that is given; nil otherwise
	exposure  unsureExposure // of all tones

	ofExposure float64 // standard deviation of ln t that comes of it
}

// unsureExposure is how well the exposure of film is known, log H, that is not exposed by
// its own index.
type unsureExposure struct{ sd, dof float64 }

// Given is an exposure index that is given, so that the time alone is asked for.
type Given struct {
	Index   sensito.Speed
	Exposed bool // film has been exposed at it already
	Keep    Kept // "" means KeepHighlight
}

// Kept names what of the negative is as a normal answer has it.
type Kept string

// What can be kept.
const (
	KeepHighlight Kept = "highlight" // the net density of the lightest tone that must keep detail
	KeepMetered   Kept = "metered"   // that of the metered tone
	KeepRange     Kept = "range"     // the density range of the scene
)

// AllKept are all that can be kept; of film that is pushed each asks for less time than
// the one before.
var AllKept = []Kept{KeepMetered, KeepHighlight, KeepRange}

// KeptTime is the time that keeps something.
type KeptTime struct {
	Keep    Kept
	Density sensito.NetDensity // that it keeps, as a plain number: of the tone, or the range
	Minutes sensito.Minutes    // 0 where no time keeps it that the strips tell
}

// AtIndex is what an index that is given makes of a scene.
type AtIndex struct {
	Given
	Normal *Answer // to the same scene, today, at the index that the film has for it

	Tone    float64                   // the tone kept, or the lightest of the range, in stops from the metered one
	Density sensito.NetDensity        // that is kept, as a plain number: net of the tone, or the range
	Others  []KeptTime                // what else could be kept
	Push    sensito.Estimate[float64] // the index over that of Normal, in stops; negative where film gets more exposure

	// SpeedPoint is the even tone that lands on the speed point without flare, in
	// stops from the metered one; what is darker has no detail worth printing.
	SpeedPoint sensito.Estimate[float64]
	Lost       float64 // stops of the scene below the speed point

	// What the delivered range asks of the paper; Print is nil for a scan.
	PaperRange sensito.LogRange
	Print      *PrintChoice
	Rest       sensito.LogRange // PaperRange less that of Print

	black *float64 // tone that prints black; nil for none
}

// keptAlone is what the time at an index that is given rests on: the growth of the density
// that is kept alone, over the range, or from net 0.10 to the tone.
type keptAlone struct {
	answer *Answer // to that
	lnTold float64 // of the time told over that by this growth
	more   float64 // standard deviation of ln t beyond that of this growth
}

// told returns the logarithm of a time by that growth as it is told, and its
// standard deviation; as they are for nil.
func (k *keptAlone) told(ln, sd float64) (float64, float64) {
	if k == nil {
		return ln, sd
	}
	return ln + k.lnTold, math.Hypot(sd, k.more)
}

// Tested returns the answer as it is by the trial itself.
func (p *Answer) Tested() *Answer {
	switch {
	case p.AsTested != nil:
		return p.AsTested
	case p.Uncorrected != nil:
		return p.Uncorrected
	}
	return p
}

// Unsolved returns what is known of an answer before its strips are asked. The
// defaults of the scene are filled in.
func Unsolved(f *development.Family, s Scene) *Answer {
	at := s.Placement()
	return &Answer{Family: f, Scene: s, FilmRange: s.FilmRange(), Veil: at.Veil, N: camera.NormalStops - s.Stops, placement: at, over: s.aimedRun(), today: todaysTime{dof: math.Inf(1)}, Warnings: sensito.Warnings{}}
}

// Placement returns where the tones of the answer's scene land on the film.
func (p *Answer) Placement() Placement { return p.placement }

// Table returns the quantities of the strips with their density rise over the
// aimed run.
func (p *Answer) Table() *development.Table {
	return p.tableOf(p.Family.Strips)
}

// tableOf is Table for other strips beside those of the family.
func (p *Answer) tableOf(strips []*curve.Measured) *development.Table {
	return placedTable(p.Family, strips, p.over)
}

// Extrapolation says of a development time whether strips were tested on both sides of it.
type Extrapolation struct {
	Extrapolated bool // shorter, or longer, than that of every strip that reaches the scene
	Short        bool // strips on both sides are there, and some of them do not reach the scene
}

// extrapolationOf says whether a time lies outside lo to hi, the times of the strips of f
// that tell it, and returns the warning of it. Some says that they are not all that were tested. A time
// that is told, to five seconds, as one of theirs does not lie outside.
func extrapolationOf(f *development.Family, told, lo, hi sensito.Minutes, some bool) (Extrapolation, sensito.Warnings) {
	kept := sensito.Minutes(math.Round(float64(told)*12) / 12)
	if told >= lo && told <= hi || kept >= lo && kept <= hi {
		return Extrapolation{}, nil
	}
	of, there := "the tested times", "there"
	if some {
		of = "the times of the strips that reach this scene"
	}
	shortest, longest := f.Times()
	e := Extrapolation{Extrapolated: true, Short: some && told >= shortest && told <= longest}
	if e.Short {
		there = "there with more light"
	}
	if lo == hi {
		of = fmt.Sprintf("is not the time tested, %s", lo.Clock(1))
	} else {
		of = fmt.Sprintf("lies outside %s, %s to %s", of, lo.Clock(1), hi.Clock(1))
	}
	said := fmt.Sprintf("%s %s: test a strip %s before relying on it", told.Clock(5), of, there)
	return e, sensito.Warnings{sensito.Warn("extrapolated/6", said)}
}

// RunEnd returns how far above the speed point the lightest tone lands.
func (p *Answer) RunEnd() sensito.LogRange { return p.placement.Run().To }

// leans warns of strips whose curve is used beyond their readings.
func (p *Answer) leans() {
	var strong, faint []int // strips that are used beyond that end
	var over, under sensito.LogRange
	for _, m := range p.Family.Strips {
		h, err := placedAt(p.Family, m, m.Fit.Curve)
		if err != nil {
			continue
		}
		lo, hi := m.Fit.Curve.Domain()
		const least sensito.LogRange = 0.005
		if beyond := h.Add(p.RunEnd()).Sub(hi); beyond > least && beyond <= Reach {
			strong, over = append(strong, m.Strip.Number()), max(over, beyond)
		}
		if below := lo.Sub(h); below > least {
			faint, under = append(faint, m.Strip.Number()), max(under, below)
		}
	}
	if len(strong) > 0 {
		p.Warnings.Add("strip_extrapolated", float64(over), sensito.StripList(slices.Sorted(slices.Values(strong))))
	}
	if len(faint) > 0 {
		p.Warnings.Add("strip_extrapolated/2", float64(under), sensito.StripList(slices.Sorted(slices.Values(faint))))
	}
}

// onShoulder warns where the lightest tones lie on the shoulder, which then does
// what a shorter development seems to: on the strip developed for the time
// nearest to the answer's the slope at the lightest tone is under half of gamma.
func (p *Answer) onShoulder() {
	nearest := slices.MinFunc(p.Family.Strips, func(a, b *curve.Measured) int {
		apart := func(m *curve.Measured) float64 { return math.Abs(math.Log(float64(m.Minutes() / p.Minutes.Value))) }
		return cmp.Compare(apart(a), apart(b))
	})
	if p.onShoulderOf(nearest) {
		// Where the darkest tone lies on the speed point, the index moves with it, and no tone.
		if m := p.placement.ShadowStops; p.Scene.Metering != nil && m > 1 {
			p.Warnings.Add("on_shoulder", max(1, m-1), m)
		} else {
			p.Warnings.Add("on_shoulder/2")
		}
	}
}

// onShoulderOf says whether the slope of a strip at the lightest tone is under half of
// gamma.
func (p *Answer) onShoulderOf(m *curve.Measured) bool {
	point, err := placedAt(p.Family, m, m.Fit.Curve)
	gamma, _ := curve.Steepest(m.Fit.Curve)
	return err == nil && m.Fit.Curve.Slope(point.Add(p.RunEnd())) < gamma/2
}

// ofAim returns the standard deviation, in ln t, that the time has from the aim.
func (p *Answer) ofAim(g development.Growth) float64 {
	sd := p.Scene.WantedSD()
	if sd == 0 {
		return 0
	}
	return sd * g.PerAim(float64(p.Aim))
}
