package development

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/internal/simulated"
)

// reference reads a table of published numbers as text.
func reference(t *testing.T, name string) []map[string]string {
	f, err := os.Open("../../testdata/reference/" + name)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment, r.FieldsPerRecord = '#', -1
	all, err := r.ReadAll()
	require.NoError(t, err)
	var out []map[string]string
	for _, row := range all[1:] {
		m := map[string]string{}
		for j, key := range all[0] {
			m[key] = row[j]
		}
		out = append(out, m)
	}
	return out
}

func figure(t *testing.T, text string) float64 {
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

func meanAndSD(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sd += (v - mean) * (v - mean) / float64(len(x)-1)
	}
	return mean, math.Sqrt(sd)
}

// The usual coefficient is the geometric mean of the developers with published
// times at several temperatures, one value each.
func TestUsualCoefficient(t *testing.T) {
	var pairs []float64
	for _, row := range reference(t, "push_and_temperature_pairs_datasheet.csv") {
		if row["t_23.9C_min"] != "" {
			pairs = append(pairs, math.Log(figure(t, row["t_20C_min"])/figure(t, row["t_23.9C_min"]))/0.38889)
		}
	}
	require.Len(t, pairs, 32)
	onePair, _ := meanAndSD(pairs)
	developers := []float64{onePair,
		math.Log(1.916),     // US Air Force T.O. 33B-1-1, table 6-16; see the test of the law of Arrhenius
		math.Log(1.40) / .7, // Ives 1920, a factor of 1.40 for 7 degrees
		math.Log(2.0) / .7,  // Ives 1920
	}
	rotary := map[string][]float64{}
	for _, row := range reference(t, "time_temperature_rotary_datasheet.csv") {
		rotary[row["developer"]] = append(rotary[row["developer"]], -10*figure(t, row["slope_ln_per_C"]))
	}
	for _, lns := range rotary {
		mean, _ := meanAndSD(lns)
		developers = append(developers, mean)
	}
	require.Len(t, developers, 9)
	mean, sd := meanAndSD(developers)
	assert.InDelta(t, DefaultQ10, math.Exp(mean), 0.05)
	assert.InDelta(t, defaultQ10SD, sd, 0.02)
	low, high := (&Family{Trial: simulated.TrialOf(t, sensito.Process{})}).Coefficient().Q10.Interval(0.95)
	assert.InDelta(t, 1.42, low, 0.01)
	assert.InDelta(t, 3.11, high, 0.01)
}

// The usual power of dilution covers what the data sheet shows from one dilution
// to the next, and is the slope over all of its developer T.
func TestUsualDilution(t *testing.T) {
	type series struct{ lnVolume, lnTime []float64 }
	all := map[string]*series{}
	for _, row := range reference(t, "dilution_rotary_datasheet.csv") {
		n := figure(t, row["water_parts_per_part"])
		if n == 0 { // undiluted working solution, no concentrate
			continue
		}
		key := row["developer"] + row["film"]
		if all[key] == nil {
			all[key] = &series{}
		}
		all[key].lnVolume = append(all[key].lnVolume, math.Log(1+n))
		all[key].lnTime = append(all[key].lnTime, math.Log(figure(t, row["time_min_75F"])))
	}
	require.Len(t, all, 4)
	var slopes []float64
	inside, steps := 0, 0
	for key, s := range all {
		mx, _ := meanAndSD(s.lnVolume)
		my, _ := meanAndSD(s.lnTime)
		var xy, xx float64
		for i := range s.lnVolume {
			xy += (s.lnVolume[i] - mx) * (s.lnTime[i] - my)
			xx += (s.lnVolume[i] - mx) * (s.lnVolume[i] - mx)
			if i > 0 {
				steps++
				power := (s.lnTime[i] - s.lnTime[i-1]) / (s.lnVolume[i] - s.lnVolume[i-1])
				if math.Abs(power-dilutionPower) < 1.96*dilutionPowerSD {
					inside++
				}
			}
		}
		if key[0] == 'T' {
			slopes = append(slopes, xy/xx)
		}
	}
	mean, _ := meanAndSD(slopes)
	assert.InDelta(t, dilutionPower, mean, 0.03)
	assert.Equal(t, steps, inside, "dilutions next to each other within the interval")
}
