package scene_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/picture"
	"sensito/sensito/picture/lighttable"
	"sensito/sensito/scene"
)

// aFilm draws a film of the n-th form: the foreign ones, then those of package simulated.
func aFilm(r *rand.Rand, n int) foreign {
	n %= len(foreignForms) + len(simulated.ClassNames)
	if n < len(foreignForms) {
		return newForeign(r, n, [2]float64{0.45, 0.75})
	}
	p := simulated.Reaching
	of := p.Developing(r, n-len(foreignForms))
	at := map[float64]simulated.Film{} // which takes the speed point of the film each time
	net := func(x, minutes float64) float64 {
		if _, known := at[minutes]; !known {
			at[minutes] = of.At(minutes)
		}
		return at[minutes].Net(x)
	}
	return foreign{net: net, base: of.Base, fog: of.Fog, minutes: of.Minutes[:], scatter: development.Scatter, Bench: p.Bench(r)}
}

// A bed is how strips of a film are pictured.
type bed struct {
	device lighttable.Device
	told   string // encoding
	apart  bool   // the tablet lies in a picture of its own
	open   bool   // nothing is masked
	empty  bool   // a picture of the empty table makes all of it even
}

// picturesOf returns the strips of a trial as they were read in pictures of films that are known
// exactly, each its base and its net density, and the calibration; an error where that refuses.
func (b bed) picturesOf(t testing.TB, r *rand.Rand, bench simulated.Bench, base []float64, films []netCurve) ([]sensito.StripSpec, sensito.Calibration, error) {
	exact := bench
	exact.Reader = func(_ *rand.Rand, density float64) sensito.Density { return sensito.Density(density) }
	var rows [][]float64
	for i, film := range films {
		var steps []float64
		for _, d := range exact.ReadFilm(r, base[i], film).Density {
			steps = append(steps, float64(d))
		}
		rows = append(rows, steps)
	}
	// A tablet of 0.15 a step that is certified to 0.01 a step and 0.5 % of the scale.
	tablet, scale := lighttable.Even(0.05, 0.15, 21), 1+0.005*r.NormFloat64()
	certificate := picture.Tablet{Name: "21 steps", Known: picture.Certificate}
	for _, d := range tablet {
		certificate.Density = append(certificate.Density, d*scale+0.01*r.NormFloat64())
	}
	laid := func(rows ...[]float64) lighttable.Scene {
		s := lighttable.Several(rows...).WithPlaces()
		s.Masked, s.Seed = !b.open, r.Uint64()
		return s
	}
	bed, at := laid(append(slices.Clone(rows), tablet)...), len(rows)
	if b.apart { // each by itself, as they all lie alike then
		bed, at = laid(tablet), 0
	} else {
		for i := range rows {
			bed.Rows[i].Base = base[i]
		}
	}
	pictured := func(s lighttable.Scene) *picture.Image {
		im := s.Picture(b.device, r.Uint64())
		if !b.empty {
			return im
		}
		e := s.Empty()
		e.Dust = 5
		even, err := im.Over(&picture.Empty{Image: e.Picture(b.device, r.Uint64()), SHA256: "table"})
		require.NoError(t, err)
		return even
	}
	of := pictured(bed)
	plane := min(1, len(of.Planes)-1)
	found := func(s lighttable.Scene, im *picture.Image, row int) (*picture.Lattice, []picture.Patch, error) {
		ends := s.Ends(row, b.device.PerInch)
		pitch := math.Hypot(ends.Last.X-ends.First.X, ends.Last.Y-ends.First.Y) / 21
		for _, p := range []*picture.Point{&ends.First, &ends.Last} { // marked by hand
			p.X += pitch * min(max(0.15*r.NormFloat64(), -0.3), 0.3)
			p.Y += pitch * min(max(0.15*r.NormFloat64(), -0.3), 0.3)
		}
		l, _, err := picture.Find(im, plane, picture.Row{Ends: ends, Steps: 21})
		if err != nil {
			return nil, nil, err
		}
		patches, _, err := l.Patches(im, plane)
		return l, patches, err
	}
	place := func(s lighttable.Scene, im *picture.Image, p lighttable.Point) *picture.Patch {
		patch, err := picture.PatchAt(im, plane, s.Pixel(p, b.device.PerInch), 15)
		require.NoError(t, err)
		return &patch
	}
	l, patches, err := found(bed, of, at)
	if err != nil {
		return nil, sensito.Calibration{}, err
	}
	c, _, err := picture.Calibrate(picture.Calibrating{Name: "bed", Tablet: certificate, Patches: patches, Image: of, Plane: plane, Lattice: l, Encoding: b.told,
		Opaque: place(bed, of, bed.Tape), Clear: place(bed, of, bed.Clear)})
	if err != nil {
		return nil, sensito.Calibration{}, err
	}
	thousandths := func(d picture.Density) sensito.Density { return sensito.Density(math.Round(1000*d.Value) / 1000) }
	repeats, most := c.Repeats()
	var out []sensito.StripSpec
	for i := range rows {
		strips, im, row := bed, of, i
		if b.apart {
			strips, row = laid(rows[i]), 0
			strips.Rows[0].Base = base[i]
			im = pictured(strips)
		}
		frame := picture.Frame{Same: !b.apart, Opaque: place(strips, im, strips.Tape), Clear: place(strips, im, strips.Clear)}
		l, patches, err := found(strips, im, row)
		if err != nil {
			return nil, sensito.Calibration{}, err
		}
		thin := 0 // film beside the step that is least exposed
		if !bench.Reversed {
			thin = 22
		}
		fog, _, err := l.Patch(im, plane, thin)
		require.NoError(t, err)
		got, _, err := c.Read(im, plane, l, append(patches, fog), frame)
		if err != nil {
			return nil, sensito.Calibration{}, err
		}
		s := sensito.StripSpec{Process: simulated.Tank, Calibration: c.Name}
		for _, d := range got[:21] {
			if d.SD > most {
				d.Value = math.NaN()
			}
			s.Density = append(s.Density, thousandths(d))
		}
		if d := thousandths(got[21]); !math.IsNaN(float64(d)) {
			s.BaseFog = []sensito.Density{d}
		}
		out = append(out, s)
	}
	return out, sensito.Calibration{Name: c.Name, Repeatability: sensito.Density(repeats), Covariance: c.Covariance(!b.apart)}, nil
}

