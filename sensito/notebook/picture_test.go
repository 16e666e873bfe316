package notebook

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sensito/sensito"
	"sensito/sensito/notebook/notebooktest"
)

// byPicture is a sound notebook whose strip was read in a picture.
var byPicture = strings.Replace(notebooktest.Good, notebooktest.Strips, `[[calibration]]
name = "bed 2026-11"
repeatability = 0.006
covariance = [
  [4e-5, -3e-5, 1e-5],
  [-3e-5, 9e-5, -2e-5],
  [1e-5, -2e-5, 8e-6],
]
[[strip]]
minutes = 5.5
picture = "negative-5.tif, 1f0c"
calibration = "bed 2026-11"
density = [1.104, [0.803, 0.811], 0.502]
`, 1)

// badPictures are notebooks that are wrong in how a strip was read in a picture.
var badPictures = []badCase{
	badIn("unknown calibration", byPicture, `calibration = "bed 2026-11"`, `calibration = "bed 2026-12"`, `27: strip[1].calibration: "bed 2026-12" is the name of no [[calibration]]`),
	badIn("picture by nothing", byPicture, "calibration = \"bed 2026-11\"\n", "", "26: strip[1].picture: goes with calibration, the name of the one that it was read by"),
	badIn("picture that is no text", byPicture, `"negative-5.tif, 1f0c"`, "5", "26: strip[1].picture: must be text in quotes, not a number"),
	badIn("picture of two lines", byPicture, "negative-5.tif", `negative-5\n.tif`, `26: strip[1].picture: "negative-5\n.tif, 1f0c" has more than one line`),
	badIn("calibration in single brackets", byPicture, "[[calibration]]", "[calibration]", "16: calibration: must be written [[calibration]], in double brackets"),
	badIn("calibration without a name", byPicture, "name = \"bed 2026-11\"\n", "", "16: calibration[1].name: is missing"),
	badIn("calibration with blanks", byPicture, `name = "bed`, `name = " bed`, `17: calibration[1].name: " bed 2026-11" has blanks at its ends`, `27: strip[1].calibration: "bed 2026-11" is the name of no [[calibration]]`),
	badIn("calibration twice", byPicture, "[[strip]]", "[[calibration]]\nname = \"bed 2026-11\"\nrepeatability = 0.01\ncovariance = [[0, 0, 0], [0, 0, 0], [0, 0, 0]]\n[[strip]]",
		`25: calibration[2].name: "bed 2026-11" is the name of calibration 1 too`),
	badIn("unknown key of a calibration", byPicture, "repeatability = 0.006", "repeatabilty = 0.006", `18: calibration[1].repeatabilty: unknown key; did you mean "repeatability"?`),
	badIn("no repeatability", byPicture, "repeatability = 0.006\n", "", "16: calibration[1].repeatability: is missing"),
	badIn("repeatability of 0", byPicture, "0.006", "0", "18: calibration[1].repeatability: must not be 0; leave the key out if it is not known"),
	badIn("repeatability of a wall", byPicture, "0.006", "0.6", "18: calibration[1].repeatability: 0.6 is outside 0.0001 to 0.5"),
	badIn("two rows", byPicture, "  [1e-5, -2e-5, 8e-6],\n", "", "19: calibration[1].covariance: has 2 lists; it is three lists of three numbers"),
	badIn("a row of two", byPicture, "[1e-5, -2e-5, 8e-6]", "[1e-5, -2e-5]", "19: calibration[1].covariance[3]: has 2 numbers, not three"),
	badIn("a row of text", byPicture, "8e-6", `"8e-6"`, "22: calibration[1].covariance[3][3]: must be a number, not text"),
	badIn("not a number", byPicture, "8e-6", "nan", "22: calibration[1].covariance[3][3]: must be a number, not nan"),
	badIn("numbers without rows", byPicture, "[4e-5, -3e-5, 1e-5]", "4e-5", "20: calibration[1].covariance[1]: must be a list of three numbers, not a number"),
	badIn("larger than a densitometer errs", byPicture, "9e-5", "0.05", "21: calibration[1].covariance[2][2]: 0.05 is outside -0.04 to 0.04, the square of 0.2"),
	badIn("not symmetric", byPicture, "[-3e-5, 9e-5", "[-2e-5, 9e-5", "21: calibration[1].covariance[2][1]: -2e-05 is not -3e-05, which stands at [1][2]; a covariance is symmetric"),
	badIn("variance below 0", byPicture, "9e-5", "-9e-5", "19: calibration[1].covariance: is none: with these entries the error of some density would have a variance below 0"),
	badIn("calibration of a meter", strings.Replace(byPicture, "zero = \"air\"", "unit = \"EV\"\nopen_ev = 12", 1), "= [1.104, [0.803, 0.811], 0.502]", "= [8, 9, 10]",
		`17: calibration[1]: goes with unit = "density", but the unit is EV`),
	badIn("calibration on the base", byPicture, `"air"`, `"base"`, `16: calibration[1]: goes with zero = "air": a picture shows the base with the rest`),
}

