package report

import (
	"fmt"
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

// Bench is the sheet to take to the bench.
type Bench struct {
	Exposure  *BenchExposure `json:"exposure"` // null where strips are exposed as those before
	Expose    []string       `json:"expose"`
	Strips    []BenchStrip   `json:"strips"`
	Steps     []int          `json:"steps"` // between which the answer is decided
	Read      []string       `json:"read"`
	WriteDown []string       `json:"write_down"`
}

// BenchExposure is the exposure of a first test. What does not belong to its
// kind is null.
type BenchExposure struct {
	Kind          sensito.Kind `json:"kind"`
	LuxSeconds    *float64     `json:"lux_seconds"`
	IlluminanceLx *float64     `json:"illuminance_lx"`
	Seconds       *float64     `json:"seconds"`
	WedgeFirst    *float64     `json:"wedge_first"`
	WedgeStep     *float64     `json:"wedge_step"`
	WedgeCount    *int         `json:"wedge_count"`
	MeterIndex    *float64     `json:"meter_index"`
	Stops         []float64    `json:"stops"`
}

// BenchStrip is one strip to develop.
type BenchStrip struct {
	Minutes     float64  `json:"minutes"`
	DeveloperML *float64 `json:"developer_ml"` // null where no volume was asked for
}

func benchStrips(times []sensito.Minutes, s Solution) []BenchStrip {
	out := []BenchStrip{}
	for _, t := range times {
		strip := BenchStrip{Minutes: float64(t)}
		if s.MLPerRoll > 0 && s.StripCm2 > 0 {
			ml := testplan.DeveloperVolume(s.MLPerRoll, s.StripCm2)
			strip.DeveloperML = &ml
		}
		out = append(out, strip)
	}
	return out
}

// What is to be written down. That development is timed from pouring in to
// pouring out is one convention of several: to keep to one is what counts.
var writeDown = []string{
	"date, batches of film and developer, dilution, age of the concentrate",
	"temperature of the developer at the start and at the end of each strip",
	"agitation; time from pouring in to pouring out, to the second",
	"densitometer: zero on air or base, and the same patch before and after",
	"anything that went otherwise than planned, with the number of the strip",
}

const (
	readBase   = "an unexposed edge of each strip, for base plus fog, at two places"
	mixedOrder = "Expose all strips in one session and develop them in mixed order, so that a drift is not taken for growth."
)

// nextBench is the sheet for strips added to a trial.
func nextBench(p *testplan.Proposal, s Solution) Bench {
	b := Bench{Expose: []string{}, Strips: benchStrips(p.Strips(), s), Steps: p.Steps, Read: []string{}, WriteDown: []string{}}
	for _, c := range p.Chosen {
		if c.Action != nil {
			b.Read = append(b.Read, c.Action.Text)
		}
	}
	if len(b.Strips) == 0 {
		return b
	}
	switch p.Family.Trial.Exposures().Kind() {
	case sensito.Camera:
		b.Expose = append(b.Expose, "Expose as the strips before: the same even target, out of focus and without flare, the same meter, index and stops.")
	default:
		b.Expose = append(b.Expose, "Expose as the strips before: the same lamp, time and wedge, the illuminance measured again at the film.")
	}
	if len(b.Strips) > 1 {
		b.Expose = append(b.Expose, mixedOrder)
	}
	if len(p.Again()) > 0 {
		b.Expose = append(b.Expose, "Develop each strip in a run of its own, temperature and clock set anew: what strips of one bath have in common does not show between them.")
	}
	b.Read = append(b.Read, "every step; the answer is decided by steps "+sensito.StepList(p.Steps), readBase)
	b.WriteDown = append(b.WriteDown, writeDown...)
	return b
}

// firstBench is the sheet of a first test.
func firstBench(p *testplan.FirstProposal, s Solution) Bench {
	b := Bench{Strips: benchStrips(p.Minutes, s), Steps: []int{}, Read: []string{"every step", readBase}, WriteDown: append([]string{}, writeDown...)}
	for i := range p.Exposures.Len() {
		b.Steps = append(b.Steps, i+1)
	}
	e := &BenchExposure{Kind: p.Spec.Way}
	b.Exposure = e
	if p.Spec.Way == sensito.Camera {
		index := float64(p.MeterIndex)
		e.MeterIndex, e.Stops = &index, p.Stops
		b.Expose = []string{
			fmt.Sprintf("Photograph an even target without texture that fills the frame, lens out of focus and shaded, no bright surround: flare would lift the faint exposures. Meter it at index %s, and expose it at these stops from the metered exposure, by the shutter as far as it is true: %s.", page.Figures(index), stopList(p.Stops)),
			fmt.Sprintf("The speed point is expected %s steps inside the faintest exposure.", page.Fixed(p.Inside, 1)),
		}
		b.WriteDown = append([]string{"aperture and time of each exposure, and what the meter read before and after"}, b.WriteDown...)
	} else {
		first, step, count := float64(*p.Spec.WedgeFirst), float64(p.Spec.WedgeStep), p.Spec.WedgeCount
		lux, seconds, both := p.IlluminanceLx, p.Seconds, p.LuxSeconds
		e.LuxSeconds, e.IlluminanceLx, e.Seconds, e.WedgeFirst, e.WedgeStep, e.WedgeCount = &both, &lux, &seconds, &first, &step, &count
		b.Expose = []string{
			fmt.Sprintf("In the dark, emulsion against the wedge of %d steps of %s: %s lx at the film for %s s, %s lx s, from an enlarger without a negative or a lamp at a distance. Measure the light where the film will lie, with nothing in between.",
				count, shortNumber(step), shortNumber(lux), shortNumber(seconds), shortNumber(both)),
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

// text writes the sheet.
func (b Bench) text(w *writer) {
	if len(b.Strips) == 0 && len(b.Read) == 0 {
		return
	}
	w.Printf("\nAt the bench\n\n")
	for _, line := range b.Expose {
		w.Paragraph("  ", "  ", line)
	}
	if len(b.Strips) > 0 {
		rows := [][]string{{"  develop, min:s"}}
		volume := []string{"  developer, ml"}
		for _, s := range b.Strips {
			rows[0] = append(rows[0], clock(s.Minutes, 1))
			if s.DeveloperML != nil {
				volume = append(volume, page.Fixed(*s.DeveloperML, 0))
			}
		}
		if len(volume) > 1 {
			rows = append(rows, volume)
		}
		w.Printf("\n")
		w.Table(rows)
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
