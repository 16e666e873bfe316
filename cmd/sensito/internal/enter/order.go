package enter

import (
	"errors"
	"fmt"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/keyed"
	"sensito/sensito"
	"sensito/sensito/entry"
)

// orderHint says how lines say what they are.
const orderHint = "a line can say what it is: fog %s, or step 5 %s; --fog N says that N readings of base plus fog come first"

// readInOrder takes readings of the step at hand from a line that does not say
// which step it is of, when nobody can be asked: it is refused where it may be of
// another.
func (e *enterer) readInOrder(readings []sensito.Density) error {
	if err := e.CheckOrder(readings...); err != nil {
		x := keyed.Examples[e.Trial().Reading().Unit]
		return console.WithHint(err, fmt.Sprintf(orderHint, x.Fog, x.One))
	}
	return e.read(readings, false)
}

// wentBack says whether an error of carryOut has gone back to where the order was
// lost, which the file must then say.
func wentBack(err error) bool {
	out := (*entry.OrderError)(nil)
	return errors.As(err, &out)
}