func bed(name string, sd float64) sensito.Calibration {
	return sensito.Calibration{Name: name, Repeatability: 0.006, Covariance: [3][3]float64{{sd * sd}, {0, sd * sd}}}
}

// A strip read in a picture comes with its calibration, a second one by it alone; the
// same name with other figures is refused; the last strip by it takes it away again.
func TestAppendPicturedStrip(t *testing.T) {
	s := sensito.StripSpec{Minutes: 8, Picture: "negative-8.tif, 1f0c", Calibration: "bed", BaseFog: []sensito.Density{0.104}, Density: []sensito.Density{1.31, 0.92, 0.611}}
	one, err := AppendStrip([]byte(notebooktest.Good), s, bed("other", 0.02), bed("bed", 0.01))
	require.NoError(t, err)
	assert.Equal(t, notebooktest.Good+`
[[calibration]]
name          = "bed"
repeatability = 0.006
covariance    = [[0.0001, 0, 0], [0, 0.0001, 0], [0, 0, 0]]

[[strip]]
minutes     = "8:00"
picture     = "negative-8.tif, 1f0c"
calibration = "bed"
base_fog    = [0.104]
density     = [
  1.31,  0.92,  0.611,
]
`, string(one))
	s.Minutes, s.Density = 11, []sensito.Density{1.51, 1.12, 0.71}
	two, err := AppendStrip(one, s, bed("bed", 0.01))
	require.NoError(t, err)
	assert.Equal(t, 1, strings.Count(string(two), "[[calibration]]"))
	assert.Len(t, read(t, string(two)).Calibrations(), 1)

	_, err = AppendStrip(two, s, bed("bed", 0.02))
	assert.EqualError(t, err, `calibration: "bed" is in the file with other figures; give this one another name`)
	_, err = AppendStrip([]byte(notebooktest.Good), s)
	assert.EqualError(t, err, `strip[2].calibration: "bed" is the name of no [[calibration]]`)
	inline := strings.Replace(notebooktest.Good, "[film]", "calibration = []\n[film]", 1)
	_, err = AppendStrip([]byte(inline), s, bed("bed", 0.02))
	assert.ErrorContains(t, err, "the calibrations are written in one line, calibration = [...]")

	back, err := RemoveStrip(two, 3)
	require.NoError(t, err)
	assert.Equal(t, string(one), string(back))
	back, err = RemoveStrip(back, 2)
	require.NoError(t, err)
	assert.Equal(t, notebooktest.Good, string(back))
}

// Whatever the trial, a strip with its calibration comes and goes, and nothing else.
func TestPicturedStripsComeAndGo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		trial := notebooktest.Trial().Filter(func(t *sensito.Trial) bool {
			r := t.Reading()
			return t.Material() == sensito.FilmMaterial && r.Unit == sensito.UnitDensity && r.Zero == sensito.ZeroAir
		}).Draw(t, "trial")
		c := notebooktest.Calibration("a bed of its own").Draw(t, "calibration")
		s := trial.Strips()[0].Spec()
		s.Calibration, s.Note = c.Name, "in a picture"
		old := Format(trial)
		text, err := AppendStrip(old, s, c)
		require.NoError(t, err)
		got, err := readText(text)
		require.NoError(t, err)
		last := got.Strips()[len(got.Strips())-1]
		require.Equal(t, c, *last.Calibration())
		back, err := RemoveStrip(text, len(got.Strips()))
		require.NoError(t, err)
		require.Equal(t, string(old), string(back))
	})
}
