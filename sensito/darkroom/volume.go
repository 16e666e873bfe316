package darkroom

import (
	"fmt"
	"strconv"
	"strings"

	"sensito/sensito/internal/decimal"
	"sensito/sensito/internal/lazy"
)

// Volume is a volume in millilitres.
type Volume float64

// Units of volume in millilitres. Those of the customary systems are exact: US
// from the gallon of 231 cubic inches, imperial from the gallon of 4.54609
// litres.
const (
	Millilitre         Volume = 1
	Litre              Volume = 1000
	USFluidOunce       Volume = 29.5735295625
	ImperialFluidOunce Volume = 28.4130625
)

// Litres returns the volume in litres.
func (v Volume) Litres() float64 { return float64(v / Litre) }

// USFluidOunces returns the volume in US fluid ounces.
func (v Volume) USFluidOunces() float64 { return float64(v / USFluidOunce) }

// ImperialFluidOunces returns the volume in imperial fluid ounces.
func (v Volume) ImperialFluidOunces() float64 { return float64(v / ImperialFluidOunce) }

// String returns the volume in millilitres to about four digits, such as
// "18.75 ml".
func (v Volume) String() string { return v.In(Metric) }

// In returns the volume in millilitres or fluid ounces to about four digits,
// such as "1.25 US fl oz".
func (v Volume) In(system VolumeSystem) string {
	n, unit := float64(v), " ml"
	switch system {
	case USCustomary, AssumedUS:
		n, unit = v.USFluidOunces(), " US fl oz"
	case Imperial:
		n, unit = v.ImperialFluidOunces(), " imperial fl oz"
	}
	places := 2
	switch {
	case n < 1:
		places = 4
	case n < 10:
		places = 3
	case n >= 1000:
		places = 1
	}
	s := strconv.FormatFloat(n, 'f', places, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	return s + unit
}

// VolumeSystem is a system of units of volume.
type VolumeSystem int

// The systems, whose fluid ounces and gallons differ.
const (
	Metric VolumeSystem = iota
	USCustomary
	Imperial
	AssumedUS // an ounce, pint, quart or gallon of which the text does not say whose; taken as US
)

// The names of units; those of the customary systems may have us or imp before
// them.
var (
	metricUnits = map[string]Volume{"ml": 1, "cc": 1, "cm3": 1, "cl": 10, "dl": 100, "l": Litre, "lt": Litre, "ltr": Litre,
		"milliliter": 1, "millilitre": 1, "milliliters": 1, "millilitres": 1,
		"liter": Litre, "litre": Litre, "liters": Litre, "litres": Litre}
	customaryUnits = map[string]string{"oz": "oz", "floz": "oz", "fluidounce": "oz", "fluidounces": "oz", "ounce": "oz", "ounces": "oz",
		"pt": "pt", "pint": "pt", "pints": "pt", "qt": "qt", "quart": "qt", "quarts": "qt", "gal": "gal", "gallon": "gal", "gallons": "gal"}
	usUnits       = map[string]Volume{"oz": USFluidOunce, "pt": 16 * USFluidOunce, "qt": 32 * USFluidOunce, "gal": 128 * USFluidOunce}
	imperialUnits = map[string]Volume{"oz": ImperialFluidOunce, "pt": 20 * ImperialFluidOunce, "qt": 40 * ImperialFluidOunce, "gal": 160 * ImperialFluidOunce}
)

var volumeForm = lazy.Regexp(`^` + decimal.Form + `\s*(us|imp(?:erial)?|uk)?\s*([a-z]+3?|fl\.?\s*oz|fluid\s+ounces?)\.?$`)

// smallestVolume and largestVolume bound what anybody mixes.
const smallestVolume, largestVolume Volume = 0.01, 1000 * Litre

// ParseVolume reads a volume such as "600 ml", "1l", "2floz", "20 imp fl oz" or
// "1 US gallon" and says in which system it is written. The decimal mark is a
// point or a comma. The error names the text and what was expected, or the
// limits of 0.01 ml and 1000 l.
func ParseVolume(text string) (Volume, VolumeSystem, error) {
	part := volumeForm().FindStringSubmatch(strings.ToLower(strings.TrimSpace(text)))
	if part == nil {
		return 0, Metric, fmt.Errorf("%q is not a volume like 600ml, 1.5l, 20usfloz or 20impfloz", text)
	}
	number, err := decimal.Parse(part[1])
	if err != nil {
		return 0, Metric, fmt.Errorf("%q: %w", text, err)
	}
	name := strings.NewReplacer(" ", "", ".", "", "\t", "").Replace(part[3])
	whose := strings.TrimSuffix(part[2], "erial")
	unit, metric := metricUnits[name]
	customary, known := customaryUnits[name]
	system := Metric
	switch {
	case metric && whose == "":
	case !known:
		return 0, Metric, fmt.Errorf("%q: %q is not a unit of volume: write ml, l, usfloz or impfloz", text, whose+name)
	case whose == "us":
		system, unit = USCustomary, usUnits[customary]
	case whose == "":
		system, unit = AssumedUS, usUnits[customary]
	default:
		system, unit = Imperial, imperialUnits[customary]
	}
	v := Volume(number) * unit
	if !(v >= smallestVolume && v <= largestVolume) {
		return 0, Metric, fmt.Errorf("%q is outside %v ml to %g l", text, float64(smallestVolume), largestVolume.Litres())
	}
	return v, system, nil
}
