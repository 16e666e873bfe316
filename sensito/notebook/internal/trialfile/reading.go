package trialfile

import (
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
)

// readReading returns how the strips were read.
func readReading(root *grammar.Table) sensito.Reading {
	t := root.Sub("reading", "unit", "repeatability", "reads_to", "open_ev", "tablet", "tablet_first", "tablet_step", "tablet_count", "tablet_sd",
		"channel", "zero", "scale_sd", "offset_sd")
	r := sensito.Reading{
		Repeatability: sensito.Density(t.Nonzero("repeatability")),
		ReadsTo:       readsTo(t),
		Zero:          sensito.Zero(t.Text("zero")),
		Channel:       t.Text("channel"),
		ScaleSD:       t.Nonzero("scale_sd"),
		OffsetSD:      sensito.Density(t.Nonzero("offset_sd")),
		OpenEV:        oneOrMore[float64](t, "open_ev"),
		TabletSD:      sensito.Density(t.Nonzero("tablet_sd")),
	}
	if unit := t.Text("unit"); unit != "density" {
		r.Unit = sensito.Unit(unit)
	}
	if t.Has("tablet") || t.Has("tablet_first") || t.Has("tablet_step") || t.Has("tablet_count") {
		r.Tablet = stepsOf(t, tabletKeys)
	}
	return r
}

// readsTo returns the part of its unit that a reading is rounded to, a number or text
// like "1/3"; 0 when it is missing.
func readsTo(t *grammar.Table) float64 {
	const name = "reads_to"
	text, ok := t.Values[name].(string)
	if !ok {
		return t.Nonzero(name)
	}
	over, under, fraction := strings.Cut(text, "/")
	if !fraction {
		under = "1"
	}
	a, errA := strconv.ParseFloat(strings.TrimSpace(over), 64)
	b, errB := strconv.ParseFloat(strings.TrimSpace(under), 64)
	if errA != nil || errB != nil || !(a > 0 && a < 1e6 && b > 0 && b < 1e6) {
		t.Add(t.Key(name), "%q is not a part like 0.1 or \"1/3\"", text)
		t.Hide(t.Key(name))
		return 0
	}
	return a / b
}

// oneOrMore returns a number or a list of them, nil when it is missing.
func oneOrMore[T ~float64](t *grammar.Table, name string) []T {
	switch v := t.Values[name]; {
	case v == nil:
		return nil
	case grammar.KindOfValue(v) == "a number":
		return []T{T(t.Number(name))}
	}
	return as[T](t.Numbers(name, false))
}

// readFrame returns the frame in the camera that ties relative exposures down.
func readFrame(exposure *grammar.Table) sensito.Frame {
	t := exposure.Sub("frame", "meter_index", "stops", "minutes", "density")
	for _, name := range []string{"meter_index", "stops", "minutes", "density"} {
		t.Need(name)
	}
	if text, ok := t.Values["minutes"].(string); ok { // a table has numbers as text
		if v, err := strconv.ParseFloat(text, 64); err == nil {
			t.Values["minutes"] = v
		}
	}
	return sensito.Frame{Index: sensito.Speed(t.Number("meter_index")), Stops: t.Number("stops"), Minutes: MinutesOf(t, "minutes"),
		Density: oneOrMore[sensito.Density](t, "density")}
}
