package table

import (
	"strconv"
	"strings"

	"sensito/sensito/internal/lazy"
)

// cgatsStructure are the keywords that give a file its shape.
var cgatsStructure = setOf("BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "BEGIN_DATA", "END_DATA", "NUMBER_OF_FIELDS", "NUMBER_OF_SETS")

// cgatsKeywords are the header keywords of ANSI CGATS.17; others are private and
// are declared before they are used.
var cgatsKeywords = setOf("KEYWORD", "ORIGINATOR", "FILE_DESCRIPTOR", "DESCRIPTOR", "CREATED", "INSTRUMENTATION",
	"MEASUREMENT_SOURCE", "PRINT_CONDITIONS", "MANUFACTURER", "PROD_DATE", "SERIAL", "MATERIAL", "SAMPLE_BACKING",
	"MEASUREMENT_GEOMETRY", "DIFFUSE_GEOMETRY", "FILTER", "POLARIZATION", "WEIGHTING_FUNCTION",
	"COMPUTATIONAL_PARAMETER", "TARGET_TYPE", "COLORANT", "TABLE_NAME", "TABLE_DESCRIPTOR", "CHISQ_DOF")

var (
	cgatsTextFields   = setOf("SAMPLE_ID", "SAMPLE_NAME", "STRING")
	cgatsNumberFields = lazy.Regexp(`^(D_(RED|GREEN|BLUE|VIS|MAJOR_FILTER)|CMYK_[CMYK]|RGB_[RGB]|XYZ_[XYZ]|` +
		`XYY_(X|Y|CAPY)|LAB_(L|A|B|C|H|DE|DE_94|DE_2000|DE_CMC)|MEAN_DE|STDEV_[A-Z]+|SPECTRAL_(NM|PCT|DEC))$`)

	// A column for each wavelength is outside the standard, and common.
	wavelengthFields = lazy.Regexp(`(?i)^(nm|spectral_|spectral_nm|r_)[0-9]{3,4}(nm)?$`)
)

func setOf(words ...string) map[string]bool {
	set := make(map[string]bool, len(words))
	for _, w := range words {
		set[w] = true
	}
	return set
}

// cgatsField says whether the standard has a field of this name.
func cgatsField(name string) bool {
	return cgatsTextFields[name] || cgatsNumberFields().MatchString(name)
}

// cgatsNumeric says whether a field holds numbers only. Those of a private field
// are for its reader to tell.
func cgatsNumeric(name string) bool {
	return cgatsNumberFields().MatchString(name) || wavelengthFields().MatchString(name)
}

// cgatsWord says whether s can stand without quotes as a keyword or field name.
func cgatsWord(s string) bool {
	return s != "" && strings.IndexFunc(s, func(r rune) bool { return r <= ' ' || r > '~' || r == '"' || r == '#' }) < 0
}

// cgatsNumberFault says what keeps a cell from being a number, "" if nothing does.
func cgatsNumberFault(cell string) string {
	switch {
	case plainNumber().MatchString(cell):
		if _, err := strconv.ParseFloat(cell, 64); err != nil {
			return "is too large a number"
		}
		return ""
	case strings.ContainsRune(cell, ','):
		return "has a comma; a number has a decimal point and no marks between thousands"
	}
	return "is not a number"
}
