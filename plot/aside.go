package plot

import "gonum.org/v1/plot/vg"

// asideLabel is a short text and where it is written.
type asideLabel struct {
	vg.Rectangle
	name string
}

func touches(r vg.Rectangle, others []asideLabel, apart vg.Length) bool {
	for _, o := range others {
		if r.Min.X < o.Max.X+apart && o.Min.X < r.Max.X+apart && r.Min.Y < o.Max.Y+apart && o.Min.Y < r.Max.Y+apart {
			return true
		}
	}
	return false
}
