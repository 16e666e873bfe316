package darkroom

import (
	"fmt"
	"strings"

	"sensito/sensito/internal/lazy"
	"sensito/sensito/printable"
)

// VesselKind says what film is processed in.
type VesselKind string

const (
	Tank     VesselKind = "tank"      // with a lid that keeps light out
	OpenTank VesselKind = "open tank" // for hangers, in the dark
	Tray     VesselKind = "tray"      // open, in which sheets are shuffled
	Drum     VesselKind = "drum"      // closed, and turned
)

// VesselKinds are all of them.
var VesselKinds = []VesselKind{Tank, OpenTank, Tray, Drum}

// Vessel is what film is processed in. The zero value states none.
type Vessel struct {
	Kind   VesselKind
	Volume Volume // of each bath in it
	System VolumeSystem
	Note   string // such as the speed of a drum; may be empty
}

// Stated reports whether the vessel is one.
func (v Vessel) Stated() bool { return v.Kind != "" }

// Closed reports whether the vessel keeps light out.
func (v Vessel) Closed() bool { return v.Kind == Tank || v.Kind == Drum }

// String returns the vessel in words.
func (v Vessel) String() string {
	text := string(v.Kind) + ", " + v.Volume.In(v.System)
	if v.System != Metric {
		text += " (" + v.Volume.String() + ")"
	}
	if v.Note != "" {
		text += ", " + v.Note
	}
	return text
}

var vesselForm = lazy.Regexp(`^(?i:(open tank|tank|tray|drum)\s+)([\d.,]+\s*(?i:(?:us|imp(?:erial)?|uk)\s*)?(?i:fl\.?\s*oz|[a-z]+3?)\.?)(?:[,;\s]\s*(.*))?$`)

// ParseVessel reads a vessel and the volume of a bath in it, "tank 1000ml", "open
// tank 3l", "tray 500 ml" or "drum 300ml", and what is to be said of it behind
// that: "drum 300ml, 50 turns a minute, turned about".
func ParseVessel(text string) (Vessel, error) {
	part := vesselForm().FindStringSubmatch(strings.TrimSpace(text))
	if part == nil {
		return Vessel{}, fmt.Errorf("%q is not a vessel like tank 1000ml, open tank 3l, tray 500ml or drum 300ml", text)
	}
	volume, system, err := ParseVolume(part[2])
	if err != nil {
		return Vessel{}, err
	}
	v := Vessel{Kind: VesselKind(strings.ToLower(part[1])), Volume: volume, System: system, Note: strings.TrimSpace(part[3])}
	if err := printable.CheckLine(v.Note, maxStepText); err != nil {
		return Vessel{}, fmt.Errorf("what is said of the %s: %w", v.Kind, err)
	}
	return v, nil
}
