package answers

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"

	"sensito/sensito"
	"sensito/sensito/compare"
)

// letters is a room of so many letters.
func letters(n int) Room {
	return Room{Fits: func(text string) bool { return len(text) <= n }, Abridge: func(name string) string { return name }}
}

var page = letters(300)

func difference(b int, quantity string, value float64, proven bool) compare.Difference {
	return compare.Difference{A: 1, B: b, Quantity: quantity, Value: &sensito.Estimate[float64]{Value: value, StdErr: 0.1, DoF: 20}, Real: proven}
}

// Only what is proven is told, of the first trial that is compared.
func TestComparison(t *testing.T) {
	c := &compare.Comparison{Trials: []*compare.Compared{
		{Name: "Film in none", Reason: errors.New("too faint")}, {Name: "Film in Brinewater"}, {Name: "Film in Ashlar 1+9"},
	}, Differences: []compare.Difference{
		difference(2, compare.DiffSpeedStops, 0.33, true), difference(2, compare.DiffMinutes, -1.25, false),
		difference(2, compare.DiffToe, -0.2, true), difference(2, compare.DiffTone, 0.05, true),
	}}
	assert.Equal(t, []string{"none", "Brinewater", "Ashlar 1+9"}, Names(c))
	assert.Equal(t, "Ashlar 1+9 gives 0.33 stop more speed than Brinewater, has a shorter toe and has another shape of curve; nothing else is proven", Comparison(c, page))
	assert.Equal(t, "Ashlar 1+9 gives 0.33 stop more speed than Brinewater; 2 more differences proven", Comparison(c, letters(80)))

	c.Trials = append(c.Trials, &compare.Compared{Name: "Film in Slate"})
	c.Differences = append(c.Differences, difference(3, compare.DiffSpeedStops, -1.5, true))
	assert.Equal(t, "Ashlar 1+9 gives 0.33 stop more speed than Brinewater, Slate gives 1.5 stops less", Comparison(c, page))
	assert.Equal(t, "Of 2 other trials 1 gives more speed than Brinewater and 1 gives less", Comparison(c, letters(50)))
	c.Differences[len(c.Differences)-1].Value.Value = 1.5
	assert.Equal(t, "All 2 other trials give more speed than Brinewater", Comparison(c, letters(50)))
	c.Differences[len(c.Differences)-1].Real = false
	assert.Equal(t, "Ashlar 1+9 gives 0.33 stop more speed than Brinewater; no other difference of speed is proven", Comparison(c, page))
}
