package fit

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"sensito/fit/cputime"
)

// scipyForms are the forms that testdata/scipy/compare.py fits as well, by the
// names of the films in strips.csv that are of the form.
var scipyForms = []struct {
	film string
	form BendForm
}{{"toe-line", ToeLine}, {"toe-shoulder", ToeShoulder}}

// readSciPyStrips returns the strips of testdata/scipy by film. They come
// without readings of the base and are fitted without priors, so that SciPy can
// be given the same problem.
func readSciPyStrips(tb testing.TB) map[string][]BendData {
	file, err := os.Open("../testdata/scipy/strips.csv")
	require.NoError(tb, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(tb, err)
	numbers := func(row []string) []float64 {
		out := make([]float64, len(row)-1)
		for i, text := range row[1:] {
			out[i], err = strconv.ParseFloat(text, 64)
			require.NoError(tb, err)
		}
		return out
	}
	x := numbers(rows[0])
	films := map[string][]BendData{}
	for _, row := range rows[1:] {
		films[row[0]] = append(films[row[0]], BendData{X: x, Y: numbers(row), Sigma: 0.01})
	}
	return films
}

// BenchmarkAgainstSciPy fits 200 strips cold, on each film with the form it is
// of and with the other, and reports the time of the processor a fit. It is one
// side of testdata/scipy/compare.py, which runs it. Where SENSITO_FITS names a file,
// the fits are written there, for the script to compare.
func BenchmarkAgainstSciPy(b *testing.B) {
	type end struct {
		RSS       float64   `json:"rss"`
		Params    []float64 `json:"params"`
		Evals     int       `json:"evals"`
		Converged bool      `json:"converged"`
		AtBound   bool      `json:"at_bound"`
	}
	films := readSciPyStrips(b)
	ends := map[string][]end{}
	for _, f := range scipyForms {
		for _, film := range scipyForms {
			strips := films[film.film]
			require.NotEmpty(b, strips)
			name := "form=" + f.film + "/film=" + film.film
			b.Run(name, func(b *testing.B) {
				var s Solver
				began := cputime.Used(b)
				for b.Loop() {
					for i := range strips {
						FitBend(&s, strips[i], f.form, nil)
					}
				}
				b.ReportMetric((cputime.Used(b)-began).Seconds()*1e6/float64(b.N*len(strips)), "us/fit")
			})
			for i := range strips {
				got := FitBend(new(Solver), strips[i], f.form, nil)
				ends[name] = append(ends[name], end{got.RSS, got.Params, got.Evals, got.Status == Converged, got.Free() < len(got.Params)})
			}
		}
	}
	if path := os.Getenv("SENSITO_FITS"); path != "" {
		data, err := json.Marshal(ends)
		require.NoError(b, err)
		require.NoError(b, os.WriteFile(path, data, 0o644))
	}
}
