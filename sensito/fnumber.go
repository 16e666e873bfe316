package sensito

import (
	"fmt"
	"math"
	"strings"

	"sensito/sensito/internal/decimal"
	"sensito/sensito/internal/lazy"
)

// FNumber is a relative aperture as marked on a lens, 16 for f/16.
type FNumber float64

// MinFNumber and MaxFNumber are the limits of an aperture.
const MinFNumber, MaxFNumber FNumber = 0.5, 1000

// apertureMarks are the marks of lenses in third stops from f/0.7, which is
// 2^(-1/2) (common practice, no source).
var apertureMarks = [...]FNumber{0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3.2, 3.5, 4, 4.5, 5, 5.6, 6.3, 7.1,
	8, 9, 10, 11, 13, 14, 16, 18, 20, 22, 25, 29, 32, 36, 40, 45, 51, 57, 64, 72, 80, 90, 100, 115, 128, 144, 160, 180, 200, 225, 256}

const firstMark = -3 // thirds of a stop from f/1 to the first mark

// third returns the nearest third stop, counted from f/1, and whether there is
// a mark for it.
func (n FNumber) third() (k int, marked bool) {
	k = int(math.Round(6 * math.Log2(float64(n))))
	return k, k >= firstMark && k < firstMark+len(apertureMarks)
}

// Nominal returns the nearest mark of the third-stop series from f/0.7 to f/256,
// and the number itself outside it.
func (n FNumber) Nominal() FNumber {
	if k, ok := n.third(); ok {
		return apertureMarks[k-firstMark]
	}
	return n
}

// Exact returns the aperture that a mark stands for: f/11 is 2^(7/2) = 11.31, as
// every mark stands for a whole number of third stops from f/1. A number that is
// no such mark, as f/6.8, is returned as it is.
func (n FNumber) Exact() FNumber {
	if k, ok := n.third(); ok && apertureMarks[k-firstMark] == n {
		return FNumber(math.Exp2(float64(k) / 6))
	}
	return n
}

// OnScale returns the aperture to the nearest third as set on a lens marked in
// whole stops: "f/11 1/3" is a third of a stop past f/11. Outside f/0.7 to
// f/256 it is String.
func (n FNumber) OnScale() string {
	k, ok := n.third()
	if !ok {
		return n.String()
	}
	k -= firstMark // f/0.7 is a whole stop
	mark := apertureMarks[k/3*3].String()
	if past := k % 3; past > 0 {
		return fmt.Sprintf("%s %d/3", mark, past)
	}
	return mark
}

// String returns the number to three digits, as "f/11.3".
func (n FNumber) String() string { return "f/" + decimal.Digits(float64(n), 3) }

var apertureForm = lazy.Regexp(`(?i)^(?:f */? *)?(\d{1,4}(?:[.,]\d{1,6})?)(?: +(\d/\d))?$`)

// ParseFNumber reads "16", "f/16", "f16" or "5,6", and "f/11 1/3" for a third of
// a stop past the mark f/11. The error names the text, and the limits 0.5 and
// 1000 where they are passed.
func ParseFNumber(text string) (FNumber, error) {
	part := apertureForm().FindStringSubmatch(strings.TrimSpace(text))
	var v, past float64
	ok := part != nil
	if ok {
		v, ok = decimal.ParseFraction(part[1])
	}
	if ok && part[2] != "" {
		past, ok = decimal.ParseFraction("0 " + part[2])
	}
	if !ok {
		return 0, fmt.Errorf("%q is not an aperture like 16, f/16 or f/11 1/3", text)
	}
	n := FNumber(v)
	if past > 0 {
		n = n.Exact() * FNumber(math.Exp2(past/2))
	}
	if !(n >= MinFNumber && n <= MaxFNumber) {
		return 0, fmt.Errorf("%q: an aperture of %v is outside f/%g to f/%g", text, n, float64(MinFNumber), float64(MaxFNumber))
	}
	return n, nil
}
