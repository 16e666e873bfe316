package parts

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestDateTicks(t *testing.T) {
	labels := func(first string, lo, hi float64) []string {
		var out []string
		for _, tick := range NewDateTicks(first, 9).Ticks(lo, hi) {
			out = append(out, fmt.Sprintf("%g %s", tick.Value, tick.Label))
		}
		return out
	}
	assert.Equal(t, []string{"0 2 Mar 2026", "14 16 Mar", "28 30 Mar", "42 13 Apr", "56 27 Apr", "70 11 May", "84 25 May"}, labels("2026-03-02", -2.4, 96.4))
	assert.Equal(t, []string{"0 28 Dec 2026", "1 29 Dec", "2 30 Dec", "3 31 Dec", "4 1 Jan 2027", "5 2 Jan"}, labels("2026-12-28", -0.5, 5.5))
	assert.Equal(t, []string{"54 Jan 2026", "144 Apr", "235 Jul", "327 Oct", "419 Jan 2027", "509 Apr"}, labels("2025-11-08", -10, 520))
	assert.Equal(t, []string{"0 29 Feb 2028"}, labels("2028-02-29", -0.5, 0.5))
	assert.Equal(t, []string{"54 2026", "419 2027", "784 2028"}, labels("2025-11-08", -10, 3000)[:3])
	assert.Equal(t, []string{"-60 2026", "46691 2154", "93442 2282", "140193 2410", "186944 2538", "233695 2666", "280446 2794", "327197 2922"}, labels("2026-03-02", -16000, 328_700), "a slip in a year")

	ends := NewDateTicks("2026-12-28", 9).Ends(9)
	assert.Equal(t, []string{"28 Dec 2026", "6 Jan 2027"}, []string{ends[0].Label, ends[1].Label})
	assert.Equal(t, 9.0, ends[1].Value)
	assert.Len(t, NewDateTicks("2026-12-28", 9).Ends(0), 1)
	assert.Len(t, NewDateTicks("2026-03-02", 4).Ticks(-2.4, 96.4), 4)
}
