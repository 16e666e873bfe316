package blind

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"sensito/sensito/curve"
	"sensito/sensito/internal/simulated"
)

// Notes counts what is said of strips, by class.
type Notes struct {
	strips, shoulder, lackOfFit, setAside [len(simulated.ClassNames)]int
}

// Add counts what is said of a strip of a film of a class.
func (n *Notes) Add(class int, f *curve.Fit) {
	n.strips[class]++
	if strings.Contains(f.Model, "shoulder") {
		n.shoulder[class]++
	}
	for _, w := range f.Warnings {
		if w.Code == "lack_of_fit" {
			n.lackOfFit[class]++
		}
	}
	if len(f.SetAside) > 0 {
		n.setAside[class]++
	}
}

// Table returns the counts, to be logged.
func (n *Notes) Table() string {
	var b strings.Builder
	fmt.Fprintln(&b, "class                     strips shoulder lack of fit clean strip lost a reading")
	for c, title := range simulated.ClassTitles {
		fmt.Fprintf(&b, "%c %-23s %6d %7.1f%% %10.1f%% %10d\n", simulated.ClassNames[c], title, n.strips[c],
			100*float64(n.shoulder[c])/float64(n.strips[c]), 100*float64(n.lackOfFit[c])/float64(n.strips[c]), n.setAside[c])
	}
	return b.String()
}

// CheckClean holds the rate of clean strips that lose a reading to one in a
// thousand, allowing three standard deviations of the count.
func (n *Notes) CheckClean(t *testing.T) {
	strips, lost := 0, 0
	for c := range n.strips {
		strips += n.strips[c]
		lost += n.setAside[c]
	}
	due := float64(strips) / 1000
	assert.LessOrEqual(t, float64(lost), due+3*math.Sqrt(due), "clean strips of %d that lost a reading", strips)
}
