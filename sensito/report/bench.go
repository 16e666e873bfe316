package report

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/testplan"
)

// Solution is how much working developer there is to be for the film; zero
// where that was not asked.
type Solution struct {
	MLPerRoll float64 // for 516 cm2, 80 square inches
	StripCm2  float64 // area of one strip
}

// Bench is what the sheet to take to the bench says, beside the times.
type Bench struct {
	Expose, Read, WriteDown []string
	DeveloperML             *float64 // for each strip; nil where no volume was asked for
}

// developer returns that volume.
func (s Solution) developer() *float64 {
	if s.MLPerRoll > 0 && s.StripCm2 > 0 {
		return new(testplan.DeveloperVolume(s.MLPerRoll, s.StripCm2))
	}
	return nil
}

// benchObject is the sheet to take to the bench.
func (r *Plan) benchObject() object {
	var exposure object // null where strips are exposed as those before
	var steps []int
	if r.next != nil {
		steps = r.next.Steps
	} else {
		exposure = firstExposure(r.first)
		for i := range r.first.Exposures.Len() {
			steps = append(steps, i+1)
		}
	}
	return object{
		{"exposure", exposure}, {"expose", r.Bench.Expose},
		{"strips", objects(r.times(), func(t sensito.Minutes) object {
			return object{{"minutes", t}, {"developer_ml", r.Bench.DeveloperML}}
		})},
		{"steps", steps}, // between which the answer is decided
		{"read", r.Bench.Read}, {"write_down", r.Bench.WriteDown},
	}
}

// firstExposure is the exposure of a first test. What does not belong to its kind is
// null.
func firstExposure(p *testplan.FirstProposal) object {
	var both, lux, seconds, first, step, count, index any
	if s := p.Spec; s.Way == sensito.Camera {
		index = p.MeterIndex
	} else {
		both, lux, seconds, first, step, count = p.LuxSeconds, p.IlluminanceLx, p.Seconds, *s.WedgeFirst, s.WedgeStep, s.WedgeCount
	}
	return object{
		{"kind", p.Spec.Way}, {"lux_seconds", both}, {"illuminance_lx", lux}, {"seconds", seconds},
		{"wedge_first", first}, {"wedge_step", step}, {"wedge_count", count}, {"meter_index", index}, {"stops", p.Stops},
	}
}

// writeDown is what is to be written down of strips that are read so. That development
// is timed from pouring in to pouring out is one convention of several: to keep to one is
// what counts.
func writeDown(r sensito.Reading) []string {
	instrument := "densitometer: zero on air or base, and the same patch before and after"
	switch r.Unit {
	case sensito.UnitEV:
		instrument = "light meter: the bare light of the table before and after each strip"
	case sensito.UnitStep:
		instrument = "by eye: which tablet, and the match of the same patch before and after"
	}
	return []string{
		"date, batches of film and developer, dilution, age of the concentrate",
		"temperature of the developer at the start and at the end of each strip",
		"agitation; time from pouring in to pouring out, to the second",
		instrument,
		"anything that went otherwise than planned, with the number of the strip",
	}
}

const (
	readBase   = "an unexposed edge of each strip, for base plus fog, at two places"
	mixedOrder = "Expose all strips in one session and develop them in mixed order, so that a drift is not taken for growth."
)

// nextBench is the sheet for strips added to a trial.
func nextBench(p *testplan.Proposal, s Solution) Bench {
	b, strips := Bench{[]string{}, []string{}, []string{}, s.developer()}, len(p.Strips())
	anew := false // all strips are exposed again, with more light
	for _, c := range p.Chosen {
		switch {
		case c.Action == nil:
		case c.Action.Code == testplan.ActionReachFurther:
			anew = true
			b.Expose = append(b.Expose, capital(c.Action.Text)+"; develop each for its time again.")
		default:
			b.Read = append(b.Read, c.Action.Text)
		}
	}
	if strips == 0 && !anew {
		return b
	}
	switch kind := p.Family.Trial.Exposures().Kind(); {
	case anew && strips > 0:
		b.Expose = append(b.Expose, "Expose further strips like those.")
	case anew:
	case kind == sensito.Relative:
		b.Expose = append(b.Expose, "Expose as the strips before: the same lamp at the same distance, the same time and wedge.")
	case kind == sensito.Camera:
		b.Expose = append(b.Expose, "Expose as the strips before: the same even target, out of focus and without flare, the same meter, index and stops.")
	default:
		b.Expose = append(b.Expose, "Expose as the strips before: the same lamp, time and wedge, the illuminance measured again at the film.")
	}
	if strips > 1 || anew {
		b.Expose = append(b.Expose, mixedOrder)
	}
	if len(p.Again()) > 0 {
		b.Expose = append(b.Expose, "Develop each strip in a run of its own, temperature and clock set anew: what strips of one bath have in common does not show between them.")
	}
	every := "every step"
	if len(p.Steps) > 0 {
		every += "; the answer is decided by steps " + sensito.StepList(p.Steps)
	}
	b.Read = append(b.Read, every, readBase)
	b.WriteDown = append(b.WriteDown, writeDown(p.Family.Trial.Reading())...)
	return b
}

