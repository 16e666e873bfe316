package sensito

import (
	"strconv"
	"strings"
)

// StepList writes rising step numbers, neighbours as "3 to 6".
func StepList(n []int) string {
	var parts []string
	for i := 0; i < len(n); {
		j := i
		for j+1 < len(n) && n[j+1] == n[j]+1 {
			j++
		}
		part := strconv.Itoa(n[i])
		if j > i {
			part += " to " + strconv.Itoa(n[j])
		}
		parts = append(parts, part)
		i = j + 1
	}
	return strings.Join(parts, ", ")
}
