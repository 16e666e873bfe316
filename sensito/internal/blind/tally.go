package blind

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/internal/simulated"
)

// Tally gathers the errors of one quantity and, where they are known, their
// Cramer-Rao bounds.
type Tally struct {
	N, Missing, Covered int     // estimates, quantities without one, 95 % intervals that cover
	Bounds, Shares      float64 // sums of squares: of the bounds, of the errors in bounds
	sum, squares        float64 // of the errors
}

// Bias returns the mean error.
func (a *Tally) Bias() float64 { return a.sum / float64(a.N) }

// RMS returns the root mean square error.
func (a *Tally) RMS() float64 { return math.Sqrt(a.squares / float64(a.N)) }

func (a *Tally) spread() float64 { return math.Sqrt(a.squares/float64(a.N) - a.Bias()*a.Bias()) }

// Coverage returns the share of 95 % intervals that cover the truth.
func (a *Tally) Coverage() float64 { return float64(a.Covered) / float64(a.N) }

// OverBound returns the rms error over the rms bound: 1 for an estimator that
// makes full use of the readings.
func (a *Tally) OverBound() float64 { return math.Sqrt(a.squares / a.Bounds) }

// Tallies of one quantity, by class and, last, of all.
type Tallies [len(simulated.ClassNames) + 1]Tally

// All returns the tally of all classes.
func (a *Tallies) All() *Tally { return &a[len(simulated.ClassNames)] }

// Judge adds an estimate to a tally; nil counts as missing. by gives the error in the unit
// in which the quantity is judged; bound is in that unit too, NaN when unknown.
func Judge[Q ~float64](a *Tally, e *sensito.Estimate[Q], truth float64, by func(got, want float64) float64, bound float64) {
	if e == nil {
		a.Missing++
		return
	}
	miss := by(float64(e.Value), truth)
	a.N++
	a.sum += miss
	a.squares += miss * miss
	a.Bounds += bound * bound
	a.Shares += miss * miss / (bound * bound)
	if lo, hi := e.Interval(0.95); float64(lo) <= truth && truth <= float64(hi) {
		a.Covered++
	}
}

// Score judges an estimate within its class and among all.
func Score[Q ~float64](a *Tallies, class int, e *sensito.Estimate[Q], truth float64, by func(got, want float64) float64) {
	Judge(&a[class], e, truth, by, math.NaN())
	Judge(a.All(), e, truth, by, math.NaN())
}

// Apart is the error as a difference.
func Apart(got, want float64) float64 { return got - want }

// InShare is the error as a share of the truth.
func InShare(got, want float64) float64 { return got/want - 1 }

// InStops is the error in stops.
func InStops(got, want float64) float64 { return math.Log2(got / want) }

// Table returns a line for each class and one for all, to be logged under TallyHead.
func (a *Tallies) Table(name string) string {
	var b strings.Builder
	for c, class := range append(strings.Split(simulated.ClassNames, ""), "all") {
		t := &a[c]
		fmt.Fprintf(&b, "%-18s %-3s %5d %4d %9.4f %8.4f %8.4f %6.1f\n", name, class, t.N, t.Missing, t.Bias(), t.spread(), t.RMS(), 100*t.Coverage())
		name = ""
	}
	return b.String()
}

// TallyHead is the head of the tables of tallies.
const TallyHead = "quantity           cls     n miss      bias   spread      rms  cover\n"

// Effort is what to multiply the number of blind trials by; SENSITO_BLIND sets it. In
// a short run the test is skipped.
func Effort(t testing.TB) int {
	if testing.Short() {
		t.Skip("statistics are for the full run")
	}
	v := os.Getenv("SENSITO_BLIND")
	if v == "" {
		return 1
	}
	n, err := strconv.Atoi(v)
	require.NoError(t, err)
	return n
}

// CheckCoverage holds the share of 95 % intervals that cover to 92 to 98 %, over
// all that the tallies hold together; of few films, to 2.5 standard deviations of
// the count. Tallies are of the same films, whose intervals miss together, so
// that the largest of them says how many there are.
func CheckCoverage(t *testing.T, name string, as ...*Tallies) {
	CheckCoverageUpTo(t, 0.98, name, as...)
}

// CheckCoverageUpTo is CheckCoverage with the most that may cover: more, where an
// interval counts what these films do not do, and nobody knows.
func CheckCoverageUpTo(t *testing.T, most float64, name string, as ...*Tallies) {
	n, covered, films := 0, 0, 0
	for _, a := range as {
		all := a.All()
		n, covered, films = n+all.N, covered+all.Covered, max(films, all.N)
	}
	allow := math.Max(0.03, 2.5*math.Sqrt(0.95*0.05/float64(films)))
	share := float64(covered) / float64(n)
	assert.GreaterOrEqual(t, share, 0.95-allow, "coverage of %s, %d intervals of %d films", name, n, films)
	assert.LessOrEqual(t, share, math.Max(most, 0.95+allow), "coverage of %s, %d intervals of %d films", name, n, films)
}
