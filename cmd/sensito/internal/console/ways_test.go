package console

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"

	"sensito/sensito"
)

// Every way that an error of the library may name has its flag, and every flag
// stands beside a warning that there is.
func TestWaysHaveFlags(t *testing.T) {
	flag := regexp.MustCompile(`--[a-z]`)
	for _, way := range []sensito.Way{sensito.AnyTemperature, sensito.Uncorrected, sensito.SpotReadings, sensito.OtherSetting, sensito.TestedPaper} {
		assert.Regexp(t, flag, ways[way], way)
	}
	codes := sensito.WarningCodes()
	for code, text := range flagsFor {
		assert.Contains(t, codes, code)
		assert.Regexp(t, flag, text)
	}
	all := WithFlags(sensito.Warnings{sensito.Warn("no_vessel"), sensito.Warn("no_limit")})
	assert.Equal(t, "how much to mix is not told, since the vessel is not; give --vessel, like tank 1000ml", all[0].Message())
	assert.Equal(t, sensito.Warn("no_limit"), all[1])
}