// Films of forms that are not fitted and of those that are, on a light table beside a certified tablet: found
// by marks that somebody made, read and calibrated, through to what a scene asks. Contrast index, time and
// exposure index cover the truth with what the calibration errs by, and without it do not; they
// are no worse than by a densitometer by more than half.
func TestBlindPictured(t *testing.T) {
	t.Parallel()
	const coarse = 80 // pixels an inch
	encoded := func(d lighttable.Device, encode func(float64) float64, bits int) lighttable.Device {
		d.Encode, d.Bits = encode, bits
		return d
	}
	flatbed, camera := lighttable.Flatbed(coarse), lighttable.Camera(coarse)
	falling := func(corners, slanted float64) lighttable.Device {
		d := camera
		d.Uneven, d.Tilt = corners, slanted
		return d
	}
	even := falling(flatbed.Uneven, 0)
	classes := []struct {
		name string
		bed
		alone bool // errs by what no calibration tells of: it is told, and held to nothing
	}{
		{"flatbed", bed{device: flatbed}, false},
		{"flatbed, linear told", bed{device: flatbed, told: "linear"}, false},
		{"flatbed, 8 bits of 1/2.2", bed{device: encoded(flatbed, lighttable.Power(1/2.2), 8)}, false},
		{"flatbed, 8 bits of sRGB", bed{device: encoded(flatbed, lighttable.SRGB, 8)}, false},
		{"flatbed, tablet apart", bed{device: flatbed, apart: true}, false},
		{"camera, even", bed{device: even}, false},
		{"camera, even, tablet apart", bed{device: even, apart: true}, false},
		{"camera", bed{device: camera}, true},
		{"flatbed, an S", bed{device: encoded(flatbed, lighttable.SCurve, 16)}, true},
		{"flatbed, open glass", bed{device: flatbed, open: true}, true},
		{"camera, 8 %, slanted 5 %, empty table, apart", bed{device: falling(0.08, 0.05), empty: true, apart: true}, false},
		{"camera, 4 %, sRGB of 8 bits, empty table", bed{device: encoded(camera, lighttable.SRGB, 8), empty: true}, false},
		{"camera, 1 %, empty table", bed{device: even, empty: true}, true},
		{"camera, 4 %, empty table", bed{device: camera, empty: true}, true},
		{"camera, 4 %, linear told, empty table", bed{device: camera, told: "linear", empty: true}, true},
		{"camera, 8 %, empty table", bed{device: falling(0.08, 0), empty: true}, true},
		{"camera, slanted 5 %, empty table", bed{device: falling(0.01, 0.05), empty: true}, true},
		{"camera, 8 %", bed{device: falling(0.08, 0)}, true},
		{"camera, slanted 5 %", bed{device: falling(0.01, 0.05)}, true},
	}
	names := []string{"contrast index", "time", "index"}
	ways := []string{"pictures", "taken for exact", "densitometer"}
	text := ""
	effort := blind.Effort(t)
	var pooled [3][3]blind.Tally
	for k, c := range classes {
		if c.alone && effort == 1 {
			continue
		}
		var all [3][3]blind.Tally // of each way, each quantity
		refused, asked := map[string]int{}, 0
		for i := range 3 * effort {
			r := rand.New(rand.NewPCG(uint64(i), uint64(6100+k)))
			d := aFilm(r, i*5+k)
			const stops = 7
			lit := simulated.Normally(stops)
			repeatable := d
			repeatable.scatter = 0
			right := simulated.Bisect(1, 40, func(m float64) float64 { return repeatable.developed(r, m).spans(lit) - 1.05 })
			if right < d.minutes[0] || right > d.minutes[4] {
				continue
			}
			index := 8.125 / (16 * math.Pow(10, repeatable.developed(r, right).speedPoint()+d.Faint()))
			var base []float64
			var films []netCurve
			var read []sensito.StripSpec // by a densitometer
			for _, minutes := range d.minutes {
				film := d.developed(r, minutes)
				base, films = append(base, d.base+d.fog*minutes), append(films, film)
				read = append(read, d.ReadFilm(r, d.base+d.fog*minutes, film))
			}
			asked++
			contrast := simulated.ContrastIndex(films[2])
			pictured, calibration, err := c.picturesOf(t, r, d.Bench, base, films)
			if err != nil {
				refused[err.Error()]++
				continue
			}
			exactly := calibration
			exactly.Covariance = [3][3]float64{}
			for way, strips := range [][]sensito.StripSpec{pictured, pictured, read} {
				spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Process: simulated.Tank, Exposures: d.Exposures(t)}
				spec.Calibrations = [][]sensito.Calibration{{calibration}, {exactly}, nil}[way]
				for j, s := range strips {
					s.Minutes = sensito.Minutes(d.minutes[j])
					spec.Strips = append(spec.Strips, s)
				}
				family := blind.FamilyOf(t, spec)
				a := &all[way]
				blind.Judge(&a[0], family.Strips[2].ContrastIndex, contrast, blind.InShare, math.NaN())
				answer, err := scene.For(family, scene.Scene{Stops: stops})
				if err != nil {
					a[1].Missing++
					continue
				}
				blind.Judge(&a[1], &answer.Minutes, right, blind.InShare, math.NaN())
				blind.Judge(&a[2], answer.ExposureIndex, index, blind.InStops, math.NaN())
			}
		}
		for way, a := range all {
			text += fmt.Sprintf("\n%-26s %-16s n %3d miss %2d ", c.name, ways[way], a[0].N, a[0].Missing+a[1].Missing)
			for j := range a {
				text += fmt.Sprintf("| %+.4f %.4f %5.1f ", a[j].Bias(), a[j].RMS(), 100*a[j].Coverage())
			}
		}
		if len(refused) > 0 {
			text += fmt.Sprintf("\n  refused: %v", refused)
		}
		if c.alone {
			continue
		}
		assert.LessOrEqual(t, asked-all[0][0].N, 1+asked/10, "refused, %s", c.name)
		for j := range names {
			for way := range all {
				pooled[way][j].N, pooled[way][j].Covered = pooled[way][j].N+all[way][j].N, pooled[way][j].Covered+all[way][j].Covered
			}
			a := all[0][j]
			allow := 3.3 * math.Sqrt(0.95*0.05/float64(a.N))
			assert.GreaterOrEqual(t, a.Coverage(), math.Min(0.92, 0.95-allow), "%s, %s", names[j], c.name)
			if j > 0 && a.N >= 100 {
				assert.LessOrEqual(t, a.RMS(), 1.5*all[2][j].RMS(), "%s against a densitometer, %s", names[j], c.name)
			}
		}
	}
	t.Logf("bias, rms and coverage of %v%s", names, text)
	for j, name := range names {
		a := pooled[0][j]
		t.Logf("%-16s n %d covers %.1f, taken for exact %.1f, by densitometer %.1f", name, a.N, 100*a.Coverage(), 100*pooled[1][j].Coverage(), 100*pooled[2][j].Coverage())
		few, most := 2.5*math.Sqrt(0.95*0.05/float64(a.N)), 0.97
		if name == "time" { // how well the process repeats is not stated
			most = 0.99
		}
		assert.GreaterOrEqual(t, a.Coverage(), 0.95-math.Max(0.02, few), name)
		assert.LessOrEqual(t, a.Coverage(), math.Max(most, 0.95+few), name)
	}
	assert.LessOrEqual(t, pooled[1][0].Coverage(), 0.75, "the contrast index, calibrations taken for exact")
}
