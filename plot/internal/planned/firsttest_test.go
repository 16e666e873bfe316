package planned

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"sensito/sensito"
	"sensito/sensito/testplan"
)

func TestFirstTestIsDrawn(t *testing.T) {
	for way, title := range map[sensito.Kind]string{
		sensito.Contact: "Expose 2.54 lx s under the wedge and develop strips for 3:45, 4:45, 6:00, 7:30 and 9:30",
		sensito.Camera:  "Expose from -7 to +5 stops at index 125 and develop strips for 3:45, 4:45, 6:00, 7:30 and 9:30",
	} {
		p, err := testplan.FirstTest(testplan.FirstTestSpec{Film: sensito.Film{Name: "Larkfield 125", RatedSpeed: 125}, Minutes: 6, Way: way})
		require.NoError(t, err)
		for _, o := range []figure.Options{{}, {Width: 84 * vg.Millimeter}, {Theme: "dark"}} {
			fig, err := FirstTest(p, o)
			require.NoError(t, err)
			assert.Equal(t, title, fig.Title)
			plottest.RequireReadable(t, fig)
			b := fig.Body().(*firstTest)
			var written []int
			c := parts.Page(fig.Width, fig.Height)
			for i, m := range b.numbered(c).Marks {
				assert.Equal(t, b.exposures[i].X, m.Value)
				if m.Label != "" {
					written = append(written, i+1)
				}
			}
			for i := 2; i < len(written); i++ {
				assert.Equal(t, written[1]-written[0], written[i]-written[i-1], "numbers evenly apart")
			}
			for i, h := range p.Exposures.LogH() {
				assert.EqualValues(t, h, b.exposures[i].X)
				assert.True(t, b.exposures[i].X >= b.light.X.Min && b.exposures[i].X <= b.light.X.Max)
			}
			for i, m := range p.Minutes {
				assert.EqualValues(t, m, b.minutes[i].X)
			}
			assert.EqualValues(t, p.SpeedPoint, b.speedPoint.X)
			assert.Contains(t, b.Foot, figure.FurtherCaution)
		}
	}
	_, err := FirstTest(&testplan.FirstProposal{}, figure.Options{Confidence: 2})
	assert.ErrorContains(t, err, "confidence")
}
