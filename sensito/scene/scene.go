// Package scene is the answer to a scene: where its tones land on the film, flare
// included, which exposure index to set and how long to develop for a paper, what
// the negative and the print will have, on a card or for a whole roll, and for the
// process of today.
//
// Begin with For, which makes an Answer for a Scene from a family of strips; ForIndex makes one
// for an exposure index that is given.
package scene

import (
	"errors"
	"fmt"

	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/paper"
)

// The defaults of a Scene. A density range of 1.05 prints on a paper of ISO
// range 105, grade 2 (ISO 6846; inner grade limits from memory).
const (
	DefaultDensityRange sensito.NetDensity = 1.05
	DefaultShadowStops  float64            = 4
)

// Scene is what a scene asks of a negative. Zero fields other than Stops stand
// for the defaults.
type Scene struct {
	Stops       float64 // between the darkest and the lightest tone that must keep detail
	Flare       sensito.Flare
	ShadowStops float64 // how far below the metered exposure the speed point is placed; 0 means 4

	// The aim: the log exposure range of the print material, which is the
	// density range of a negative printed by diffuse light. 0 means that of
	// Paper, or DefaultDensityRange.
	DensityRange sensito.NetDensity
	Paper        *paper.Strip // the print material, where it was tested
	Grade        string       // of the published table, where DensityRange was taken from it
	Callier      float64      // printing density over diffuse density; 0 means 1, a diffusion enlarger

	// ScanMax is the gross density that the lightest tone may reach, for a
	// negative that is scanned; it takes the place of the above.
	ScanMax sensito.Density

	Metering *camera.Metering // the spot readings behind Stops; nil when there are none

	Today Today // how film is developed, where that is not as in the trial
}

// WithDefaults returns the scene with the defaults in place of zero fields.
func (s Scene) WithDefaults() Scene {
	if s.DensityRange == 0 {
		s.DensityRange = DefaultDensityRange
	}
	if s.ShadowStops == 0 {
		s.ShadowStops = DefaultShadowStops
	}
	if s.Callier == 0 {
		s.Callier = 1
	}
	return s
}

// The least that a negative may be asked for.
const (
	leastDensityRange sensito.NetDensity = 0.2
	leastScanMax      sensito.Density    = 0.5
)

// Check returns an error naming what in the scene is outside its limits.
func (s Scene) Check() error {
	s = s.WithDefaults()
	limit := func(name string, v, lo, hi float64) error {
		if !(v >= lo && v <= hi) {
			return fmt.Errorf("%s %g is outside %g to %g", name, v, lo, hi)
		}
		return nil
	}
	err := errors.Join(
		limit("scene range in stops", s.Stops, 1, 20),
		limit("density range", float64(s.DensityRange), float64(leastDensityRange), 3),
		limit("shadow stops", s.ShadowStops, 1, 10),
		limit("Callier coefficient", s.Callier, 1, 2),
	)
	if s.ScanMax != 0 {
		err = errors.Join(err, limit("greatest density for a scan", float64(s.ScanMax), float64(leastScanMax), 6))
	}
	if s.Paper != nil && s.Paper.LogRange == nil {
		err = errors.Join(err, fmt.Errorf("%s has no range to aim at", s.Paper.Name()))
	}
	switch s.Flare.Kind {
	case "", sensito.FlareFixed:
		err = errors.Join(err, limit("flare loss", s.Flare.Value, 0, 2))
	case sensito.FlareVeil:
		err = errors.Join(err, limit("flare veil", s.Flare.Value, 0, 0.5))
	case sensito.FlareNone:
	default:
		err = errors.Join(err, fmt.Errorf("flare %q is not fixed, veil or none", s.Flare.Kind))
	}
	if err == nil && s.FilmRange() < 0.3 {
		err = fmt.Errorf("flare leaves %.2f log H of a scene of %g stops: too little to develop for", float64(s.FilmRange()), s.Stops)
	}
	return err
}

// FilmRange returns the log exposure range of the scene on the film, flare
// included.
func (s Scene) FilmRange() sensito.LogRange { return s.Flare.Range(s.logRange()) }

// logRange returns the log luminance range of the scene.
func (s Scene) logRange() sensito.LogRange { return sensito.LogRange(s.Stops) * sensito.Stop }
