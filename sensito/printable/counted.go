package printable

import "strconv"

// Counted returns a number with its noun, whose plural ends in s: "1 strip",
// "2 strips".
func Counted(n int, noun string) string {
	if n != 1 {
		noun += "s"
	}
	return strconv.Itoa(n) + " " + noun
}
