package plot

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Every figure that tells a development time carries the cautions, and no other.
func TestTimesCarryCautions(t *testing.T) {
	tell := []string{"family-mark", "scene", "roll", "tone", "compare", "proposal", "card", "sheet"}
	told := map[string]int{}
	for name, fig := range figures(t) {
		var lines []string
		for _, text := range texts(t, fig) {
			lines = append(lines, text.text)
		}
		kind := ""
		for _, k := range tell {
			if strings.HasPrefix(name, k) {
				kind = k
			}
		}
		told[kind]++
		all := strings.Join(lines, " ")
		for _, caution := range []string{startingPoint, "gloves, eye protection, ventilation", "safety sheet", "acids or bleach with fixer", "local rules"} {
			assert.Equal(t, kind != "", strings.Contains(all, caution), "%s: %s", name, caution)
		}
	}
	assert.Len(t, told, len(tell)+1)
}
