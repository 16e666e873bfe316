package scene

import (
	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/development"
)

// TemperatureTable is the times of a card over temperature.
type TemperatureTable struct {
	Card        *Card
	Coefficient development.Coefficient
	Celsius     []float64                              // the usual whole degrees and that of the trial, rising
	Minutes     [][]*sensito.Estimate[sensito.Minutes] // by temperature, then by row of the card; nil where a row has no time
	Warnings    sensito.Warnings
}

// Temperatures returns the times of the card at 18 to 24 degrees Celsius and at
// the temperature of the trial, all else as in the card's Today. The error is
// Unanswerable where the trial does not say its temperature, and that of
// Family.Under.
func (c *Card) Temperatures() (*TemperatureTable, error) {
	at := c.Family.Trial.Process().TemperatureC
	t := &TemperatureTable{Card: c, Warnings: withoutShort(c.Warnings())}
	t.Coefficient = c.Family.CoefficientFor(c.Scene.Today.Conditions)
	for d := development.Coolest; d <= development.Warmest; d++ {
		t.Celsius = append(t.Celsius, float64(d))
	}
	if at != 0 {
		t.Celsius = append(t.Celsius, at)
	}
	t.Celsius = fit.Distinct(t.Celsius)
	for _, d := range t.Celsius {
		row, err := t.At(d)
		if err != nil {
			return nil, err
		}
		t.Minutes = append(t.Minutes, row)
	}
	return t, nil
}

// At returns the times of the rows of the card at a temperature in degrees
// Celsius, whether it is within the limits of hand processing or not;
// nil for a row without a time. The error is that of Temperatures.
func (t *TemperatureTable) At(celsius float64) ([]*sensito.Estimate[sensito.Minutes], error) {
	there := Adjustment{}
	if today := t.Card.Today; today != nil {
		there = *today
	}
	other := t.Card.Scene.Today.Conditions
	other.TemperatureC, other.Forced = &celsius, true
	var err error
	if there.Change, err = t.Card.Family.Under(other); err != nil {
		return nil, err
	}
	out := make([]*sensito.Estimate[sensito.Minutes], len(t.Card.Rows))
	for i, row := range t.Card.Rows {
		if row.Answer == nil {
			continue
		}
		p, err := there.Adjust(row.Answer.Tested())
		if err != nil {
			return nil, err
		}
		out[i] = &p.Minutes
	}
	return out, nil
}

// Short says whether a time is short enough for development to be uneven.
func (t *TemperatureTable) Short(e *sensito.Estimate[sensito.Minutes]) bool {
	return e != nil && isShort(e.Value)
}

// Tested says whether the times at a temperature are those of the trial: it is the
// trial's, and nothing else is otherwise today.
func (t *TemperatureTable) Tested(celsius float64) bool {
	c := t.Card.Scene.Today.Conditions
	c.TemperatureC = nil
	return celsius == t.Card.Family.Trial.Process().TemperatureC && !c.Changed() && !t.Card.Today.Corrects()
}