// firstBench is the sheet of a first test.
func firstBench(p *testplan.FirstProposal, s Solution) Bench {
	b := Bench{Read: []string{"every step", readBase}, WriteDown: writeDown(sensito.Reading{}), DeveloperML: s.developer()}
	if p.Spec.Way == sensito.Camera {
		b.Expose = []string{
			fmt.Sprintf("Photograph an even target without texture that fills the frame, lens out of focus and shaded, no bright surround: flare would lift the faint exposures. Meter it at index %s, and expose it at these stops from the metered exposure, by the shutter as far as it is true: %s.", page.Figures(float64(p.MeterIndex)), stopList(p.Stops)),
			fmt.Sprintf("The speed point is expected %s steps inside the faintest exposure.", page.Fixed(p.Inside, 1)),
		}
		b.WriteDown = append([]string{"aperture and time of each exposure, and what the meter read before and after"}, b.WriteDown...)
	} else {
		lux := p.IlluminanceLx
		b.Expose = []string{
			fmt.Sprintf("In the dark, emulsion against the wedge of %d steps of %s: %s lx at the film for %s s, %s lx s, from an enlarger without a negative or a lamp at a distance. Measure the light where the film will lie, with nothing in between.",
				p.Spec.WedgeCount, shortNumber(float64(p.Spec.WedgeStep)), shortNumber(lux), shortNumber(p.Seconds), shortNumber(p.LuxSeconds)),
			fmt.Sprintf("The speed point is expected %s steps inside the faint end.", page.Fixed(p.Inside, 1)),
		}
		if lux < coarseLux {
			b.Expose = append(b.Expose, fmt.Sprintf("A lux meter reads coarsely so low: set %s lx with the lens open, then close it four stops.", shortNumber(16*lux)))
		}
		b.WriteDown = append([]string{"lux at the film before and after, the seconds, the densities of the wedge if they were measured"}, b.WriteDown...)
	}
	b.Expose = append(b.Expose, mixedOrder)
	return b
}

// coarseLux is what hand-held lux meters read to no better than a few hundredths
// of (common practice, no source).
const coarseLux = 5

// shortNumber returns a number to three figures at most, without an exponent.
func shortNumber(v float64) string {
	short, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	return strconv.FormatFloat(short, 'f', -1, 64)
}

func stopList(stops []float64) string {
	var out []string
	for _, n := range stops {
		out = append(out, page.Signed(n))
	}
	return strings.Join(out, ", ")
}

// writeBench writes the sheet.
func (r *Plan) writeBench(w *writer) {
	b, times := r.Bench, r.times()
	if len(times) == 0 && len(b.Read) == 0 {
		return
	}
	w.Printf("\nAt the bench\n\n")
	for _, line := range b.Expose {
		w.Paragraph("  ", "  ", line)
	}
	if len(times) > 0 {
		rows := [][]string{{"  develop, min:s"}}
		for _, t := range times {
			rows[0] = append(rows[0], t.Clock(1))
		}
		if v := b.DeveloperML; v != nil {
			rows = append(rows, append([]string{"  developer, ml"}, slices.Repeat([]string{page.Fixed(*v, 0)}, len(times))...))
		}
		w.Printf("\n")
		w.Table(rows)
	}
	if len(b.Expose) > 0 {
		w.Printf("\n")
	}
	w.Printf("  Read\n")
	for _, line := range b.Read {
		w.Paragraph("  - ", "    ", line)
	}
	if len(b.WriteDown) > 0 {
		w.Printf("  Write down\n")
		for _, line := range b.WriteDown {
			w.Paragraph("  - ", "    ", line)
		}
	}
}
