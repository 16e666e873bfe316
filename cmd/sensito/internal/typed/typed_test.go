package typed

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What is typed becomes the answer that is kept, and is told where it was not typed
// like that.
func TestTyped(t *testing.T) {
	for _, c := range []struct {
		parse               func(string) (string, string, error)
		text, answer, words string
	}{
		{Number, "400", "400", ""}, {Number, "0,3", "0.3", ""}, {Number, "1/2", "0.5", "= 0.5"},
		{WedgeCount, "21", "21", ""}, {WedgeFirst, "0", "0", ""},
		{Developer, "Ashlar 1:14", "Ashlar 1+14", "= Ashlar 1+14"}, {Developer, "Ashlar 1+4", "Ashlar 1+4", ""},
		{Temperature, "20", "20", ""}, {Temperature, "68F", "20", "= 20 °C"}, {Temperature, "20,5 °C", "20.5", ""},
		{Seconds, "1/2", "0.5", "= 0.5 s"}, {Seconds, "1:30", "90", "= 90 s"}, {Seconds, "2", "2", ""},
		{Minutes, "1:14", "1:14", ""}, {Minutes, "9.5", "9.5", "= 9:30 min"},
		{Stops, "-6..6", "-6..6", ""}, {Date, "2026-03-02", "2026-03-02", ""},
		{Readings, "12.7 12 2/3", "12.7 12 2/3", ""}, {Part, "1/3", "1/3", ""}, {Signed, "0", "0", ""}, {Signed, "-1 1/3", "-1.333333333", "= -1.3333"},
		{Number, "1/3", "0.333333333", "= 0.3333"}, {Seconds, "1/15", "0.066666667", "= 0.0667 s"},
		{Tablet, "31", "31", ""}, {Tablet, "0,05 0.2; 0.3666", "0.05 0.2 0.367", "= 3 steps, 0.05 to 0.367"},
		{Density, "113", "1.13", "= 1.13"}, {Density, "1,13", "1.13", ""},
	} {
		answer, words, err := c.parse(c.text)
		require.NoError(t, err, c.text)
		assert.Equal(t, []string{c.answer, c.words}, []string{answer, words}, c.text)
		again, _, err := c.parse(answer) // as it is offered later
		require.NoError(t, err, answer)
		assert.Equal(t, answer, again)
	}
	for _, c := range []struct {
		parse      func(string) (string, string, error)
		text, want string
	}{
		{Number, "0", `"0" is not a number other than 0`}, {Number, "1,000", "1,000 may mean 1000 or 1.000: write it with a point, or without the comma"},
		{Whole, "2.5", `"2.5" is not a whole number other than 0`},
		{WedgeCount, "2", "2 steps is outside 3 to 1000"}, {WedgeCount, "2.5", "must be a whole number, not 2.5"}, {WedgeFirst, "11", "11 is outside 0 to 6"},
		{Developer, "Ashlar 1/5", "1/5 can be 1+5 or 1+4; write it with a plus"},
		{Temperature, "68", `"68" without a unit is degrees Celsius, too hot for film; write 68F for Fahrenheit`},
		{Minutes, "5.30", `"5.30" can be 5:30 or 5.3 minutes; write 5:30 or 5.3`},
		{Readings, "12 x", `"x" is not a number`}, {Readings, "1 2 3 4 5 6", "6 readings are more than 5"}, {Part, "0", `"0" is not a number other than 0`},
		{Signed, "up", `"up" is not a number`}, {Tablet, "2", "2 steps is outside 3 to 1000"},
		{Stops, "6", `"6" is not like -6..6, in stops`}, {Density, "2", "2 can be 2.00 or 0.02; write it with its decimal point"},
	} {
		_, _, err := c.parse(c.text)
		assert.EqualError(t, err, c.want, c.text)
	}
}
