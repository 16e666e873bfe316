package plot

import (
	"sensito/plot/internal/parts"
	"sensito/plot/internal/plottest"
	"testing"

	"github.com/stretchr/testify/assert"
	gplot "gonum.org/v1/plot"
)

func labels(ticks []gplot.Tick) []string {
	var out []string
	for _, t := range ticks {
		if t.Label != "" {
			out = append(out, t.Label)
		}
	}
	return out
}

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		ticker gplot.Ticker
		lo, hi float64
		want   []string
	}{
		{parts.TimeTicks{}, 3.3, 12, []string{"4", "5", "6", "8", "10", "12"}},
		{parts.TimeTicks{}, 4.5, 7.8, []string{"4.5", "5", "5.5", "6", "6.5", "7", "7.5"}},
		{parts.TimeTicks{}, 4.3, 10.8, []string{"4.5", "5", "5.5", "6", "7", "8", "9", "10"}},
		{parts.TimeTicks{}, 0.9, 70, []string{"1", "2", "5", "10", "20", "50"}},
		{parts.SpeedTicks{}, 90, 210, []string{"100", "125", "160", "200"}},
		{parts.SpeedTicks{}, 10, 26, []string{"10", "12", "16", "20", "25"}},
		{parts.SpeedTicks{}, 45, 420, []string{"50", "100", "200", "400"}},
		{parts.DecimalTicks{Want: 5}, 0.33, 0.91, []string{"0.4", "0.6", "0.8"}},
		{parts.DecimalTicks{Want: 4}, 0.093, 0.134, []string{"0.10", "0.12"}},
		{parts.Steps{Major: 0.5, Every: 5}, -1.1, 0.6, []string{"-1.0", "-0.5", "0.0", "0.5"}},
	} {
		assert.Equal(t, c.want, labels(c.ticker.Ticks(c.lo, c.hi)), "%T %g %g", c.ticker, c.lo, c.hi)
	}
}

func TestClock(t *testing.T) {
	assert.Equal(t, "5:30", parts.Clock(5.5))
	assert.Equal(t, "6:00", parts.Clock(5.9999))
	assert.Equal(t, "0:45", parts.Clock(0.75))
	assert.Equal(t, "6:50", parts.Planned(6.81))
	assert.Equal(t, "7:00", parts.Planned(6.98))
}

// Drawing leaves the defaults of the library to whoever else uses it.
func TestDefaultsAreLeftAlone(t *testing.T) {
	before, handler := gplot.DefaultFont, gplot.DefaultTextHandler
	for _, one := range []string{"curves-five", "family-contact-5", "scene-contact-5", "roll-contact-5", "card-contact-5", "paper-slate",
		"proposal-contact-5", "tone-seven", "sheet-tray", "compare-three"} {
		plottest.Texts(t, figures(t)[one])
	}
	assert.Equal(t, before, gplot.DefaultFont)
	assert.Equal(t, handler, gplot.DefaultTextHandler)
}
